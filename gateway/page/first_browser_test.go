package page

import (
	"fmt"
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

func TestBrowserSetUpFitsEveryWidth(t *testing.T) {
	t.Parallel()
	st, f, _ := setting(t, Options{Name: "Thimble Garth", Untold: Untold{All: true}})
	for _, width := range sampled([]int64{360, 768, 1280}) {
		b := openTab(t, width, 800)
		for _, scheme := range schemes(width) {
			b.scheme(scheme)
			f.change(func(p *alarms.Picture) { p.Houses = nil })
			for _, path := range []string{"/first", "/first/topic?topic=thimble-garth/bench-1"} {
				b.do(chromedp.Navigate(st.base + path))
				b.truth("it is there", `document.querySelector("h1")`)
				b.truth("all that can be opened is", opened)
				if path != "/first" {
					b.do(chromedp.Click(chromedp.ID("tell-mail")))
				}
				fits(b, fmt.Sprintf("first-%d-%s-%d", len(path), scheme, width))
			}
			b.do(chromedp.SendKeys(chromedp.ID("latitude"), "north"), chromedp.Click(chromedp.ID("tell-nobody")), chromedp.Click(chromedp.CSS(".setup button.take")))
			b.truth("what is wrong is said", `document.querySelector("[role=alert]")`)
			fits(b, fmt.Sprintf("first-wrong-%s-%d", scheme, width))
			b.do(chromedp.SetValue(chromedp.ID("latitude"), "52"), chromedp.SetValue(chromedp.ID("house"), "Long House"), chromedp.SetValue(chromedp.ID("place"), "bench"),
				chromedp.SetValue(chromedp.ID("crop"), "tomato"), chromedp.Click(chromedp.CSS(".setup button.take")))
			b.truth("the lines are shown", `document.querySelector(".diff")`)
			fits(b, fmt.Sprintf("first-show-%s-%d", scheme, width))
			b.do(chromedp.Click(chromedp.ID("write")))
			b.truth("it is written", `document.getElementById("probenow-state")`)
			fits(b, fmt.Sprintf("first-done-%s-%d", scheme, width))
		}
	}
}

func fits(b *tab, name string) {
	b.t.Helper()
	b.none("wider than the window: "+name, cutOff)
	b.truth("nothing is wider than the window: "+name, `document.documentElement.scrollWidth <= innerWidth`)
	b.none("cut off: "+name, cutOff)
	b.none("without a name: "+name, nameless)
	b.none("too small to hit: "+name, hardToHit)
	b.shot(name)
}

// hardToHit lists what is smaller than 24 by 24 and no link within a sentence
// (WCAG 2.2, success criterion 2.5.8).
const hardToHit = `[...document.querySelectorAll("main button, main input:not([type=hidden]), main select, main summary, main h3 a")].filter((e) => {
	const r = e.getBoundingClientRect();
	return e.checkVisibility() && (r.width < 24 || r.height < 24);
}).map((e) => e.outerHTML.slice(0, 200)).join("\n")`
