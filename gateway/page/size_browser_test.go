package page

import (
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"telltale/alarms/tongue"
)

const (
	mostTransferred = 60_000 // bytes of a first view, the first news included
	mostBefore      = 3      // requests that anything to be seen waits for: the page, its style
)

// phone is a slow network: down and up in bit/s, and the round trip in ms.
// "Fast" and "slow 3G" as browsers' own tools have them, from memory.
type phone struct {
	name     string
	down, up float64
	latency  float64
}

var phones = []phone{{"fast 3G", 1.6e6, 750e3, 150}, {"slow 3G", 400e3, 400e3, 400}}

// traffic adds up what a tab fetches.
type traffic struct {
	mu       sync.Mutex
	asked    []string
	received float64
	live     network.RequestID
	finished map[network.RequestID]float64
}

func (tr *traffic) listen(ev any) {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		tr.asked = append(tr.asked, e.Request.URL)
		if strings.Contains(e.Request.URL, "/live?has=") {
			tr.live = e.RequestID
		}
	case *network.EventDataReceived:
		if e.RequestID == tr.live { // it never finishes
			tr.received += float64(max(e.DataLength, e.EncodedDataLength))
		}
	case *network.EventLoadingFinished:
		tr.finished[e.RequestID] = e.EncodedDataLength
	}
}

func (tr *traffic) sum() (bytes float64, asked []string) {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	bytes = tr.received
	for _, n := range tr.finished {
		bytes += n
	}
	return bytes, append([]string(nil), tr.asked...)
}

// A first view, with nothing kept by the browser, is light, and little has to
// be asked for before anything is seen. How long it took over a slow network is
// told, not held against anything: machines differ.
func TestBrowserFirstViewIsLight(t *testing.T) {
	t.Parallel()
	for _, p := range phones {
		for _, in := range tongue.Tongues() {
			for _, path := range []string{"/", "/back?house=long-house&zoom=year"} {
				f := newFake()
				beatBy(t, f, func() time.Time { return noon }) // or the news would be of whatever turns a minute old just then
				st := start(t, Options{Watch: f, Name: "Thimble Garth"})
				b := openTab(t, 360, 780)
				b.reads(in.Code())
				tr := &traffic{finished: map[network.RequestID]float64{}}
				if err := chromedp.Listen(b.ctx, tr.listen); err != nil {
					t.Fatal(err)
				}
				if _, err := chromedp.Call(b.ctx, network.Enable, network.EnableParams{}); err != nil {
					t.Fatal(err)
				}
				_, err := chromedp.Call(b.ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
					MatchedNetworkConditions: []*network.Conditions{{Latency: p.latency, DownloadThroughput: p.down / 8, UploadThroughput: p.up / 8}}})
				if err != nil {
					t.Fatal(err)
				}
				b.do(chromedp.Navigate(st.base + path))
				b.truth("something is seen", `performance.getEntriesByName("first-contentful-paint").length`)
				if path == "/" {
					b.truth("it follows", isLive)
				}
				b.firstView(tr, in.Name()+", "+p.name+" "+path)
			}
		}
	}
}

// firstView holds what was fetched against what may be.
func (b *tab) firstView(tr *traffic, what string) {
	b.t.Helper()
	times, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]float64](`[performance.getEntriesByName("first-contentful-paint")[0].startTime,
		performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd,
		1 + performance.getEntriesByType("resource").filter((e) => e.renderBlockingStatus === "blocking").length]`))
	if err != nil {
		b.t.Fatal(err)
	}
	bytes, asked := tr.sum()
	b.t.Logf("%s: %.0f kB over %d requests; first seen after %.0f ms, ready after %.0f ms", what, bytes/1000, len(asked), times[0], times[1])
	if bytes > mostTransferred || bytes < 5000 {
		b.t.Errorf("%s: %.0f bytes were transferred, want at most %d: %q", what, bytes, mostTransferred, asked)
	}
	if int(times[2]) > mostBefore {
		b.t.Errorf("%s: what is seen waits for %d requests, want at most %d: %q", what, int(times[2]), mostBefore, asked)
	}
}
