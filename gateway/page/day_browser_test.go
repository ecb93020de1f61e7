package page

import (
	"fmt"
	"net/url"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

// mouse moves or presses the pointer.
func (b *tab) mouse(kind input.DispatchMouseEventType, x, y float64) {
	b.t.Helper()
	p := input.DispatchMouseEventParams{Type: kind, X: x, Y: y, Button: input.MouseButtonLeft, ClickCount: 1}
	if kind != input.DispatchMouseEventTypeMouseReleased {
		p.Buttons = 1
	}
	if _, err := chromedp.Call(b.ctx, input.DispatchMouseEvent, p); err != nil {
		b.t.Fatal(err)
	}
}

// touch does the same with a finger.
func (b *tab) touch(kind input.DispatchTouchEventType, points ...*input.TouchPoint) {
	b.t.Helper()
	p := input.DispatchTouchEventParams{Type: kind, TouchPoints: points}
	if p.TouchPoints == nil {
		p.TouchPoints = []*input.TouchPoint{}
	}
	if _, err := chromedp.Call(b.ctx, input.DispatchTouchEvent, p); err != nil {
		b.t.Fatal(err)
	}
}

// endsAt says that the strip shows a length up to some time, and the address too.
func endsAt(zoom, until string) string {
	at := ""
	if until != "" {
		parsed, err := time.Parse("2006-01-02T15:04Z", until)
		if err != nil {
			panic(err)
		}
		at = fmt.Sprintf(`&& Number(document.querySelector(".daystrip").dataset.to) === %d`, parsed.UnixMilli())
	}
	return fmt.Sprintf(`document.querySelector(".daystrip").dataset.zoom === %q %s && !document.querySelector(".daystrip.waits")
		&& (new URLSearchParams(location.search).get("until") || "") === %q && new URLSearchParams(location.search).get("zoom") === %[1]q`,
		zoom, at, until)
}

func TestBrowserDragsThroughTime(t *testing.T) {
	t.Parallel()
	st := startDay(t)
	b := openTab(t, 1032, 900) // 1000 px of strip
	begin := "2026-05-04T12:00Z"
	b.do(chromedp.Navigate(st.base + "/back?house=long-house&zoom=day&place=bench&until=" + url.QueryEscape(begin)))
	b.truth("the strip is as wide as it is tried here", `document.querySelector(".daystrip svg").clientWidth === 1000`)
	b.truth("it can be dragged", `document.body.matches(".scriptedstrip")`)

	// Half the width to the right is twelve hours earlier; the old drawing moves
	// at once, the new one takes its place.
	y := 400.0
	b.mouse(input.DispatchMouseEventTypeMousePressed, 300, y)
	b.mouse(input.DispatchMouseEventTypeMouseMoved, 400, y)
	b.mouse(input.DispatchMouseEventTypeMouseMoved, 800, y)
	b.truth("the drawing goes along", `document.querySelector(".moves").style.transform === "translateX(500px)" || `+endsAt("day", "2026-05-04T00:00Z"))
	b.truth("the half day before is drawn while the pointer holds", endsAt("day", "2026-05-04T00:00Z")+` && document.querySelector(".moves").style.transform === ""`)
	b.mouse(input.DispatchMouseEventTypeMouseMoved, 550, y)
	b.mouse(input.DispatchMouseEventTypeMouseReleased, 550, y)
	b.truth("what was moved back is drawn too", endsAt("day", "2026-05-04T06:00Z"))
	b.truth("the places are kept", `new URLSearchParams(location.search).get("place") === "bench"`)
	b.do(chromedp.NavigateBack())
	b.truth("back is where it began", endsAt("day", begin))

	// Nobody drags into the future, or to before there was anything.
	b.do(chromedp.Navigate(st.base + "/back?house=long-house&zoom=year"))
	b.truth("it can be dragged", `document.body.matches(".scriptedstrip")`)
	b.mouse(input.DispatchMouseEventTypeMousePressed, 800, y)
	b.mouse(input.DispatchMouseEventTypeMouseMoved, 100, y)
	b.mouse(input.DispatchMouseEventTypeMouseReleased, 100, y)
	b.truth("it still ends now", endsAt("year", ""))

	b.do(chromedp.Navigate(st.base + "/back?house=long-house&zoom=week&until=" + url.QueryEscape(begin)))
	b.truth("it can be dragged", `document.body.matches(".scriptedstrip")`)
	b.touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: 300, Y: y})
	for x := 340.0; x <= 800; x += 20 {
		b.touch(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: x, Y: y})
	}
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	b.truth("a finger drags too", `Number(document.querySelector(".daystrip").dataset.to) < Date.parse("2026-05-02T00:00Z")`)
	b.shot("back-dragged")
	b.noComplaints()
}

func TestBrowserMovesByKeyboard(t *testing.T) {
	t.Parallel()
	st := startDay(t)
	b := openTab(t, 768, 900)
	b.do(chromedp.Navigate(st.base+"/back?house=long-house&zoom=day&until=2026-05-04T12%3A00Z"), chromedp.Focus(chromedp.CSS(".daystrip")))
	for _, step := range []struct{ key, zoom, until string }{
		{"\u0302", "day", "2026-05-04T06:00Z"}, // arrow left
		{"\u0303", "day", "2026-05-04T12:00Z"}, // arrow right
		{"\u0308", "day", "2026-05-03T12:00Z"}, // page up
		{"\u0307", "day", "2026-05-04T12:00Z"}, // page down
		{"+", "6-hours", "2026-05-04T03:00Z"},
		{"+", "hour", "2026-05-04T00:30Z"},
		{"+", "hour", "2026-05-04T00:30Z"}, // the shortest
		{"\u0302", "hour", "2026-05-04T00:15Z"},
		{"\u0303", "hour", "2026-05-04T00:30Z"},
		{"-", "6-hours", "2026-05-04T03:00Z"},
		{"-", "day", "2026-05-04T12:00Z"},
		{"-", "3-days", "2026-05-05T12:00Z"},
		{"-", "week", "2026-05-07T12:00Z"},
		{"-", "month", "2026-05-19T12:00Z"},
		{"+", "week", "2026-05-07T12:00Z"},
		{"-", "month", "2026-05-19T12:00Z"},
		{"-", "year", ""}, // half a year on from the middle of April is to come
		{"-", "all", ""},
		{"+", "year", ""},
		{"\u0308", "year", "2025-06-20T12:02Z"},
		{"\u0305", "year", ""}, // end
	} {
		b.do(chromedp.KeyEvent(step.key))
		want := endsAt(step.zoom, step.until)
		if step.zoom == "month" || step.zoom == "year" { // days are whole
			want = fmt.Sprintf(`document.querySelector(".daystrip").dataset.zoom === %q && !document.querySelector(".daystrip.waits")
				&& (new URLSearchParams(location.search).get("until") || "").slice(0, 10) === %q`, step.zoom, step.until[:min(10, len(step.until))])
		}
		b.truth(fmt.Sprintf("%q leads to %s until %s", step.key, step.zoom, step.until), want)
		b.truth("the keyboard stays on the strip", `document.activeElement.matches(".daystrip")`)
	}
	b.truth("it is said where it is", `document.getElementById("backsaid").innerText.includes("Up to now")`)
	b.noComplaints()
}

// Without the script the links do the same.
func TestBrowserLooksBackWithoutTheScript(t *testing.T) {
	t.Parallel()
	st := startDay(t)
	st.server.views.files["page.js"] = []byte("// nothing")
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(st.base+"/back?house=long-house&zoom=week&until=2026-05-04T12%3A00Z"),
		chromedp.Click(chromedp.CSS(`[data-step="earlier"]`)))
	b.truth("a week earlier", endsAt("week", "2026-04-27T12:00Z"))
	b.do(chromedp.Click(chromedp.CSS(`.dayplaces [value="ridge"]`)), chromedp.Click(chromedp.CSS(".dayplaces button")))
	b.truth("two places at the same time", endsAt("week", "2026-04-27T12:00Z")+` && document.querySelectorAll(".daystrip .named")[2] &&
		[...document.querySelectorAll(".daystrip .named")].some((e) => e.textContent.startsWith("Ridge"))`)
	b.do(chromedp.Click(chromedp.CSS(`[data-step="now"]`)))
	b.truth("up to now", endsAt("week", ""))
	b.noComplaints()
}
