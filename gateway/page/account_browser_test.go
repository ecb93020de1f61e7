package page

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/door"
	"telltale/gateway/page/words"
)

// enter signs the tab in by keyboard.
func (b *tab) enter(base, name, password string) {
	b.t.Helper()
	b.do(chromedp.Navigate(base+"/sign-in"), chromedp.WaitVisible(chromedp.ID("account")),
		chromedp.SendKeys(chromedp.ID("account"), name), chromedp.SendKeys(chromedp.ID("password"), password+"\r"))
	b.truth("it is live after signing in", isLive)
}

// actsThere counts forms of the page that would change something of the watch.
const actsThere = `[...document.querySelectorAll('form[method=post]')].filter((f) => !["/sign-out", "/name", "/degrees", "/tongue"].includes(new URL(f.action).pathname)).length`

// forged sends a form and a request of the API as a script could, with all
// that the page itself knows, and tells the answers.
const forged = `(window.forged = "", Promise.all([
	fetch("/season", {method: "POST", body: new URLSearchParams({house: "long-house", season: "winter"})}),
	fetch("/api/v1/houses/season", {method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify({house: "long-house", season: "winter"})})
]).then((all) => { window.forged = all.map((r) => r.status).join(" "); }), true)`

func TestBrowserLooksOnly(t *testing.T) {
	t.Parallel()
	st, f := ticking(t, Options{Accounts: people()})
	b := openTab(t, 360, 780)
	b.enter(st.base, "Ben", benPassword)
	b.truth("all values are there", `document.getElementById("point_long-house_bench_temperature").innerText.includes("24.3")`)
	b.truth("no form that acts is there", actsThere+` === 0`)
	f.change(func(p *alarms.Picture) { p.Alarms[1].Sentence = "Probe bed 1 is still silent." })
	b.truth("news come", `document.getElementById("alarms").innerText.includes("is still silent")`)
	b.truth("and bring none", actsThere+` === 0`)
	b.shot("front-look-360-light")
	b.noComplaints()
	b.truth("what nobody may send is sent", forged)
	b.truth("and refused", `window.forged === "403 403"`)
	if len(f.done()) != 0 {
		t.Errorf("somebody who may look only did %+v", f.done())
	}
}

func TestBrowserActsUnderItsAccount(t *testing.T) {
	t.Parallel()
	st, f := ticking(t, Options{Accounts: people()})
	b := openTab(t, 360, 780)
	b.enter(st.base, "Ada", password)
	b.truth("there is much to do", actsThere+` > 5`)
	b.do(chromedp.Click(chromedp.ID(words.Anchor("alarm", ridge) + "-take")))
	b.truth("it is acknowledged", `document.getElementById("`+words.Anchor("alarm", ridge)+`").innerText.includes("It is still so.")`)
	if got := f.done(); len(got) != 1 || got[0].By != "Ada" {
		t.Errorf("got %+v, want one act of Ada", got)
	}
	b.truth("the same is sent by script", forged)
	b.truth("and done", `window.forged === "200 200"`)
	b.noComplaints()
}

func TestBrowserAckLinks(t *testing.T) {
	t.Parallel()
	f := newFake()
	ackLinks := door.NewAckLinks([]byte("a key of these tests, not secret"))
	st := start(t, Options{Watch: f, Name: "Thimble Garth", Accounts: people(), AckLinks: ackLinks})
	link := ackLinks.Link(st.base, ridgeHigh, string(ridgeHigh)+"#3", "Ada", noon.Add(24*time.Hour))
	for _, width := range []int64{360, 1280} {
		b := openTab(t, width, 780)
		for _, scheme := range schemes(width) {
			b.scheme(scheme)
			for name, path := range map[string]string{"tap": strings.TrimPrefix(link, st.base), "tap-not": "/tap?t=x", "sign-in": "/sign-in"} {
				b.do(chromedp.Navigate(st.base + path))
				b.truth("the page fits", `document.documentElement.scrollWidth <= innerWidth`)
				b.none("cut off", cutOff)
				b.none("without a name", nameless)
				b.none("too small to tap", `[...document.querySelectorAll("button, input:not([type=hidden])")].filter((e) => e.getBoundingClientRect().height < 24).map((e) => e.outerHTML).join("\n")`)
				b.shot(fmt.Sprintf("%s-%d-%s", name, width, scheme))
			}
		}
	}
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(link), chromedp.Focus(chromedp.CSS("main.tap button")), chromedp.KeyEvent("\r"))
	b.truth("one tap acknowledges", `document.querySelector("[role=status]").innerText.startsWith("Acknowledged by Ada.")`)
	b.shot("tapped-360-light")
	b.noComplaints()
	if got := f.done(); len(got) != 1 || got[0].By != "Ada, by a link" {
		t.Errorf("got %+v", got)
	}
}

// TestBrowserAsksNobodyElse opens every page of the navigation, and some
// beside it: nothing is asked of anybody but the page itself, and the content
// policy forbids nothing that the page wants.
func TestBrowserAsksNobodyElse(t *testing.T) {
	t.Parallel()
	f := newFake()
	o := fullOptions(f)
	o.Metrics, o.Name = nil, "Thimble Garth"
	st := start(t, o)
	b := openTab(t, 1280, 900)
	asked := map[string]bool{}
	if err := chromedp.Listen(b.ctx, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			b.mu.Lock()
			asked[e.Request.URL] = true
			b.mu.Unlock()
		}
	}); err != nil {
		t.Fatal(err)
	}
	b.enter(st.base, "ada", password)
	pages := []string{"/account", "/alarm?id=" + url.QueryEscape(string(ridgeHigh)), "/tap?t=x"}
	for _, e := range navEntries() {
		if e.shown == nil || e.shown(st.server) {
			pages = append(pages, e.address)
		}
	}
	for _, path := range pages {
		b.do(chromedp.Navigate(st.base + path))
		b.truth(path+" is there", `document.querySelector("h1")`)
	}
	b.shot("account-1280-light")
	b.mu.Lock()
	defer b.mu.Unlock()
	for at := range asked {
		if !strings.HasPrefix(at, st.base+"/") && !strings.HasPrefix(at, "data:") { // the browser draws its own date fields so
			t.Errorf("asked of somebody else: %s", at)
		}
	}
	for _, c := range b.complaints { // one of them is the status of the link that is none
		if !strings.Contains(c, "404") {
			t.Errorf("the browser complains: %s", c)
		}
	}
	if len(asked) < len(pages) || len(pages) < 8 {
		t.Errorf("saw %d requests for %d pages", len(asked), len(pages))
	}
}
