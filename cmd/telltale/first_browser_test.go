package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// browser is one tab of a real browser.
type browser struct {
	t   *testing.T
	ctx context.Context
}

// openBrowser starts Chromium, or skips where there is none.
// TELLTALE_REQUIRE_BROWSER=1 makes that a failure.
func openBrowser(t *testing.T, flags ...chromedp.ExecAllocatorOption) *browser {
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
		t.Skip("Chromium is not installed: setting up is not tried in a real browser")
	}
	options := []chromedp.ExecAllocatorOption{chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.Headless, chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(1024, 900),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-extensions", true)}
	options = append(options, flags...)
	bounded, stop := context.WithTimeout(context.Background(), 12*time.Minute)
	alloc, stopAlloc := chromedp.NewExecAllocator(bounded, options...)
	ctx, stopTab := chromedp.NewContext(alloc)
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Logf("closing the browser: %v", err)
		}
		stopTab()
		stopAlloc()
		stop()
	})
	return &browser{t: t, ctx: ctx}
}

func (b *browser) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	for _, one := range actions {
		err := chromedp.Do(b.ctx, one)
		// A page that goes on by itself may become another one between the look for a node
		// and the use of it; then nothing was done yet.
		for end := time.Now().Add(2 * time.Minute); err != nil && strings.Contains(err.Error(), "Could not find node") && time.Now().Before(end); {
			time.Sleep(50 * time.Millisecond)
			err = chromedp.Do(b.ctx, one)
		}
		if err != nil {
			b.t.Fatal(err)
		}
	}
}

// truth waits until an expression holds in the page.
func (b *browser) truth(what, expression string) {
	b.t.Helper()
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("document.readyState === 'complete' && !!("+expression+")"))
		if err == nil && ok { // an error is a page that is just loading
			return
		}
	}
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.body.innerText"))
	if err != nil {
		text = err.Error()
	}
	b.t.Fatalf("did not come true: %s; the page reads:\n%s", what, text)
}

// shot keeps a picture of the whole page where TELLTALE_SHOTS names a folder.
func (b *browser) shot(name string) {
	b.t.Helper()
	dir := os.Getenv("TELLTALE_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	ok(b.t, err)
	ok(b.t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}
