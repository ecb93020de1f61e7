package page

import (
	"testing"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
)

func TestBrowserSetsUpByHandAndEye(t *testing.T) {
	t.Parallel()
	st, f, first := setting(t, Options{Name: "Thimble Garth"})
	f.change(func(p *alarms.Picture) { p.Houses = nil })
	b := openTab(t, 1280, 900)
	b.do(chromedp.Navigate(st.base + "/first"))
	b.truth("topics are listed", `document.querySelectorAll("#topics > li").length === 3`)
	b.do(chromedp.Focus(chromedp.CSS("#topics a")))
	first.change(func(f *fakeFirst) {
		f.arrivals.Topics[0].Payload = "news"
		f.arrivals.Topics = append(f.arrivals.Topics, Arrival{Topic: "thimble-garth/new", Count: 1, Payload: "1"})
	})
	b.truth("it follows by itself", `document.querySelectorAll("#topics > li").length === 4 && document.querySelector(".payload").innerText === "news"`)
	b.truth("the keyboard is kept", `document.activeElement.innerText === "thimble-garth/bench-1"`)
	b.do(chromedp.KeyEvent("\r"))
	b.truth("the form comes", `document.getElementById("read-0") && document.getElementById("person").checkVisibility() === false`)
	b.truth("the zone is filled in", `document.getElementById("zone").value !== ""`)
	b.do(chromedp.Click(chromedp.ID("tell-mail")))
	b.truth("who is told is asked for", `document.getElementById("person").checkVisibility()`)
	b.do(chromedp.Click(chromedp.ID("tell-nobody")), chromedp.SendKeys(chromedp.ID("house"), "Long House"),
		chromedp.SendKeys(chromedp.ID("place"), "bench\r"))
	b.truth("the lines are shown", `document.querySelector(".diff ins") && document.getElementById("write")`)
	b.do(chromedp.Click(chromedp.ID("change")))
	b.truth("it can be changed", `document.getElementById("house").value === "Long House"`)
	b.do(chromedp.Click(chromedp.CSS(".setup button.take")))
	b.truth("the lines are shown again", `document.getElementById("write")`)
	b.do(chromedp.Click(chromedp.ID("write")))
	b.truth("it is written", `document.getElementById("probenow-state")`)
	f.change(func(p *alarms.Picture) {
		p.Houses = scene(noon).Houses
		pl := &p.Houses[0].Places[0]
		pl.Probes[0].ID, pl.Probes[0].Readings, pl.Probes[0].Heard = "bench-1", 1, noon
	})
	b.truth("the first reading is shown by itself", `document.querySelector("#probenow-state[data-watched]")`)
	b.noComplaints()
}
