package page

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

// listen keeps in window.heard what a screen reader would say by itself: each
// change within a live region, with how it is said.
const listen = `(() => {
	window.heard = [];
	const how = (e) => e.getAttribute("aria-live") || {alert: "assertive", status: "polite", log: "polite"}[e.getAttribute("role")];
	const region = (n) => { for (let e = n.nodeType === 1 ? n : n.parentElement; e; e = e.parentElement) if (how(e)) return e; return null; };
	new MutationObserver((all) => {
		for (const m of all) {
			const r = region(m.target);
			if (r && how(r) !== "off" && r.checkVisibility() && r.textContent.trim()) heard.push(how(r) + ": " + r.textContent.trim());
		}
	}).observe(document.body, {subtree: true, childList: true, characterData: true, attributes: true, attributeFilter: ["hidden"]});
	return true;
})()`

// spoken waits until something was said that holds all words, and forgets it.
func (b *tab) spoken(what string, say ...string) {
	b.t.Helper()
	tests := []string{}
	for _, w := range say {
		tests = append(tests, fmt.Sprintf("h.includes(%q)", w))
	}
	b.truth(what, "heard.some((h) => "+strings.Join(tests, " && ")+")")
	b.truth("it is forgotten", "(heard.length = 0, true)")
}

// TestBrowserAnnounces: what has changed is said, once, and nothing else is.
func TestBrowserAnnounces(t *testing.T) {
	t.Parallel()
	st, f := drawnLive(t)
	b := openTab(t, 768, 800)
	b.waiting(st.base, "/")
	b.truth("it listens", listen)

	for i := range 3 { // ordinary readings, some beats of the clock, ages that grow
		value := 31.5 + float64(i)/10
		f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Points[0].Value = value })
		b.truth("the reading is shown", fmt.Sprintf(`document.getElementById("point_long-house_bench_temperature").textContent.includes("%.1f")`, value))
	}
	b.truth("the clock goes on", `(window.clockWas ||= document.querySelector(".clock").textContent) !== document.querySelector(".clock").textContent`)
	b.none("ordinary readings are announced", `heard.join("\n")`)

	f.change(func(p *alarms.Picture) { p.Alarms = scene(noon).Alarms[1:2] })
	b.spoken("a new alarm is said at once", "assertive: New: ", "Probe bed 1 of Low House has been silent")
	f.change(func(p *alarms.Picture) { p.Alarms[0].Priority = alarms.High })
	b.spoken("a worse one too", "assertive: New: High priority.", "Probe bed 1")
	f.change(func(p *alarms.Picture) { p.Alarms = scene(noon).Alarms[:1] })
	b.spoken("another in its place too", "assertive: New: ", "Long House, ridge: far too hot.", "41.2", "Check first: ")
	f.change(func(p *alarms.Picture) { p.Sentence = "Not all is well: the ridge of Long House is too hot." })
	b.spoken("the sentence is said", "polite: ", "Not all is well: the ridge")
	b.do(chromedp.Click(chromedp.ID(words.Anchor("alarm", ridge) + "-take")))
	b.spoken("the answer to a form is said", "polite: Acknowledged.")
	f.change(func(p *alarms.Picture) { p.Alarms = nil })
	b.spoken("the end is said", "polite: No open alarm")
	b.none("more is announced", `heard.join("\n")`)
	b.live(map[string]string{"#raised": "assertive", "#said": "polite", "#top h1": "polite", "#alarms h2": "polite"})

	st.stop()
	<-st.ended
	b.spoken("the past is said at once", "assertive: ", "The watch was stopped. This page shows the past")
	b.live(map[string]string{"#past": "assertive"})
}

// The pages without news say the answer to a form, and what is wrong.
func TestBrowserAnnouncesAnswers(t *testing.T) {
	t.Parallel()
	g := everything(t)
	b := openTab(t, 360, 800)
	b.before(`addEventListener("DOMContentLoaded", () => ` + listen + `)`)
	b.waiting(g.base, "/sign-in")
	b.do(chromedp.SendKeys(chromedp.ID("account"), "Ada"), chromedp.SendKeys(chromedp.ID("password"), "wrong\r"))
	b.truth("the password is refused", `document.getElementById("wrong")`)
	b.spoken("what is wrong is said", "assertive: ")
	b.live(map[string]string{"#wrong": "assertive"})
	b.enter(g.base, "Ada", password)
	b.waiting(g.base, "/probes/bench-1")
	b.do(chromedp.SendKeys(chromedp.ID("why"), "the wire is renewed"), chromedp.Click(chromedp.ID("out")))
	b.truth("it is answered", `document.getElementById("said").innerText`)
	b.spoken("the answer is said", "polite: ")
	b.live(map[string]string{"#said": "polite"})
	b.waiting(g.base, "/probes/bench-1")
	b.do(chromedp.Click(chromedp.ID("temperature-ice")), chromedp.Click(chromedp.ID("temperature-ask")))
	b.truth("it is worked out", `document.querySelector(".proposal")`)
	b.spoken("so is what was worked out", "polite: ", "taken off what it sends")
}

// live fails where the browser's accessibility tree does not have an element
// as a live region of the kind wanted.
func (b *tab) live(want map[string]string) {
	b.t.Helper()
	tree, err := chromedp.Call(b.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		b.t.Fatal(err)
	}
	found := map[string]bool{} // kind and name
	for _, n := range tree.Nodes {
		for _, p := range n.Properties {
			var kind string
			if p.Name == "live" && json.Unmarshal(p.Value.Value, &kind) == nil {
				found[fmt.Sprint(kind, " ", n.BackendDOMNodeID)] = true
			}
		}
	}
	for selector, kind := range want {
		nodes, err := chromedp.Run(b.ctx, chromedp.Nodes(chromedp.CSS(selector)))
		if err != nil {
			b.t.Fatal(err)
		}
		if !found[fmt.Sprint(kind, " ", nodes[0].BackendNodeID)] {
			b.t.Errorf("%s is no %s live region in the accessibility tree", selector, kind)
		}
	}
}

// On a phone the worst alarm's place, value, limit, course, time in hand, what to check
// first and the button are seen without scrolling.
func TestBrowserTheWorstIsOnTheFirstScreen(t *testing.T) {
	t.Parallel()
	st, f := drawnLive(t)
	f.change(func(p *alarms.Picture) { p.Alarms = scene(noon).Alarms })
	b := openTab(t, 360, 780)
	b.waiting(st.base, "/")
	first := "#" + words.Anchor("alarm", ridge)
	b.truth("it is the first", fmt.Sprintf(`document.querySelector("#alarms .alarm").matches(%q)`, first))
	b.none("it needs scrolling", fmt.Sprintf(`[".what", ".figure b", ".bounds", ".inhand", ".checkfirst", ".take"].filter((part) => {
		const e = document.querySelector(%q + " " + part), r = e && e.getBoundingClientRect();
		return !r || !r.height || r.top < 0 || r.bottom > innerHeight || r.right > innerWidth;
	}).join("\n")`, first))
	b.shotView("worst-360")
}
