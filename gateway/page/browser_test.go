package page

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

const isLive = `document.body.matches(".live:not(.past)")`

func TestBrowserFollowsAndActs(t *testing.T) {
	t.Parallel()
	st, f := ticking(t, Options{})
	b := openTab(t, 1280, 900)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive)

	f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Points[0].Value = 26.7 })
	b.truth("a new value comes by itself", `document.getElementById("point_long-house_bench_temperature").innerText.includes("26.7")`)
	b.truth("it shows ages while it is live", `document.getElementById("point_long-house_bench_temperature").innerText.includes(" ago")`)

	// Open "Shelve…" of the second alarm and type; news must not take it away.
	more := `document.getElementById("alarm_xID-more")`
	silent := words.Anchor("alarm", "low-house/bed/bed-1/silent")
	more = strings.Replace(more, "alarm_xID", silent, 1)
	b.do(chromedp.Click(chromedp.CSS("#"+silent+"-rest > summary")), chromedp.Click(chromedp.CSS("#"+silent+"-more summary")),
		chromedp.SendKeys(chromedp.ID(silent+"-why"), "new battery on order"))
	f.change(func(p *alarms.Picture) { p.Alarms[1].Sentence = "Probe bed 1 is still silent." })
	b.truth("the alarm's sentence is renewed", `document.getElementById("alarms").innerText.includes("is still silent")`)
	b.truth("what was typed is kept", more+`.open && document.getElementById("`+silent+`-why").value === "new battery on order"
		&& document.activeElement.id === "`+silent+`-why"`)

	// Shelve with the keyboard alone: Enter in the reason field.
	b.do(chromedp.SetValue(chromedp.ID("who"), "Ada"), chromedp.SendKeys(chromedp.ID(silent+"-why"), "\r"))
	b.truth("it is put aside", `document.querySelector("#aside #`+silent+`-back")`)
	got := f.done()
	if len(got) != 1 || got[0].Kind != alarms.Shelve || got[0].Note != "new battery on order" || got[0].By != "Ada" {
		t.Fatalf("shelve: got %+v", got)
	}
	b.do(chromedp.Click(chromedp.ID(silent + "-back")))
	b.truth("it is back", `!document.getElementById("`+silent+`-back")`)

	// Acknowledge one by click, one by keyboard.
	hot, humid := words.Anchor("alarm", ridge), words.Anchor("alarm", "long-house/bench/humidity/high")
	b.do(chromedp.Click(chromedp.ID(hot + "-take")))
	b.truth("it is acknowledged", `document.getElementById("`+hot+`").innerText.includes("Acknowledged. It is still so.")`)
	b.truth("it says so", `document.getElementById("said").innerText === "Acknowledged."`)
	b.do(chromedp.Focus(chromedp.ID(humid+"-take")), chromedp.KeyEvent("\r"))
	b.truth("by keyboard too", `document.getElementById("`+humid+`").innerText.includes("Acknowledged. It is still so.")`)
	b.truth("the keyboard is not lost", `document.activeElement.tagName === "H2"`)
	b.truth("the title counts", `document.title.startsWith("(1) Thimble Garth")`)
	b.noComplaints()
}

func TestBrowserSaysThatItShowsThePast(t *testing.T) {
	t.Parallel()
	st, _ := ticking(t, Options{})
	b := openTab(t, 1280, 900)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive)
	b.noComplaints()
	st.stop()
	<-st.ended
	b.truth("a stop is said", `!document.getElementById("past").hidden
		&& document.getElementById("past").innerText.includes("The watch was stopped. This page shows the past, as it was at")`)
	b.truth("ages give way to clock times", `document.getElementById("point_long-house_bench_temperature").innerText.includes("last known 12:01:50")
		&& !document.getElementById("point_long-house_bench_temperature").innerText.includes(" ago")`)
	b.shot("past-1280-light")
}

// A connection that goes quiet without an end, as when a phone leaves the
// house, is said within ten seconds as well.
func TestBrowserNoticesSilence(t *testing.T) {
	t.Parallel()
	f := newFake()
	st := start(t, Options{Watch: f}, func(s *Server) { s.hub.beat = time.Hour })
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive)
	b.truth("silence is said", `!document.getElementById("past").hidden
		&& document.getElementById("past").innerText.includes("Nothing has come from the watch since 12:02:10")`)
	f.change(func(p *alarms.Picture) { p.Sentence = "All is well again." })
	b.truth("news end it", isLive+` && document.getElementById("past").hidden
		&& document.querySelector("h1").innerText === "All is well again."`)
	b.noComplaints()
}

// In a network without TLS browsers send no Sec-Fetch-Site, and a name stands
// for the address: signing in and acting must work there too.
func TestBrowserSignsInOverPlainNames(t *testing.T) {
	t.Parallel()
	st, f := ticking(t, Options{Password: password, Hosts: []string{"garden.example.org"}})
	b := openTab(t, 360, 780)
	base := strings.Replace(st.base, "127.0.0.1", "garden.example.org", 1)
	b.do(chromedp.Navigate(base), chromedp.WaitVisible(chromedp.ID("password")))
	b.shot("sign-in-360-light")
	b.do(chromedp.SendKeys(chromedp.ID("password"), password+"\r"))
	b.truth("it is live after signing in", isLive)
	b.do(chromedp.Click(chromedp.ID(words.Anchor("alarm", ridge) + "-take")))
	b.truth("it is acknowledged", `document.getElementById("`+words.Anchor("alarm", ridge)+`").innerText.includes("It is still so.")`)
	if len(f.done()) != 1 {
		t.Errorf("got %+v", f.done())
	}

	// A link in somebody's mail leads to the page, not to the sign-in form.
	mail := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprintf(w, `<link rel="icon" href="data:,"><a id="go" href="%s/">The ridge is too hot</a>`, base)
	}))
	defer mail.Close()
	b.do(chromedp.Navigate(strings.Replace(mail.URL, "127.0.0.1", "mail.example.net", 1)), chromedp.Click(chromedp.ID("go")))
	b.truth("a link from elsewhere finds us signed in", isLive)
	b.noComplaints()
}

// Where the script does not arrive the page is whole, and its forms post.
func TestBrowserWithoutTheScript(t *testing.T) {
	t.Parallel()
	st, f := ticking(t, Options{})
	st.server.views.files["page.js"] = []byte("// nothing")
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(st.base),
		chromedp.Click(chromedp.ID(words.Anchor("alarm", ridge)+"-take")))
	b.truth("it says what was done", `document.getElementById("said").innerText === "Acknowledged."`)
	if got := f.done(); len(got) != 1 || got[0].Alarm != ridge {
		t.Errorf("got %+v", got)
	}
	b.shot("noscript-360-light")
	b.noComplaints()
}
