package page

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/scenes"
)

// onText lists text of a drawing that lies on other text of it, by what the
// browser made of it; the lines of one label belong together.
const onText = `[...document.querySelectorAll(".drawing")].flatMap((svg) => {
	const all = [...svg.querySelectorAll("text")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().width);
	const own = (e) => e.closest(".hung, .drawndrive, .pipe");
	const on = (a, b) => a.right > b.left + 1 && b.right > a.left + 1 && a.bottom > b.top + 4 && b.bottom > a.top + 4;
	return all.filter((e) => all.some((f) => own(e) !== own(f) && on(e.getBoundingClientRect(), f.getBoundingClientRect())));
}).map((e) => e.textContent + " of " + e.parentNode.parentNode.id).join("\n")`

// leaves lists text that leaves its drawing.
const leaves = `[...document.querySelectorAll(".drawing text")].filter((e) => {
	const r = e.getBoundingClientRect(), all = e.closest(".drawing").getBoundingClientRect();
	return e.checkVisibility() && (r.left < all.left || r.right > all.right || r.top < all.top - 2 || r.bottom > all.bottom + 2);
}).map((e) => e.textContent).join("\n")`

// smallest is the smallest size of a number in pixels.
const smallest = `Math.min(...[...document.querySelectorAll(".drawing %s .fig")].map((e) =>
	parseFloat(getComputedStyle(e).fontSize) * e.closest(".drawing").getBoundingClientRect().width / e.closest(".drawing").viewBox.baseVal.width))`

// drawnLive starts a page that draws the houses.
func drawnLive(t *testing.T) (*started, *fakeWatch) {
	st, f := ticking(t, Options{Forms: scenes.Forms()})
	f.change(func(p *alarms.Picture) { *p = scenes.Garden(noon) })
	return st, f
}

func TestBrowserDrawsTheHouses(t *testing.T) {
	t.Parallel()
	st, _ := drawnLive(t)
	for _, size := range sampled([][2]int64{{360, 780}, {768, 1024}, {1024, 768}, {1280, 800}}) {
		b := openTab(t, size[0], size[1])
		for _, scheme := range schemes(size[0]) {
			b.scheme(scheme)
			b.do(chromedp.Navigate(st.base))
			b.truth("it is live", isLive)
			b.shotView(fmt.Sprintf("section-view-%d-%s", size[0], scheme))
			b.shot(fmt.Sprintf("section-%d-%s", size[0], scheme))
		}
		b.none("cut off", cutOff)
		b.none("on other text", onText)
		b.none("off the drawing", leaves)
		b.truth("numbers can be read", fmt.Sprintf(smallest, "")+" >= 16")
		if size[0] == 1024 {
			b.truth("the main numbers can be read from afar", fmt.Sprintf(smallest, ".number:not(.next)")+" >= 28")
		}
		b.noComplaints()
	}
}

// The drawing is renewed in place: what is new in it is part of the drawing.
func TestBrowserRenewsTheDrawing(t *testing.T) {
	t.Parallel()
	st, f := drawnLive(t)
	b := openTab(t, 768, 1024)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive)
	const number = `document.getElementById("point_long-house_bench_temperature_drawn")`
	b.truth("it is marked", number+`.kept = true`)
	f.change(func(p *alarms.Picture) {
		h := p.Houses[0]
		pt := &h.Places[0].Points[0]
		pt.Value, pt.Level, pt.Side = 37.4, alarms.Inner, alarms.HighSide
		h.Drives[0].State, h.Drives[0].Does = alarms.DriveStanding, "stands still"
	})
	b.truth("the number changes", number+`.querySelector(".fig").textContent === "37.4"`)
	b.truth("in place, with its mark and words", number+`.kept && `+number+`.matches(".far-beyond")
		&& `+number+`.querySelector(".brief").textContent === "far too hot"
		&& [...`+number+`.querySelectorAll("*")].every((e) => e.namespaceURI === "http://www.w3.org/2000/svg")
		&& `+number+`.querySelector(".danger").getBoundingClientRect().width > 5`)
	b.truth("the fan stands", `document.querySelector("#drawn_long-house_exhaust .empty").getBoundingClientRect().width > 5 && !document.querySelector(".air")`)
	b.shotView("section-hot-768-light")
	f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Points[0].Live = false })
	b.truth("an old value is struck", `getComputedStyle(`+number+`.querySelector(".num")).textDecorationLine === "line-through"
		&& `+number+`.querySelector(".brief").textContent === "last known"`)
	st.stop()
	<-st.ended
	b.truth("the past is struck", `[...document.querySelectorAll(".drawing .num")].every((e) => getComputedStyle(e).textDecorationLine === "line-through")
		&& document.querySelector(".section .stamp").checkVisibility()`)
	b.shotView("section-past-768-light")
	b.noComplaints()
}
