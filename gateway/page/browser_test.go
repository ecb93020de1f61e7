package page

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"telltale/alarms"
)

// tab is one tab of a real browser.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu         sync.Mutex
	complaints []string // errors on the console, and exceptions
}

// openTab starts a browser of its own for the test, or skips where there is
// none. TELLTALE_REQUIRE_BROWSER=1 makes that a failure.
func openTab(t *testing.T, width, height int64) *tab {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser"} {
		if p, err := exec.LookPath(name); err == nil && path == "" {
			path = p
		}
	}
	if path == "" {
		if os.Getenv("TELLTALE_REQUIRE_BROWSER") == "1" {
			t.Fatal("Chromium is not installed, but TELLTALE_REQUIRE_BROWSER=1 asks for it")
		}
		t.Skip("Chromium is not installed: the page is not tried in a real browser")
	}
	options := append([]chromedp.ExecAllocatorOption{}, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.ExecPath(path),
		chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(int(width), int(height)),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-extensions", true),
		chromedp.Flag("hide-scrollbars", true),
		chromedp.Flag("host-resolver-rules", "MAP garden.example.org 127.0.0.1"))
	bounded, stop := context.WithTimeout(context.Background(), 90*time.Second)
	alloc, stopAlloc := chromedp.NewExecAllocator(bounded, options...)
	ctx, stopTab := chromedp.NewContext(alloc)
	b := &tab{t: t, ctx: ctx}
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Logf("closing the browser: %v", err)
		}
		stopTab()
		stopAlloc()
		stop()
	})
	if err := chromedp.Listen(ctx, b.listen); err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	_, err := chromedp.Call(ctx, cdplog.Enable, cdp.Empty{})
	if err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.EmulateViewport(width, height))
	return b
}

func (b *tab) listen(ev any) {
	said := ""
	switch e := ev.(type) {
	case *cdplog.EventEntryAdded:
		if e.Entry.Level == cdplog.EntryLevelError || e.Entry.Level == cdplog.EntryLevelWarning {
			said = e.Entry.Text + " " + e.Entry.URL
		}
	case *runtime.EventExceptionThrown:
		said = (&chromedp.ExceptionError{ExceptionDetails: e.ExceptionDetails}).Error()
	case *runtime.EventConsoleAPICalled:
		said = fmt.Sprint("console: ", e.Type)
	}
	if said != "" {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.complaints = append(b.complaints, said)
	}
}

func (b *tab) noComplaints() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, c := range b.complaints {
		b.t.Errorf("the browser complains: %s", c)
	}
}

func (b *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

// scheme makes the browser prefer light or dark pages.
func (b *tab) scheme(name string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
	if err != nil {
		b.t.Fatal(err)
	}
}

// truth waits until an expression holds in the page, within the given time.
func (b *tab) truth(what, expression string, within time.Duration) {
	b.t.Helper()
	for end := time.Now().Add(within); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+expression+")"))
		if err == nil && ok { // an error is a page that is just loading
			return
		}
	}
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.body.innerText"))
	if err != nil {
		text = err.Error()
	}
	b.t.Fatalf("did not come true within %v: %s; the page reads:\n%s", within, what, text)
}

// shot keeps a picture of the whole page where TELLTALE_SHOTS names a folder.
func (b *tab) shot(name string) {
	b.t.Helper()
	dir := os.Getenv("TELLTALE_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.t.Fatal(err)
	}
}

const isLive = `document.body.matches(".live:not(.past)")`

// ticking starts a page whose watch's time moves.
func ticking(t *testing.T, o Options) (*started, *fakeWatch) {
	f := newFake()
	begun := time.Now()
	f.now = func() time.Time { return noon.Add(time.Since(begun)) }
	o.Watch, o.Name = f, "Quarry Bank"
	st := start(t, o)
	ctx, stop := context.WithCancel(context.Background())
	var beating sync.WaitGroup
	beating.Go(func() {
		tick := time.NewTicker(time.Second)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				f.change(func(p *alarms.Picture) { p.At = f.now() })
			}
		}
	})
	t.Cleanup(func() { stop(); beating.Wait() })
	return st, f
}

func TestBrowserFollowsAndActs(t *testing.T) {
	st, f := ticking(t, Options{})
	b := openTab(t, 1280, 900)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive, 10*time.Second)

	f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Points[0].Value = 26.7 })
	b.truth("a new value comes by itself", `document.getElementById("point_long-house_bench_temperature").innerText.includes("26.7")`, 5*time.Second)
	b.truth("it shows ages while it is live", `document.getElementById("point_long-house_bench_temperature").innerText.includes(" ago")`, 5*time.Second)

	// Open "Shelve…" of the second alarm and type; news must not take it away.
	more := `document.getElementById("alarm_xID-more")`
	silent := anchor("alarm", "low-house/bed/bed-1/silent")
	more = strings.Replace(more, "alarm_xID", silent, 1)
	b.do(chromedp.Click(chromedp.CSS("#"+silent+"-more summary")),
		chromedp.SendKeys(chromedp.ID(silent+"-why"), "new battery on order"))
	f.change(func(p *alarms.Picture) { p.Alarms[1].Sentence = "Probe bed 1 is still silent." })
	b.truth("the alarm's sentence is renewed", `document.getElementById("alarms").innerText.includes("is still silent")`, 5*time.Second)
	b.truth("what was typed is kept", more+`.open && document.getElementById("`+silent+`-why").value === "new battery on order"
		&& document.activeElement.id === "`+silent+`-why"`, 2*time.Second)

	// Shelve with the keyboard alone: Enter in the reason field.
	b.do(chromedp.SetValue(chromedp.ID("who"), "Ada"), chromedp.SendKeys(chromedp.ID(silent+"-why"), "\r"))
	b.truth("it is put aside", `document.querySelector("#aside #`+silent+`-back")`, 5*time.Second)
	got := f.done()
	if len(got) != 1 || got[0].Kind != alarms.Shelve || got[0].Note != "new battery on order" || got[0].By != "Ada" {
		t.Fatalf("shelve: got %+v", got)
	}
	b.do(chromedp.Click(chromedp.ID(silent + "-back")))
	b.truth("it is back", `!document.getElementById("`+silent+`-back")`, 5*time.Second)

	// Acknowledge one by click, one by keyboard.
	hot, humid := anchor("alarm", ridge), anchor("alarm", "long-house/bench/humidity/high")
	b.do(chromedp.Click(chromedp.ID(hot + "-take")))
	b.truth("it is acknowledged", `document.getElementById("`+hot+`").innerText.includes("Acknowledged. It is still so.")`, 5*time.Second)
	b.truth("it says so", `document.getElementById("said").innerText === "Acknowledged."`, 2*time.Second)
	b.do(chromedp.Focus(chromedp.ID(humid+"-take")), chromedp.KeyEvent("\r"))
	b.truth("by keyboard too", `document.getElementById("`+humid+`").innerText.includes("Acknowledged. It is still so.")`, 5*time.Second)
	b.truth("the keyboard is not lost", `document.activeElement.tagName === "H2"`, 2*time.Second)
	b.truth("the title counts", `document.title.startsWith("(1) Quarry Bank")`, 2*time.Second)
	b.noComplaints()
}

func TestBrowserSaysThatItShowsThePast(t *testing.T) {
	st, _ := ticking(t, Options{})
	b := openTab(t, 1280, 900)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive, 10*time.Second)
	b.noComplaints()
	st.stop()
	<-st.ended
	b.truth("a stop is said", `!document.getElementById("past").hidden
		&& document.getElementById("past").innerText.includes("The watch was stopped. This page shows the past, as it was at")`, 10*time.Second)
	b.truth("ages give way to clock times", `document.getElementById("point_long-house_bench_temperature").innerText.includes("last known 12:01:50")
		&& !document.getElementById("point_long-house_bench_temperature").innerText.includes(" ago")`, 2*time.Second)
	b.shot("past-1280-light")
}

// A connection that goes quiet without an end, as when a phone leaves the
// house, is said within ten seconds as well.
func TestBrowserNoticesSilence(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f}, func(s *Server) { s.hub.beat = time.Hour })
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive, 10*time.Second)
	b.truth("silence is said", `!document.getElementById("past").hidden
		&& document.getElementById("past").innerText.includes("Nothing has come from the watch since 12:02:10")`, 10*time.Second)
	f.change(func(p *alarms.Picture) { p.Sentence = "All is well again." })
	b.truth("news end it", isLive+` && document.getElementById("past").hidden
		&& document.querySelector("h1").innerText === "All is well again."`, 5*time.Second)
	b.noComplaints()
}

// In a network without TLS browsers send no Sec-Fetch-Site, and a name stands
// for the address: signing in and acting must work there too.
func TestBrowserSignsInOverPlainNames(t *testing.T) {
	st, f := ticking(t, Options{Password: password, Hosts: []string{"garden.example.org"}})
	b := openTab(t, 360, 780)
	base := strings.Replace(st.base, "127.0.0.1", "garden.example.org", 1)
	b.do(chromedp.Navigate(base), chromedp.WaitVisible(chromedp.ID("password")))
	b.shot("sign-in-360-light")
	b.do(chromedp.SendKeys(chromedp.ID("password"), password+"\r"))
	b.truth("it is live after signing in", isLive, 15*time.Second)
	b.do(chromedp.Click(chromedp.ID(anchor("alarm", ridge) + "-take")))
	b.truth("it is acknowledged", `document.getElementById("`+anchor("alarm", ridge)+`").innerText.includes("It is still so.")`, 5*time.Second)
	if len(f.done()) != 1 {
		t.Errorf("got %+v", f.done())
	}
	b.noComplaints()
}

func TestBrowserFitsEveryWidth(t *testing.T) {
	st, _ := ticking(t, Options{})
	for _, width := range []int64{360, 768, 1280} {
		b := openTab(t, width, 800)
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			b.do(chromedp.Navigate(st.base + "/?hours=24"))
			b.truth("it is live", isLive, 10*time.Second)
			b.do(chromedp.Click(chromedp.CSS("details summary")))
			b.truth("nothing is wider than the window", `document.documentElement.scrollWidth <= innerWidth`, 2*time.Second)
			b.none("cut off", cutOff)
			b.none("on another", overlaps)
			b.shot(fmt.Sprintf("front-%d-%s", width, scheme))
			b.do(chromedp.Navigate(st.base + "/log"))
			b.truth("the log fits", `document.documentElement.scrollWidth <= innerWidth`, 2*time.Second)
			b.shot(fmt.Sprintf("log-%d-%s", width, scheme))
		}
		b.noComplaints()
	}
}

// cutOff lists what leaves the window sideways.
const cutOff = `[...document.querySelectorAll("main *, header *, footer *")].filter((e) => {
	const r = e.getBoundingClientRect();
	return e.checkVisibility() && r.width > 0 && !e.matches(".skip") && (r.left < -1 || r.right > innerWidth + 1);
}).map((e) => e.outerHTML.slice(0, 200)).join("\n")`

// overlaps lists the parts of a line that lie on another part of it.
const overlaps = `[...document.querySelectorAll(".point, .alarm, .log li")].flatMap((line) => {
	const parts = [...line.children].filter((e) => e.checkVisibility() && e.getBoundingClientRect().height && e.getBoundingClientRect().width);
	const on = (a, b) => a.right > b.left + 1 && b.right > a.left + 1 && a.bottom > b.top + 1 && b.bottom > a.top + 1;
	return parts.filter((e, i) => parts.some((f, j) => i < j && on(e.getBoundingClientRect(), f.getBoundingClientRect())));
}).map((e) => e.outerHTML.slice(0, 200)).join("\n")`

// none fails where an expression lists anything.
func (b *tab) none(what, expression string) {
	b.t.Helper()
	list, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](expression))
	if err != nil {
		b.t.Fatal(err)
	}
	if list != "" {
		b.t.Errorf("%s:\n%s", what, list)
	}
}

// Where the script does not arrive the page is whole, and its forms post.
func TestBrowserWithoutTheScript(t *testing.T) {
	st, f := ticking(t, Options{})
	st.server.views.files["page.js"] = []byte("// nothing")
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(st.base),
		chromedp.Click(chromedp.ID(anchor("alarm", ridge)+"-take")))
	b.truth("it says what was done", `document.getElementById("said").innerText === "Acknowledged."`, 10*time.Second)
	if got := f.done(); len(got) != 1 || got[0].Alarm != ridge {
		t.Errorf("got %+v", got)
	}
	b.shot("noscript-360-light")
	b.noComplaints()
}
