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
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// tab is one tab of a real browser.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu         sync.Mutex
	complaints []string // errors on the console, and exceptions

	shown int // notifications that shows has seen, of a worker
}

// shared is the browser of all tests, but for those that need one of their own.
var shared struct {
	sync.Mutex
	ctx  context.Context
	stop func()
}

// openTab opens a tab with cookies and a store of its own, or skips where there
// is no browser. TELLTALE_REQUIRE_BROWSER=1 makes that a failure.
func openTab(t *testing.T, width, height int64) *tab {
	t.Helper()
	path := browserPath(t)
	shared.Lock()
	if shared.ctx == nil {
		dir, err := os.MkdirTemp("", "telltale-browser")
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop, err := launch(path, dir)
		if err != nil {
			t.Fatalf("the browser does not start: %v", err)
		}
		shared.ctx, shared.stop = ctx, func() { stop(); os.RemoveAll(dir) }
	}
	within := shared.ctx
	shared.Unlock()
	ctx, stop := chromedp.NewContext(within, chromedp.WithNewBrowserContext())
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Logf("closing the tab: %v", err)
		}
		stop()
	})
	return newTab(t, ctx, width, height)
}

// openBrowser starts a browser for this test alone: for what a browser grants
// or keeps as a whole, such as workers and notifications.
func openBrowser(t *testing.T, width, height int64) *tab {
	t.Helper()
	ctx, stop, err := launch(browserPath(t), t.TempDir())
	if err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	t.Cleanup(stop)
	return newTab(t, ctx, width, height)
}

func TestMain(m *testing.M) {
	code := m.Run()
	if shared.stop != nil {
		shared.stop()
	}
	os.Exit(code)
}

func browserPath(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("TELLTALE_REQUIRE_BROWSER") == "1" {
		t.Fatal("Chromium is not installed, but TELLTALE_REQUIRE_BROWSER=1 asks for it")
	}
	t.Skip("Chromium is not installed: the page is not tried in a real browser")
	return ""
}

// launch starts a browser that keeps what it keeps in dir.
func launch(path, dir string, further ...chromedp.ExecAllocatorOption) (context.Context, func(), error) {
	options := append([]chromedp.ExecAllocatorOption{}, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.ExecPath(path),
		chromedp.UserDataDir(dir), chromedp.WindowSize(1280, 900),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-extensions", true),
		chromedp.Flag("hide-scrollbars", true),
		chromedp.Flag("host-resolver-rules", "MAP garden.example.org 127.0.0.1, MAP mail.example.net 127.0.0.1"))
	options = append(options, further...)
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, stopTab := chromedp.NewContext(alloc)
	stop := func() {
		_ = chromedp.Cancel(ctx)
		stopTab()
		stopAlloc()
	}
	if err := chromedp.Do(ctx); err != nil {
		stop()
		return nil, nil, err
	}
	return ctx, stop, nil
}

// newTab takes what a browser complains of, and sets the window's size.
func newTab(t *testing.T, ctx context.Context, width, height int64) *tab {
	t.Helper()
	b := &tab{t: t, ctx: ctx}
	if err := chromedp.Listen(ctx, b.listen); err != nil {
		t.Fatalf("no tab opens: %v", err)
	}
	if _, err := chromedp.Call(ctx, cdplog.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	// Another tab may have the browser's focus: this one is to behave as if it had.
	if _, err := chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true}); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.EmulateViewport(width, height))
	return b
}

// reads makes b's visitor one who reads a language, by its code.
func (b *tab) reads(language string) {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, network.Enable, network.EnableParams{}); err != nil {
		b.t.Fatal(err)
	}
	if _, err := chromedp.Call(b.ctx, network.SetExtraHTTPHeaders, network.SetExtraHTTPHeadersParams{Headers: network.Headers{"Accept-Language": language}}); err != nil {
		b.t.Fatal(err)
	}
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
	bounded, stop := context.WithTimeout(b.ctx, patience)
	defer stop()
	for _, a := range actions {
		err := chromedp.Do(bounded, a)
		for err != nil && bounded.Err() == nil && strings.Contains(err.Error(), "Could not find node with given id") {
			err = chromedp.Do(bounded, a) // the page was drawn again between finding the node and using it
		}
		if err != nil {
			b.t.Fatal(err)
		}
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

// truth waits until an expression holds in the page.
func (b *tab) truth(what, expression string) {
	b.t.Helper()
	pause := 5 * time.Millisecond
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(pause) {
		ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+expression+")"))
		if err == nil && ok { // an error is a page that is just loading
			return
		}
		pause = min(2*pause, 50*time.Millisecond)
	}
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.body.innerText"))
	if err != nil {
		text = err.Error()
	}
	b.t.Fatalf("did not come true: %s; the page reads:\n%s", what, text)
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

// ticking starts a page whose watch's time moves.
func ticking(t *testing.T, o Options) (*started, *fakeWatch) {
	f := newFake()
	beat(t, f)
	o.Watch, o.Name = f, "Thimble Garth"
	return start(t, o), f
}

// cutOff lists what leaves the window sideways, beside what can be scrolled
// there, the list of pages too, and the heads of tables that a phone shows beside each figure.
const cutOff = `[...document.querySelectorAll("main *, header *, footer *")].filter((e) => {
	const r = e.getBoundingClientRect();
	return e.checkVisibility() && r.width > 0 && !e.matches(".skip, .nav *, .wide *, .figures thead, .figures thead *") && (r.left < -1 || r.right > innerWidth + 1);
}).map((e) => e.outerHTML.slice(0, 200)).join("\n")`

// overlaps lists the parts of a line that lie on another part of it.
const overlaps = `[...document.querySelectorAll(".point, .alarm, .log li")].flatMap((line) => {
	const parts = [...line.children].filter((e) => e.checkVisibility() && e.getBoundingClientRect().height && e.getBoundingClientRect().width);
	const on = (a, b) => a.right > b.left + 1 && b.right > a.left + 1 && a.bottom > b.top + 1 && b.bottom > a.top + 1;
	return parts.filter((e, i) => parts.some((f, j) => i < j && on(e.getBoundingClientRect(), f.getBoundingClientRect())));
}).map((e) => e.outerHTML.slice(0, 200)).join("\n")`

// nameless lists controls and drawings that a screen reader could not name.
const nameless = `[...document.querySelectorAll("button, input:not([type=hidden]), select, summary, a, [role=img]")].filter((e) =>
	!(e.textContent || "").trim() && !e.labels?.length && !e.getAttribute("aria-label") && !e.getAttribute("aria-labelledby")
).map((e) => e.outerHTML.slice(0, 200)).join("\n")`

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

// shotView keeps a picture of what fits into the window.
func (b *tab) shotView(name string) {
	b.t.Helper()
	dir := os.Getenv("TELLTALE_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.t.Fatal(err)
	}
}
