package page

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

// sceneDrives are one drive of every state.
func sceneDrives(now time.Time) []alarms.DrivePicture {
	return []alarms.DrivePicture{
		{ID: "exhaust", Name: "exhaust fan", Kind: alarms.ExhaustFan, State: alarms.DriveRunning, Does: "runs", Since: now.Add(-20 * time.Minute),
			Call: "called", Evidenced: true, StartsToday: 7, RanToday: 130 * time.Minute, RightToday: 6, UsualDraw: "0.26 A to 0.37 A",
			Sentence: "The exhaust fan switched as it should, 6 times today, first at 29.4 °C; it has been running since 11:42."},
		{ID: "shutter", Name: "intake shutter", Kind: alarms.IntakeShutter, State: alarms.DriveStanding, Does: "is shut", Call: "called",
			Evidenced: true, Failing: true,
			Sentence: "The intake shutter did not open: the thermostat should have opened it at 11:42 (29.6 °C), and it is 30.1 °C now."},
		{ID: "loop", Name: "loop fan", Kind: alarms.LoopFan, State: alarms.DriveUnknown, Does: "not known", Call: "between", Evidenced: true,
			Sentence: "The loop fan last switched as it should at 16:20 on 20 June; whether it runs is not known just now."},
		{ID: "second", Name: "second exhaust fan", Kind: alarms.ExhaustFan, State: alarms.DriveUnknown, Does: "probably stands still",
			Call: "not called", Inferred: ptr(0.2), Guess: alarms.DriveStanding,
			Sentence: "The second exhaust fan probably stands still (80 %), inferred from the temperatures inside and outside alone; no probe shows it."},
		{ID: "light", Name: "grow light", Kind: alarms.GrowLight, State: alarms.DriveStanding, Does: "is off", Call: "called", Timed: true, Evidenced: true,
			Sentence: "The grow light is to be on by its timer, 05:30 to 09:00; its timer should have it on, and it has not come on yet."},
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

// sceneOpenings are a door, a window and a lid, one in every state.
func sceneOpenings(now time.Time) []alarms.OpeningPicture {
	return []alarms.OpeningPicture{
		{ID: "door", Name: "door", Kind: alarms.KindDoor, State: alarms.StateOpen, Since: now.Add(-2 * time.Hour), Harms: true, Sentence: "The door has been open since 10:00."},
		{ID: "roof-window", Name: "roof window", Kind: alarms.KindWindow, State: alarms.StateShut, Since: now.Add(-3 * time.Hour), Sentence: "The roof window has been shut since 09:00."},
		{ID: "lid", Name: "lid", Kind: alarms.KindLid, State: alarms.StateUnknown, Since: now.Add(-4 * time.Hour),
			Sentence: "Whether the lid is open is not known: its contact was last heard at 08:00, and it was open then."},
	}
}

func TestEachDoorIsSaidInWordAndShape(t *testing.T) {
	f := newFake()
	f.change(func(p *alarms.Picture) { p.Houses[0].Drives, p.Houses[0].Selectors = nil, nil })
	st := start(t, Options{Watch: f})
	_, text := st.get("/")
	wantAll(t, reading(text), "Doors, windows, lids", "The door has been open since 10:00.", "The roof window has been shut since 09:00.",
		"Whether the lid is open is not known")
	wantNone(t, text, "What the thermostat drives<", "What the drives did")
	for _, class := range []string{`class="turn running"`, `class="turn standing"`, `class="turn unknown"`, `class="drive failing"`} {
		if got := strings.Count(text, class); got != 1 {
			t.Errorf("%s comes %d times, want once", class, got)
		}
	}
}

func TestEachDriveIsSaidInWordAndShape(t *testing.T) {
	f := newFake()
	f.change(func(p *alarms.Picture) { p.Houses[0].Openings = nil })
	st := start(t, Options{Watch: f})
	_, text := st.get("/")
	read := reading(text)
	wantAll(t, read, "What the thermostat drives", "runs", "is shut", "not known", "probably stands still",
		"The thermostat asks for it", "Its timer should have it on", "Ran 2 h 10 min today, in 7 starts", "Usually draws 0.26 A to 0.37 A", "Not open today", "Not run today",
		"stands at automatic , as a person said.", "stands at summer , by the season.")
	for _, d := range sceneDrives(noon) {
		wantAll(t, read, d.Sentence)
	}
	for class, n := range map[string]int{`class="turn running"`: 1, `class="turn standing"`: 4, `class="turn unknown"`: 1,
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
	t.Parallel()
	st, f := ticking(t, Options{})
	for _, width := range []int64{1280, 390} {
		b := openTab(t, width, 844)
		b.do(chromedp.Navigate(st.base))
		b.truth("it is live", isLive)
		works := words.Anchor("house", "long-house") + "-works"
		f.change(func(p *alarms.Picture) {
			p.Houses[0].Drives = sceneDrives(noon)
			p.Houses[0].Drives[0].State, p.Houses[0].Drives[0].Does = alarms.DriveStanding, "stands still"
		})
		b.truth("the fan stands", `document.querySelector("#`+words.Anchor("drive", "long-house", "exhaust")+` .turn.standing")`)
		sel := words.Anchor("selector", "long-house", "mode")
		at := f.Picture().Houses[0].Selectors[0].At
		to := map[string]string{"automatic": "off", "off": "loop fan alone"}[at]
		b.do(chromedp.Click(chromedp.CSS("#"+sel+"-turn summary")),
			chromedp.SetValue(chromedp.ID(words.Anchor("selector", "long-house", "mode", at)), to), chromedp.Click(chromedp.ID(sel+"-set")))
		b.truth("where it stands is shown", `document.getElementById("`+works+`").innerText.includes("stands at `+to+`")`)
		b.truth("nothing is wider than the window", `document.documentElement.scrollWidth <= innerWidth`)
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

func TestSomebodyTriesSomethingOnADrive(t *testing.T) {
	f := newFake()
	f.change(func(p *alarms.Picture) {
		d := p.Houses[0].Drives
		d[0].Trial, d[1].Trial = "long-house/exhaust/switching", "long-house/shutter/switching"
		d[1].TrialBy, d[1].TrialUntil = "Bram", noon.Add(2*time.Hour)
	})
	st := start(t, Options{Watch: f})
	_, text := st.get("/")
	wantAll(t, reading(text), "I am trying something", "Bram is trying something on it until")
	for class, n := range map[string]int{`action="/drive/try"`: 1, `value="long-house/shutter/switching"`: 1} {
		if got := strings.Count(text, class); got != n {
			t.Errorf("%s comes %d times, want %d", class, got, n)
		}
	}
	house := f.Picture().Houses[0]
	drive := string(house.Drives[0].ID)
	if a, _ := st.post("/drive/try", "house", "long-house", "drive", drive, "for", "2h", "who", "Ada"); a.StatusCode != http.StatusSeeOther {
		t.Fatalf("got status %d", a.StatusCode)
	}
	want := alarms.Input{At: noon, Kind: alarms.Shelve, Alarm: "long-house/exhaust/switching", Until: noon.Add(2 * time.Hour), By: "Ada"}
	if got := f.done(); len(got) != 1 || got[0] != want {
		t.Fatalf("got %+v, want %+v", got, want)
	}
	for _, wrong := range [][2]string{{drive, "25h"}, {drive, ""}, {"nothing", "2h"}} {
		if a, _ := st.post("/drive/try", "house", "long-house", "drive", wrong[0], "for", wrong[1]); a.StatusCode < 400 || len(f.done()) != 1 {
			t.Errorf("drive %q for %q: got status %d", wrong[0], wrong[1], a.StatusCode)
		}
	}
}
