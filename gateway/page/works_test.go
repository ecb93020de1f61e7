package page

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
)

// sceneDrives are one drive of every state.
func sceneDrives(now time.Time) []alarms.DrivePicture {
	return []alarms.DrivePicture{
		{ID: "exhaust", Name: "exhaust fan", Kind: alarms.ExhaustFan, State: alarms.DriveRunning, Does: "runs", Since: now.Add(-20 * time.Minute),
			Call: "called", Evidenced: true, StartsToday: 7, RanToday: 130 * time.Minute, RightToday: 6, UsualDraw: "0.26 A to 0.37 A",
			Sentence: "The exhaust fan switched as it should, 6 times today, first at 29.4 °C; it has been running since 11:42."},
		{ID: "shutter", Name: "intake shutter", Kind: alarms.IntakeShutter, State: alarms.DriveStanding, Does: "is shut", Call: "called",
			Evidenced: true, Failing: true,
			Sentence: "The intake shutter did not open: it has been called since 11:42 (29.6 °C) and it is 30.1 °C now."},
		{ID: "loop", Name: "loop fan", Kind: alarms.LoopFan, State: alarms.DriveUnknown, Does: "not known", Call: "between", Evidenced: true,
			Sentence: "The loop fan last switched as it should at 16:20 on 20 June; whether it runs is not known just now."},
		{ID: "second", Name: "second exhaust fan", Kind: alarms.ExhaustFan, State: alarms.DriveUnknown, Does: "probably stands still",
			Call: "not called", Inferred: ptr(0.2),
			Sentence: "The second exhaust fan probably stands still (80 %), inferred from the temperatures inside and outside alone; no probe shows it."},
		{ID: "warmth", Name: "heater", Kind: alarms.Heater, State: alarms.DriveStanding, Does: "is off", Call: "not called", Evidenced: true,
			Sentence: "The heater has had no occasion to prove itself for 16 days; it is off. " +
				"To test it by hand: turn the dial above the present temperature until it starts, then back."},
	}
}

func sceneSelectors() []alarms.SelectorPicture {
	return []alarms.SelectorPicture{
		{ID: "mode", Name: "fan switch", At: "automatic", Positions: []string{"automatic", "loop fan alone", "off"}, Told: alarms.ToldByPerson},
		{ID: "winter", Name: "winter switch", At: "summer", Positions: []string{"summer", "winter"}, Told: alarms.ToldBySeason},
	}
}

func TestEachDriveIsSaidInWordAndShape(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	_, text := st.get("/")
	read := reading(text)
	wantAll(t, read, "What the thermostat drives", "runs", "is shut", "not known", "probably stands still",
		"The dial calls", "Ran 2 h 10 min today, in 7 starts", "Usually draws 0.26 A to 0.37 A", "Not open today", "Not run today",
		"stands at automatic , as a person said.", "stands at summer , by the season.")
	for _, d := range sceneDrives(noon) {
		wantAll(t, read, d.Sentence)
	}
	for class, n := range map[string]int{`class="turn running"`: 1, `class="turn standing"`: 3, `class="turn unknown"`: 1,
		`class="drive failing"`: 1, `class="guessed"`: 1, `action="/selector"`: 1} {
		if got := strings.Count(text, class); got != n {
			t.Errorf("%s comes %d times, want %d", class, got, n)
		}
	}
	f.change(func(p *alarms.Picture) { p.Houses[0].Drives, p.Houses[0].Selectors = nil, nil })
	_, text = st.get("/")
	wantNone(t, text, "What the thermostat drives")
}

func TestSayWhereASwitchStands(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	a, _ := st.post("/selector", "house", "long-house", "selector", "mode", "position", "off", "who", "Ada")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/?said=selector" {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	want := alarms.Input{At: noon, Kind: alarms.SetSelector, House: "long-house", Selector: "mode", Position: "off", By: "Ada"}
	if got := f.done(); len(got) != 1 || got[0] != want {
		t.Fatalf("got %+v, want %+v", got, want)
	}
	_, text := st.get("/?said=selector")
	wantAll(t, reading(text), "Telltale turns nothing", "stands at off , as a person said.")
	wantNone(t, text, `<option value="off">`)
	st.post("/selector", "house", "long-house", "selector", "mode", "position", "off") // somebody was quicker
	for what, c := range map[string]struct {
		house, selector, position string
		status                    int
		says                      string
	}{
		"no position":      {"long-house", "mode", "", http.StatusBadRequest, "Choose one of the positions"},
		"another position": {"long-house", "mode", "sideways", http.StatusBadRequest, "Choose one of the positions"},
		"by the season":    {"long-house", "winter", "winter", http.StatusBadRequest, "told by the season"},
		"another switch":   {"long-house", "gone", "off", http.StatusConflict, "That switch is not there any more"},
		"another house":    {"low-house", "mode", "off", http.StatusConflict, "That switch is not there any more"},
	} {
		a, text := st.post("/selector", "house", c.house, "selector", c.selector, "position", c.position)
		if a.StatusCode != c.status {
			t.Errorf("%s: got status %d, want %d", what, a.StatusCode, c.status)
		}
		wantAll(t, reading(text), c.says)
	}
	b, err := st.client.PostForm(st.base+"/selector", map[string][]string{"house": {"long-house"}, "selector": {"mode"}, "position": {"automatic"}})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Body.Close(); err != nil {
		t.Fatal(err)
	}
	if b.StatusCode != http.StatusForbidden {
		t.Errorf("without the token: got status %d, want 403", b.StatusCode)
	}
	if got := f.done(); len(got) != 1 {
		t.Errorf("something was done: %+v", got[1:])
	}
}

func TestTheLogOfSwitchingsIsApart(t *testing.T) {
	f := newFake()
	for i := range 70 {
		due := noon.Add(-time.Duration(i) * 11 * time.Minute)
		f.log = append(f.log, alarms.Transition{ID: fmt.Sprintf("s#%d", i), Alarm: "long-house/exhaust/switching", Move: alarms.Note, Due: due,
			Noticed: due, Reason: alarms.Reason{Rule: alarms.RuleSwitching}, Sentence: fmt.Sprintf("Switching %d of the exhaust fan.", i)})
	}
	st := start(t, Options{Watch: f})
	_, text := st.get("/log?of=switching")
	wantAll(t, text, "Switching 0 of", "Switching 49 of", `<b aria-current="page">What the drives did</b>`, `<a href="/log">Everything</a>`)
	wantNone(t, text, "Entry ", "Switching 50 of")
	from := strings.Index(text, `<a href="/log?before=`)
	if from < 0 {
		t.Fatalf("no earlier page of the switchings in\n%s", text)
	}
	next, _, _ := strings.Cut(text[from+len(`<a href="`):], `"`)
	_, text = st.get(strings.ReplaceAll(next, "&amp;", "&"))
	wantAll(t, text, "Switching 50 of", "Switching 69 of", `<a href="/log?of=switching">Newest</a>`)
	wantNone(t, text, "Entry ", "Switching 49 of", "Earlier")
	_, text = st.get("/log?of=alarms")
	wantAll(t, text, "Entry 0:")
	wantNone(t, text, "Switching ")
	_, text = st.get("/")
	wantNone(t, text, "Switching ") // the front page has the drives themselves
	if a, _ := st.get("/log?of=gossip"); a.StatusCode != http.StatusBadRequest {
		t.Errorf("another part of the log: got status %d, want 400", a.StatusCode)
	}
}

func TestBrowserTurnsASwitch(t *testing.T) {
	st, f := ticking(t, Options{})
	for _, width := range []int64{1280, 390} {
		b := openTab(t, width, 844)
		b.do(chromedp.Navigate(st.base))
		b.truth("it is live", isLive, 10*time.Second)
		works := anchor("house", "long-house") + "-works"
		f.change(func(p *alarms.Picture) {
			p.Houses[0].Drives = sceneDrives(noon)
			p.Houses[0].Drives[0].State, p.Houses[0].Drives[0].Does = alarms.DriveStanding, "stands still"
		})
		b.truth("the fan stands", `document.querySelector("#`+anchor("drive", "long-house", "exhaust")+` .turn.standing")`, 5*time.Second)
		sel := anchor("selector", "long-house", "mode")
		at := f.Picture().Houses[0].Selectors[0].At
		to := map[string]string{"automatic": "off", "off": "loop fan alone"}[at]
		b.do(chromedp.Click(chromedp.CSS("#"+sel+"-turn summary")),
			chromedp.SetValue(chromedp.ID(anchor("selector", "long-house", "mode", at)), to), chromedp.Click(chromedp.ID(sel+"-set")))
		b.truth("where it stands is shown", `document.getElementById("`+works+`").innerText.includes("stands at `+to+`")`, 5*time.Second)
		b.truth("nothing is wider than the window", `document.documentElement.scrollWidth <= innerWidth`, 2*time.Second)
		b.none("cut off", cutOff)
		b.shot(fmt.Sprintf("works-%d-light", width))
		b.do(chromedp.Navigate(st.base + "/log?of=switching"))
		b.shot(fmt.Sprintf("switchings-%d-light", width))
		b.noComplaints()
	}
	if got := f.done(); len(got) != 2 || got[0].Position != "off" || got[1].Position != "loop fan alone" {
		t.Errorf("got %+v", got)
	}
}
