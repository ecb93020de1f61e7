package page

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"telltale/gateway/manual"
)

func TestBrowserShowsTheManual(t *testing.T) {
	t.Parallel()
	st := start(t, Options{Watch: newFake()})
	addresses := []string{"/help", "/help?find=disk"}
	for _, topic := range manual.English.Topics() {
		addresses = append(addresses, "/help/"+topic.Name)
	}
	for scheme, width := range map[string]int64{"light": 360, "dark": 1280} {
		b := openTab(t, width, 800)
		b.scheme(scheme)
		for i, address := range addresses {
			b.do(chromedp.Navigate(st.base + address))
			b.truth("the topics are listed", fmt.Sprintf(`document.querySelectorAll(".topics a").length == %d`, len(manual.English.Topics())))
			b.truth("nothing is wider than the window", `document.documentElement.scrollWidth <= innerWidth`)
			b.shot(fmt.Sprintf("help-%d-%d-%s", i, width, scheme))
			b.noComplaints()
		}
	}
}
