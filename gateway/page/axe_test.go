package page

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
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

// axeRun checks the page as it stands against WCAG 2.0 to 2.2, levels A and AA.
const axeRun = `axe.run(document, {runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}, resultTypes: ["violations"]})
	.then((r) => JSON.stringify({passes: r.passes.length, violations: r.violations.map((v) => ({id: v.id, help: v.help, nodes: v.nodes.map((n) => n.html.slice(0, 200) + " :: " + n.failureSummary)}))}))`

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
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](axeRun, chromedp.EvalAwaitPromise))
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

// TestAxe judges every page of the navigation, live and past, in light and in
// dark, at the width of a phone and of a tablet.
func TestAxe(t *testing.T) {
	source := axeSource(t)
	st, _ := ticking(t, Options{})
	for _, width := range []int64{360, 1024} {
		b := openTab(t, width, 800)
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			for _, path := range axePages(st.server) {
				b.do(chromedp.Navigate(st.base + path))
				if path == "/" {
					b.truth("it is live", isLive, waitLive)
				}
				b.truth("all is open", opened, waitLive)
				b.axe(source, fmt.Sprintf("%s at %d, %s", path, width, scheme))
			}
		}
	}
}

// axePages are those of the navigation and some beside it.
func axePages(s *Server) []string {
	pages := []string{"/log?of=switching", "/no-such-page"}
	for _, e := range navEntries() {
		if e.shown == nil || e.shown(s) {
			pages = append(pages, e.address)
		}
	}
	return pages
}
