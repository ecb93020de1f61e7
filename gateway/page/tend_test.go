package page

import (
	"errors"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

func TestSetTheSeason(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	_, text := st.get("/")
	wantAll(t, reading(text), "Season: open", "changing over: vents being covered or uncovered", "winter: vents covered, loop fan alone")
	wantNone(t, text, `<option value="open">`) // it is open

	a, _ := st.post("/season", "house", "low-house", "season", "winter", "who", "Ada")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/?said=season" {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	want := alarms.Input{At: noon, Kind: alarms.SetSeason, House: "low-house", Season: alarms.SeasonWinter, By: "Ada"}
	if got := f.done(); len(got) != 1 || got[0] != want {
		t.Fatalf("got %+v, want %+v", got, want)
	}
	_, text = st.get("/?said=season")
	wantAll(t, reading(text), "The season is set.", "Season: winter")
	wantAll(t, text, `<option value="open">`)

	if a, _ := st.post("/season", "house", "low-house", "season", "winter"); a.StatusCode != http.StatusSeeOther {
		t.Errorf("the same again: got status %d", a.StatusCode)
	}
	for what, c := range map[string]struct {
		house, season string
		status        int
		says          string
	}{
		"no season":      {"low-house", "", http.StatusBadRequest, "Choose a season"},
		"another season": {"low-house", "monsoon", http.StatusBadRequest, "Choose a season"},
		"another house":  {"glass-house", "open", http.StatusConflict, "That house is not there any more"},
	} {
		a, text := st.post("/season", "house", c.house, "season", c.season)
		if a.StatusCode != c.status {
			t.Errorf("%s: got status %d, want %d", what, a.StatusCode, c.status)
		}
		wantAll(t, reading(text), c.says)
	}
	if got := f.done(); len(got) != 1 {
		t.Errorf("something was done: %+v", got[1:])
	}
}

func TestTakeAProbeOutAndPutItBack(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	a, _ := st.post("/probes/out", "probe", "bed-1", "reason", "  new\tbattery on order ", "who", "Ada")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/?said=probe-out" {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	out := alarms.Input{At: noon, Kind: alarms.TakeOut, Probe: "bed-1", By: "Ada", Note: "new battery on order"}
	if got := f.done(); len(got) != 1 || got[0] != out {
		t.Fatalf("got %+v, want %+v", got, out)
	}
	st.post("/probes/out", "probe", "bed-1") // somebody was quicker
	a, text := st.post("/probes/out", "probe", "ridge-1")
	if a.StatusCode != http.StatusBadRequest || len(f.done()) != 1 {
		t.Errorf("without a reason: got status %d, %+v", a.StatusCode, f.done())
	}
	wantAll(t, reading(text), "Give the reason in a few words")
	_, text = st.get("/probes/bed-1?said=probe-out")
	wantAll(t, reading(text), "The probe is out of service: its readings are not used", "It is out of service Put it back into service")
	wantNone(t, text, `action="/probes/out"`)

	a, _ = st.post("/probes/back", "probe", "bed-1")
	back := alarms.Input{At: noon, Kind: alarms.PutBack, Probe: "bed-1", By: "Ada"}
	if got := f.done(); len(got) != 2 || got[1] != back || a.Header.Get("Location") != "/?said=probe-back" {
		t.Fatalf("got %+v to %q, want %+v", got, a.Header.Get("Location"), back)
	}
	for _, path := range []string{"/probes/out", "/probes/back"} {
		a, text := st.post(path, "probe", "gone-1")
		if a.StatusCode != http.StatusConflict {
			t.Errorf("%s of a probe that is gone: got status %d, want 409", path, a.StatusCode)
		}
		wantAll(t, reading(text), "That probe is not there any more, so nothing was done.")
	}
	f.doErr = errors.New("journal: no space left on /var/secret")
	if a, text := st.post("/probes/out", "probe", "bed-1", "reason", "x"); a.StatusCode != http.StatusInternalServerError || strings.Contains(text, "secret") {
		t.Errorf("got status %d and\n%s", a.StatusCode, text)
	}
}

func TestBrowserTends(t *testing.T) {
	t.Parallel()
	st, f := ticking(t, Options{})
	b := openTab(t, 1280, 900)
	b.do(chromedp.Navigate(st.base))
	b.truth("it is live", isLive)

	house := words.Anchor("house", "long-house")
	b.do(chromedp.Click(chromedp.CSS("#"+house+"-seasons summary")),
		chromedp.SetValue(chromedp.ID(house+"-seasons-open"), "winter"), chromedp.Click(chromedp.ID(house+"-seasons-set")))
	b.truth("the season is shown", `document.getElementById("`+house+`").innerText.includes("Season: winter")`)
	b.truth("it can be put back, and is not offered twice",
		`[...document.querySelectorAll("#`+house+`-seasons option")].map(o => o.value).join() === "open,changing"`)

	b.do(chromedp.Navigate(st.base+"/probes/bench-1"), chromedp.SendKeys(chromedp.ID("why"), "new battery on order"), chromedp.Click(chromedp.ID("out")))
	b.truth("the probe is out of service", `document.getElementById("said").innerText.startsWith("The probe is out of service") && document.getElementById("back")`)
	b.shot("tended-1280-light")
	b.do(chromedp.Click(chromedp.ID("back")))
	b.truth("it is back", `document.getElementById("out")`)
	if got := f.done(); len(got) != 3 || got[0].Season != alarms.SeasonWinter || got[1].Note != "new battery on order" ||
		got[1].Kind != alarms.TakeOut || got[2].Kind != alarms.PutBack {
		t.Errorf("got %+v", got)
	}
	b.noComplaints()
}

func TestWhatASeasonTakesOutIsListed(t *testing.T) {
	f := newFake()
	f.change(func(p *alarms.Picture) {
		p.Houses[0].InSeason = []string{"The exhaust fan must not run in this season; if it does, that is told."}
	})
	_, text := start(t, Options{Watch: f}).get("/")
	wantAll(t, reading(text), "In this season:", "The exhaust fan must not run in this season; if it does, that is told.")
}
