package page

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"telltale/alarms/tongue"
)

// axeSource is axe-core, a checker of pages against the Web Content
// Accessibility Guidelines. TELLTALE_AXE names its file axe.min.js; without it
// the check is left out, unless TELLTALE_REQUIRE_BROWSER=1 asks for it.
func axeSource(t *testing.T) string {
	t.Helper()
	path := os.Getenv("TELLTALE_AXE")
	if path == "" {
		if os.Getenv("TELLTALE_REQUIRE_BROWSER") == "1" {
			t.Fatal("TELLTALE_AXE names no axe.min.js, but TELLTALE_REQUIRE_BROWSER=1 asks for it")
		}
		t.Skip("TELLTALE_AXE names no axe.min.js: the pages are not checked by axe-core")
	}
	source, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(source)
}

// axeRun checks the page as it stands against WCAG 2.0 to 2.2, levels A and AA,
// and against what axe-core calls best practice: landmarks, order of headings.
// axe-core leaves the size of targets (success criterion 2.5.8) out unless asked.
const axeRun = `axe.run(document, {runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}, rules: {"target-size": {enabled: true}}, resultTypes: ["violations"]})` + axeSays

// axeColours checks only what other colours can change.
const axeColours = `axe.run(document, {runOnly: {type: "rule", values: ["color-contrast", "link-in-text-block"]}, resultTypes: ["violations"]})` + axeSays

const axeSays = `.then((r) => JSON.stringify({passes: r.passes.length + r.incomplete.length, violations: r.violations.map((v) => ({id: v.id, help: v.help, nodes: v.nodes.map((n) => n.html.slice(0, 200) + " :: " + n.failureSummary)}))}))`

type axeResult struct {
	Passes     int
	Violations []struct {
		ID, Help string
		Nodes    []string
	}
}

// axe fails for every violation on the page shown.
func (b *tab) axe(source, where string) {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](source+"\n;true"))
	if err != nil {
		b.t.Fatalf("%s: axe-core does not load: %v", where, err)
	}
	b.axeAgain(axeRun, where)
}

// axeAgain does the same on a page that has axe-core already.
func (b *tab) axeAgain(run, where string) {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](run, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: axe-core does not run: %v", where, err)
	}
	var r axeResult
	if err := json.Unmarshal([]byte(text), &r); err != nil {
		b.t.Fatal(err)
	}
	if r.Passes == 0 {
		b.t.Errorf("%s: axe-core found nothing to judge", where)
	}
	for _, v := range r.Violations {
		b.t.Errorf("%s: %s (%s):\n  %s", where, v.Help, v.ID, strings.Join(v.Nodes, "\n  "))
	}
}

// opened opens all that can be opened, so that it is judged too.
const opened = `(document.querySelectorAll("details").forEach((d) => { d.open = true; }), true)`

// TestAxe judges every page in every state, with all opened that can be, at
// the width of a phone and of a tablet, in light and in dark.
func TestAxe(t *testing.T) {
	t.Parallel()
	source := axeSource(t)
	g := everything(t)
	b := openTab(t, 360, 800)
	seen := 0
	b.tour(g, func(name string) {
		seen++
		b.truth("all is open", opened)
		b.axe(source, name+" at 360, light")
		b.scheme("dark")
		b.axeAgain(axeColours, name+" at 360, dark")
		b.do(chromedp.EmulateViewport(1024, 768))
		b.axeAgain(axeColours, name+" at 1024, dark")
		b.scheme("light")
		b.axeAgain(axeRun, name+" at 1024, light")
		if strings.HasPrefix(name, "/ ") {
			b.do(chromedp.EmulateViewport(768, 1024))
			b.axeAgain(axeRun, name+" at 768, light")
		}
		b.do(chromedp.EmulateViewport(360, 800))
	})
	if seen < 50 {
		t.Errorf("only %d states were judged", seen)
	}
}

// TestAxeInGerman judges what a language can change: names, lengths, the language itself.
func TestAxeInGerman(t *testing.T) {
	t.Parallel()
	source := axeSource(t)
	g := everything(t)
	b := openTab(t, 360, 800)
	b.reads(tongue.German.Code())
	b.tour(g, func(name string) {
		b.truth(name+" is in German", `document.documentElement.lang === "de"`)
		b.truth("all is open", opened)
		b.axe(source, name+" in German")
	})
}
