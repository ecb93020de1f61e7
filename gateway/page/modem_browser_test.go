package page

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

func TestBrowserShowsTheModem(t *testing.T) {
	t.Parallel()
	bad := goodModem()
	level := -109
	bad.Ready, bad.Signal, bad.Network = false, &level, "searching for a network"
	bad.LastError = "the modem is in no network (searching for a network); check antenna, place and SIM"
	for i, state := range []ModemState{goodModem(), bad} {
		st := start(t, Options{Watch: newFake(), Modem: fakeModem{state}})
		for scheme, width := range map[string]int64{"light": 360, "dark": 1280} {
			b := openTab(t, width, 800)
			b.scheme(scheme)
			b.do(chromedp.Navigate(st.base + "/modem"))
			b.truth("the figures are shown", `document.querySelectorAll("main dl > div").length > 10`)
			b.truth("nothing is wider than the window", `document.documentElement.scrollWidth <= innerWidth`)
			b.shot(fmt.Sprintf("modem-%d-%d-%s", i, width, scheme))
			b.noComplaints()
		}
	}
}
