package page

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

// stops marks what Tab must reach, in the order of the document, and counts
// it: of the radio buttons of one question only the chosen one, of what is
// folded away nothing.
const stops = `(() => {
	const all = [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]")].filter((e) =>
		e.tabIndex >= 0 && !e.disabled && e.checkVisibility() && !(e.matches("[type=radio]:not(:checked)") && document.querySelector('[name="' + e.name + '"]:checked')));
	all.forEach((e, i) => { e.numbered = i; }); // no attribute: news would take it away
	window.numbered = all;
	return all.length;
})()`

// stop reports where the keyboard is: its number, -1 for none; whether that can
// be seen; where it lies.
const stop = `(() => {
	const e = document.activeElement, how = getComputedStyle(e), r = e.getBoundingClientRect();
	const over = document.elementFromPoint(Math.min(r.left + 3, r.right - 1), Math.min(r.top + 3, r.bottom - 1));
	return JSON.stringify({Number: e.numbered ?? -1, What: e.outerHTML.slice(0, 120),
		Outlined: how.outlineStyle !== "none" && parseFloat(how.outlineWidth) >= 2,
		InSight: r.bottom > 0 && r.top < innerHeight && r.right > 0 && r.left < innerWidth,
		Free: !over || e.contains(over) || over.contains(e),
		Left: r.left, Right: r.right, Top: r.top + scrollY, Bottom: r.bottom + scrollY});
})()`

type tabStop struct {
	Number                   int
	What                     string
	Outlined, InSight, Free  bool
	Left, Right, Top, Bottom float64
}

func (b *tab) stop() (s tabStop) {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](stop))
	if err == nil {
		err = json.Unmarshal([]byte(text), &s)
	}
	if err != nil {
		b.t.Fatal(err)
	}
	return s
}

// walk presses Tab from the top until the keyboard has left the page, and
// judges every stop.
func (b *tab) walk(where string) {
	b.t.Helper()
	count, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](stops))
	if err != nil || count < 5 {
		b.t.Fatalf("%s: %d stops, %v", where, count, err)
	}
	next, before := 0, tabStop{Number: -1}
	for presses := 0; presses < 4*count && next < count; presses++ { // a field for a date has several stops of its own
		b.do(chromedp.KeyEvent(kb.Tab))
		s := b.stop()
		if s.Number == before.Number && s.Number >= 0 {
			continue
		}
		if s.Number != next {
			b.t.Errorf("%s: stop %d comes where %d should: %s", where, s.Number, next, s.What)
		}
		if !s.Outlined || !s.InSight || !s.Free {
			b.t.Errorf("%s: the keyboard cannot be seen at %s (outline %t, in sight %t, nothing over it %t)", where, s.What, s.Outlined, s.InSight, s.Free)
		}
		if before.Number >= 1 && s.Bottom <= before.Top && s.Left < before.Right && s.Right > before.Left {
			b.t.Errorf("%s: from %s Tab leads up to %s", where, before.What, s.What)
		}
		before, next = s, s.Number+1
		if s.Number < 0 {
			break
		}
	}
	if next != count {
		b.t.Errorf("%s: Tab reached %d of %d", where, next, count)
	}
	b.do(chromedp.KeyEvent(kb.Tab))
	if s := b.stop(); s.Number > 0 && s.Number != before.Number {
		b.t.Errorf("%s: after the last stop comes %s", where, s.What)
	}
}

// TestBrowserWalksByTab reaches everything by keyboard, in the order it is
// read, and sees where it is: folded, and with all opened.
func TestBrowserWalksByTab(t *testing.T) {
	g := everything(t)
	b := openBrowser(t, 1024, 768)
	b.enter(g.base, "Ada", password)
	for _, path := range sampled([]string{"/", "/probes/bench-1", "/back?house=long-house&zoom=week", "/log", "/device", "/download", "/report", "/first/topic?topic=thimble-garth/bench-1"}) {
		b.waiting(g.base, path)
		b.walk(path)
		b.waiting(g.base, path)
		b.truth("all is open", opened)
		b.walk(path + ", all open")
	}
	b.do(chromedp.EmulateViewport(360, 780))
	b.waiting(g.base, "/")
	b.walk("/ at 360")
	g.stop()
	<-g.ended
	b.truth("it shows the past", `!document.getElementById("past").hidden`)
	b.walkBack("/ past, at 360")
}

// walkBack goes up from the last stop, and demands that what stays on top of
// the window hides none.
func (b *tab) walkBack(where string) {
	b.t.Helper()
	count, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](stops))
	if err != nil {
		b.t.Fatal(err)
	}
	b.truth("the last stop has the keyboard", `(numbered.at(-1).focus(), document.activeElement === numbered.at(-1))`)
	for want := count - 2; want > 0; want-- {
		b.do(chromedp.KeyEvent(kb.Tab, chromedp.KeyModifiers(chromedp.ModifierShift)))
		if s := b.stop(); s.Number != want || !s.Free || !s.InSight {
			b.t.Fatalf("%s: stop %d, want %d; nothing over it %t, in sight %t: %s", where, s.Number, want, s.Free, s.InSight, s.What)
		}
	}
}

// The first stop leads past the navigation; what is folded opens by Enter and
// by the space bar; news leave the keyboard where it is.
func TestBrowserKeepsTheKeyboard(t *testing.T) {
	st, f := drawnLive(t)
	f.change(func(p *alarms.Picture) { p.Alarms = scene(noon).Alarms })
	b := openBrowser(t, 360, 780)
	b.waiting(st.base, "/")
	b.do(chromedp.KeyEvent(kb.Tab))
	b.truth("the way past is first, and seen", `document.activeElement.matches(".skip") && document.activeElement.getBoundingClientRect().left >= 0`)
	b.do(chromedp.KeyEvent(kb.Enter), chromedp.KeyEvent(kb.Tab))
	b.truth("it leads past the navigation", `document.activeElement.closest("main")`)

	more := "#" + words.Anchor("alarm", ridge) + "-more"
	b.do(chromedp.Click(chromedp.CSS("#"+words.Anchor("alarm", ridge)+"-rest > summary")),
		chromedp.Focus(chromedp.CSS(more+" summary")), chromedp.KeyEvent(kb.Enter))
	b.truth("Enter opens", `document.querySelector("`+more+`").open`)
	b.do(chromedp.KeyEvent(" "))
	b.truth("space closes", `!document.querySelector("`+more+`").open`)
	b.do(chromedp.KeyEvent(" "))
	b.truth("and opens", `document.querySelector("`+more+`").open`)

	// Everything on the page is renewed while the keyboard is on it.
	for i, at := range []string{more + " summary", more + " select", "#" + words.Anchor("alarm", ridge) + "-take", ".seasons summary", "#lately a", ".onehouse .pages a"} {
		b.do(chromedp.Focus(chromedp.CSS(at)))
		sentence := fmt.Sprintf("Sentence %d.", i)
		f.change(func(p *alarms.Picture) {
			p.Sentence, p.Houses[0].Sentence, p.Alarms[0].Sentence = sentence, sentence, sentence
			p.Houses[0].Places[0].Points[0].Value++
		})
		b.truth("it is renewed", fmt.Sprintf(`document.querySelector("#top h1").textContent.endsWith(%q)`, sentence))
		b.truth("the keyboard stays on "+at, fmt.Sprintf(`document.activeElement === document.querySelector(%q)`, at))
	}
	silent := "#" + words.Anchor("alarm", "low-house/bed/bed-1/silent")
	for i, at := range []string{silent + "-take", more + " summary"} { // each moves up
		b.do(chromedp.Focus(chromedp.CSS(at)))
		f.change(func(p *alarms.Picture) { p.Alarms[0], p.Alarms[1] = p.Alarms[1], p.Alarms[0] })
		b.truth("the order has changed", fmt.Sprintf(`(document.querySelector("#alarms .alarm").id === %q) === %t`, words.Anchor("alarm", ridge), i == 1))
		b.truth("the keyboard stays on "+at, fmt.Sprintf(`document.activeElement === document.querySelector(%q)`, at))
		b.truth("what was open is open", `document.querySelector("`+more+`").open`)
	}
	b.noComplaints()
}
