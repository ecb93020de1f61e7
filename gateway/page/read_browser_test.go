package page

import (
	"context"
	"fmt"
	"math"
	"net/url"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"telltale/alarms"
)

// TestBrowserReadsValuesUnderThePointer: what stands beside the pointer is what was
// recorded then; it goes with Escape and off the strip, and nobody who listens hears it.
func TestBrowserReadsValuesUnderThePointer(t *testing.T) {
	t.Parallel()
	st := startDay(t)
	b := openTab(t, 1032, 900) // 1000 px of strip
	b.do(chromedp.Navigate(st.base + "/back?house=long-house&zoom=6-hours&place=bench&until=2026-05-04T12%3A00Z"))
	b.truth("the strip is as wide as it is tried here", `document.querySelector(".daystrip svg").clientWidth === 1000`)
	until := time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	points, err := st.server.watch.History(context.Background(), "long-house", "bench", alarms.Temperature, until.Add(-6*time.Hour), until, 360)
	if err != nil || len(points) < 20 {
		t.Fatalf("got %d points (%v)", len(points), err)
	}
	x, err := chromedp.Run(b.ctx, chromedp.Evaluate[float64](`document.querySelector(".daystrip svg").getBoundingClientRect().x`))
	if err != nil {
		t.Fatal(err)
	}
	y, err := chromedp.Run(b.ctx, chromedp.Evaluate[float64](`document.querySelector(".daystrip svg").getBoundingClientRect().y + 60`))
	if err != nil {
		t.Fatal(err)
	}
	move := func(px float64) {
		t.Helper()
		b.mouse(input.DispatchMouseEventTypeMouseMoved, x+px, y)
	}
	begin := until.Add(-6 * time.Hour)
	across := func(i int) float64 { return math.Round(float64(points[i].At.Sub(begin)) / float64(6*time.Hour) * 1000) }
	some := across(len(points) / 2)
	for _, px := range []float64{across(len(points) / 6), some, across(len(points) * 5 / 6)} {
		move(px)
		at := begin.Add(time.Duration(px / 1000 * float64(6*time.Hour)))
		nearest := points[0]
		for _, p := range points {
			if p.At.Sub(at).Abs() < nearest.At.Sub(at).Abs() {
				nearest = p
			}
		}
		b.truth(fmt.Sprintf("at %g px there is a value", px), `document.querySelector(".readout")`)
		text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.querySelector(".readout").innerText`))
		if err != nil {
			t.Fatal(err)
		}
		m := regexp.MustCompile(`(\d\d:\d\d [ap]m)\s+Bench, temperature ([−\d.]+)\x{a0}°C\s+Bench, humidity [\d.]+\x{a0}%`).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("at %g px stands %q", px, text)
		}
		got, err := strconv.ParseFloat(m[2], 64)
		if err != nil || math.Abs(got-nearest.Value) > 0.11 {
			t.Errorf("at %g px stands %q, recorded was %+v", px, text, nearest)
		}
		if clock := nearest.At.Format("03:04 pm"); m[1] != clock {
			t.Errorf("at %g px stands %q, want the time %s", px, text, clock)
		}
	}
	b.truth("who listens does not hear it", `document.querySelector(".readout").getAttribute("aria-hidden") === "true"`)
	b.do(chromedp.KeyEvent("\x1b"))
	b.truth("Escape takes it away", `!document.querySelector(".readout") && !document.querySelector(".readrule")`)
	move(some)
	b.truth("it is back", `document.querySelector(".readout")`)
	b.shot("back-read")
	y -= 200
	move(some)
	b.truth("off the strip it goes", `!document.querySelector(".readout")`)
	b.touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: x + some, Y: y + 200})
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	b.truth("a finger reads too", `document.querySelector(".readout")`)
	b.noComplaints()
}

// The page of an alarm that is on has the last day of its place, which reads in the same
// way; that of the watch itself has none.
func TestBrowserReadsValuesOnThePageOfAnAlarm(t *testing.T) {
	t.Parallel()
	f, tend := tended()
	st := start(t, Options{Watch: f, Course: newFakeCourse(f), Tending: tend})
	b := openTab(t, 390, 844)
	b.do(chromedp.Navigate(st.base + "/alarm?id=" + url.QueryEscape(string(ridgeHigh))))
	b.truth("it has a strip of its place", `[...document.querySelectorAll(".daystrip [data-read]")].some((p) => JSON.parse(p.dataset.read).n === "Ridge, temperature")`)
	b.do(chromedp.ScrollIntoView(".daystrip svg"))
	at := func(of string) float64 {
		t.Helper()
		v, err := chromedp.Run(b.ctx, chromedp.Evaluate[float64](of))
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	x := at(`(() => { const r = document.querySelector(".daystrip svg").getBoundingClientRect(); return r.x + r.width * document.querySelector(".daystrip").dataset.share / 200; })()`)
	y := at(`document.querySelector(".daystrip svg").getBoundingClientRect().y + 60`)
	b.touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: x, Y: y})
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	b.truth("a finger reads it", `/Ridge, temperature [−\d.]+/.test((document.querySelector(".readout") || {}).innerText || "")`)
	b.shot("alarm-read")
	b.noComplaints()
}
