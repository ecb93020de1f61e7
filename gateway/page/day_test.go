package page

import (
	"fmt"
	"math"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// startDay serves the scene with a past.
func startDay(t *testing.T, tune ...func(*Server)) *started {
	t.Helper()
	f := newFake()
	return start(t, Options{Watch: f, Course: newFakeCourse(f), Name: "Thimble Garth"}, tune...)
}

// Days on the calendar are cut at midnight there, also those of 23 and 25 hours
// (see berlin).
func TestCutsAreMidnights(t *testing.T) {
	w := berlin(t)
	for _, z := range zooms[3:] {
		s, cuts := w.stretch(z, time.Date(2026, 11, 3, 9, 0, 0, 0, w.zone), time.Date(2024, 2, 20, 15, 0, 0, 0, time.UTC))
		for i, c := range cuts {
			if h, m, _ := c.In(w.zone).Clock(); h != 0 || m != 0 {
				t.Fatalf("%s: cut %d is at %s", z.Key, i, c)
			}
			if i > 0 && !c.After(cuts[i-1]) {
				t.Fatalf("%s: cut %d is not after the one before", z.Key, i)
			}
		}
		if !s.From.Equal(cuts[0]) || !s.To.Equal(cuts[len(cuts)-1]) {
			t.Errorf("%s: got %v, the cuts are %s to %s", z.Key, s, cuts[0], cuts[len(cuts)-1])
		}
		switch z.Key {
		case "month":
			if len(cuts) != 33 || cuts[23].Sub(cuts[22]) != 25*time.Hour {
				t.Errorf("month: got %d cuts, the day of 25 October %s long", len(cuts), cuts[23].Sub(cuts[22]))
			}
		case "all":
			if cuts[0].Weekday() != time.Monday || cuts[1].Sub(cuts[0]) != 7*24*time.Hour {
				t.Errorf("all: begins on a %s in steps of %s, want weeks from Monday", cuts[0].Weekday(), cuts[1].Sub(cuts[0]))
			}
		}
	}
}

// Every length ends where it was asked to, and the links lead on from there.
func TestEveryLengthLeadsOn(t *testing.T) {
	st := startDay(t)
	for _, z := range zooms {
		for _, until := range []string{"", "2026-05-04T08:00Z"} {
			path := "/back?house=long-house&zoom=" + z.Key + "&until=" + url.QueryEscape(until)
			a, text := st.get(path)
			if a.StatusCode != 200 {
				t.Fatalf("%s: got status %d", path, a.StatusCode)
			}
			wantAll(t, text, `data-zoom="`+z.Key+`"`, "Bench, temperature, °C", "Bench, humidity", "Exhaust fan", `class="band"`)
			for _, other := range zooms {
				if other.Key != z.Key {
					wantAll(t, text, "zoom="+other.Key)
				}
			}
			live := strings.Contains(text, `data-until="0"`)
			if want := until == "" || z.Key == "all"; live != want {
				t.Errorf("%s: live is %v, want %v", path, live, want)
			}
			if later := strings.Contains(text, `data-step="later"`); later == live {
				t.Errorf("%s: it leads to later: %v, and ends now: %v", path, later, live)
			}
			if earlier := strings.Contains(text, `data-step="earlier"`); earlier != (z.Key != "all") {
				t.Errorf("%s: it leads to earlier: %v", path, earlier)
			}
			if table := strings.Contains(text, "<table>"); table != z.inCells() {
				t.Errorf("%s: a table of days: %v, want %v", path, table, z.inCells())
			}
			if night := strings.Contains(text, `class="night" d="M`); night == z.inCells() {
				t.Errorf("%s: nights are shaded: %v", path, night)
			}
			wantNone(t, text, "NaN", "Inf,", "Infinity", "<script>", " style=")
		}
	}
}

// One length earlier and then one later is the same strip.
func TestEarlierAndLaterAgree(t *testing.T) {
	st := startDay(t)
	step := func(path, step string) string {
		t.Helper()
		_, text := st.get(path)
		m := regexp.MustCompile(`href="([^"]+)" data-step="` + step + `"`).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("%s has no link %s", path, step)
		}
		return strings.ReplaceAll(m[1], "&amp;", "&")
	}
	begin := "/back?house=long-house&place=bench&place=ridge&until=2026-05-04T08%3A00Z&zoom=week"
	back := step(begin, "earlier")
	wantAll(t, back, "until=2026-04-27T08%3A00Z", "place=bench", "place=ridge")
	if got := step(back, "later"); got != begin {
		t.Errorf("got %s, want %s", got, begin)
	}
	if got := step(begin, "now"); strings.Contains(got, "until") {
		t.Errorf("up to now: got %s", got)
	}
}

// What an address cannot mean is shown as if it were not there.
func TestAddressesThatMeanNothing(t *testing.T) {
	st := startDay(t)
	_, plain := st.get("/back?house=long-house")
	want := regexp.MustCompile(`data-from="\d+" data-to="\d+"`).FindString(plain)
	for _, q := range []string{"zoom=eon", "until=yesterday", "until=2999-01-01T00:00Z", "until=0001-01-01T00:00Z", "place=attic", "until=%00"} {
		a, text := st.get("/back?house=long-house&" + q)
		if a.StatusCode != 200 || !strings.Contains(text, want) {
			t.Errorf("%s: got status %d, want the day up to now, %s", q, a.StatusCode, want)
		}
	}
	if a, _ := st.get("/back?house=elsewhere"); a.StatusCode != 404 {
		t.Errorf("no such house: got status %d, want 404", a.StatusCode)
	}
	a, _ := st.get("/charts?house=low-house")
	if a.StatusCode != 308 || a.Header.Get("Location") != "/back?house=low-house" {
		t.Errorf("the address of before: got %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
}

func TestBackSaysAllInWords(t *testing.T) {
	st := startDay(t)
	_, text := st.get("/back?house=long-house&place=bench&place=shutter")
	wantAll(t, reading(text), "Exhaust fan ran", "started", "Intake shutter was open", "opened", "Loop fan ran", "Inferred from temperatures alone.",
		"Not known from 03:02 to 06:02", "High priority. Far too hot in Long House, ridge", "Acknowledged. Ada acknowledged",
		"It lasted 30 min.", "band in force", "night", "ran, as the temperatures suggest",
		"A part of the history cannot be read just now.") // the shutter's disk is on fire
	wantNone(t, text, "too warm for two hours") // twelve days ago
	_, text = st.get("/back?house=long-house&zoom=month&until=" + "2026-06-20T12:00Z")
	wantAll(t, reading(text), "too warm for two hours", "It lasted 2 h.", "Lowest", "on ", "lowest highest")
	_, part := st.get("/back?house=low-house&part=front")
	wantAll(t, part, "Propagation bed, temperature, °C", "Look back, larger and longer")
	wantNone(t, part, "<html", "<body")
	_, front := st.get("/")
	wantAll(t, front, `data-again="/back?part=front&amp;house=long-house"`, "The last day: Bench")
}

func TestWithoutAPastThereIsNoLookBack(t *testing.T) {
	st := start(t, Options{Watch: newFake()}, func(s *Server) { s.options.Course = nil })
	if a, _ := st.get("/back"); a.StatusCode != 404 {
		t.Errorf("got status %d, want 404", a.StatusCode)
	}
	_, text := st.get("/")
	wantNone(t, text, `href="/back`, "The last day")
}

// Bands are steps: each is drawn from where it began to where it ended, and a
// day's is the widest of its time.
func TestBandsAreSteps(t *testing.T) {
	w := newWords(alarms.Words{})
	whole := Stretch{noon.Add(-10 * time.Hour), noon}
	ask := panelAsk{place: "Bench", quantity: alarms.Temperature, whole: whole, tall: 100, bands: []alarms.BandStep{
		{From: whole.From, To: noon.Add(-6 * time.Hour), Limits: alarms.Limits{Low: alarms.At(10), High: alarms.At(20)}},
		{From: noon.Add(-6 * time.Hour), To: noon.Add(-5 * time.Hour), Limits: alarms.Limits{High: alarms.At(30)}},
		{From: noon.Add(-5 * time.Hour), To: noon.Add(-4 * time.Hour)},
		{From: noon.Add(-4 * time.Hour), To: noon, Limits: alarms.Limits{Low: alarms.At(10)}},
	}}
	c := w.panelOf(ask, nil)
	// 10 to 30 in steps of 10: 10 is at the bottom, 118, 30 at the top, 18.
	if want := "M0,68H400V118H0zM400,18H500V118H400zM600,18H1000V118H600z"; c.Band != want {
		t.Errorf("band: got %s, want %s", c.Band, want)
	}
	if want := "M0,118V118H400M600,118V118H1000M0,68V68H400V18H500"; c.Edge != want {
		t.Errorf("edges: got %s, want %s", c.Edge, want)
	}
	got := widest(ask.bands, []time.Time{whole.From, noon.Add(-6 * time.Hour), noon.Add(-5 * time.Hour), noon})
	want := []alarms.BandStep{
		{From: whole.From, To: noon.Add(-6 * time.Hour), Limits: alarms.Limits{Low: alarms.At(10), High: alarms.At(20)}},
		{From: noon.Add(-6 * time.Hour), To: noon.Add(-5 * time.Hour), Limits: alarms.Limits{High: alarms.At(30)}},
		{From: noon.Add(-5 * time.Hour), To: noon},
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("widest: got %v, want %v", got, want)
	}
}

func TestDrivesAreBarsAndGaps(t *testing.T) {
	w := newWords(alarms.Words{})
	whole := Stretch{noon.Add(-10 * time.Hour), noon}
	ago := func(h float64) time.Time { return noon.Add(-time.Duration(h * float64(time.Hour))) }
	r := w.driveRow(DriveRuns{DriveName: DriveName{Name: "fan"},
		Runs: []Ran{{Stretch: Stretch{ago(11), ago(9)}}, {Stretch: Stretch{ago(5), ago(4)}, FromUnseen: true},
			{Stretch: Stretch{ago(2), ago(1)}, Inferred: true}},
		Unknown: []Stretch{{ago(7), ago(5)}, {ago(0.5), noon}}}, whole, noon, 0)
	if want := "M0,15H100V26H0zM500,15H600V26H500z"; r.Running != want {
		t.Errorf("ran: got %s, want %s", r.Running, want)
	}
	if want := "M800,15H900V26H800z"; r.Inferred != want {
		t.Errorf("inferred: got %s, want %s", r.Inferred, want)
	}
	if want := "M0,20.5H300M500,20.5H950"; r.Standing != want {
		t.Errorf("what is known: got %s, want %s, with gaps where it is not", r.Standing, want)
	}
	if want := "M500,13v15"; r.Ragged != want {
		t.Errorf("unseen ends: got %s, want %s", r.Ragged, want)
	}
	if want := "Fan ran 3 h in all, started once. Inferred from temperatures alone. Not known from 05:02 to 07:02. Not known from 11:32 to 12:02."; r.Text != want {
		t.Errorf("got %q, want %q", r.Text, want)
	}
	cuts := []time.Time{ago(10), ago(8), ago(6), ago(4), ago(0)}
	c := w.cellRow(DriveCells{DriveName: DriveName{Name: "fan"}, Cells: []RanInCell{{Known: true, Ran: time.Hour, Starts: 2}, {}, {Known: true},
		{Known: true, Ran: 4 * time.Hour, Inferred: 4 * time.Hour, Starts: 1}}}, cuts, whole, 0)
	if want := "M0,24H200V33H0z"; c.Running != want {
		t.Errorf("cells ran: got %s, want half a bar %s", c.Running, want)
	}
	if want := "M600,15H1000V33H600z"; c.Inferred != want {
		t.Errorf("cells inferred: got %s, want a full bar %s", c.Inferred, want)
	}
	if want := "M0,33H200M400,33H600M600,33H1000"; c.Standing != want {
		t.Errorf("cells known: got %s, want %s", c.Standing, want)
	}
}

// An alarm lasts from its coming to its going; what was on before the first
// line that was read is said so, and what does not end goes on until now.
func TestAlarmsAreSpans(t *testing.T) {
	line := func(id alarms.AlarmID, m alarms.Move, from, to alarms.State, p alarms.Priority, hoursAgo int) alarms.Transition {
		return alarms.Transition{Alarm: id, Move: m, From: from, To: to, Priority: p, Due: noon.Add(-time.Duration(hoursAgo) * time.Hour),
			Sentence: string(id) + " " + m.String()}
	}
	n, u, k := alarms.Normal, alarms.Unacknowledged, alarms.Acknowledged
	spans, acks := alarmSpans([]alarms.Transition{
		line("other", alarms.Note, n, n, alarms.Low, 40),
		line("long", alarms.Return, k, n, alarms.Low, 20),
		line("gone", alarms.Raise, n, u, alarms.Low, 19), line("gone", alarms.Return, u, n, alarms.Low, 18),
		line("worse", alarms.Raise, n, u, alarms.Medium, 9), line("worse", alarms.Worsen, u, u, alarms.High, 8),
		line("said", alarms.Suppress, n, alarms.SuppressedByDesign, alarms.High, 8),
		line("worse", alarms.Ack, u, k, alarms.High, 7), line("worse", alarms.ShelveOn, k, alarms.Shelved, alarms.High, 6),
		line("on", alarms.Raise, n, u, alarms.Low, 2),
	}, Stretch{noon.Add(-22 * time.Hour), noon.Add(time.Hour)}, noon)
	var got []string
	for _, s := range spans {
		got = append(got, fmt.Sprintf("%s %s %s-%s %v", s.begun.Sentence, s.priority, s.From.Format("15:04"), s.To.Format("15:04"), s.fromUnseen))
	}
	want := "long return low 20:02-16:02 true; gone raise low 17:02-18:02 false; worse raise high 03:02-06:02 false; on raise low 10:02-12:02 false"
	if s := strings.Join(got, "; "); s != want {
		t.Errorf("got  %s\nwant %s", s, want)
	}
	if len(acks) != 1 || acks[0].Sentence != "worse acknowledge" {
		t.Errorf("acknowledgements: got %v", acks)
	}
}

// The last half hour of a day and the last week of a year have their marks
// where they belong, and not all at one place short of the end.
func TestMarksStandAtTheirTime(t *testing.T) {
	for _, long := range []time.Duration{24 * time.Hour, 366 * 24 * time.Hour} {
		whole := Stretch{noon.Add(-long), noon}
		var spans []alarmSpan
		for i, share := range []float64{0, 0.004, 0.5, 0.98, 0.999} {
			at := whole.From.Add(time.Duration(share * float64(long)))
			tr := alarms.Transition{ID: fmt.Sprint(i), Due: at, Sentence: fmt.Sprint("at ", share)}
			spans = append(spans, alarmSpan{Stretch: Stretch{at, noon}, priority: alarms.Priority(1 + i%3), begun: &tr})
		}
		lanes, _ := newWords(alarms.Words{}).lanes(spans, []*alarms.Transition{spans[4].begun}, whole, 0)
		seen := 0
		for _, l := range lanes {
			for _, m := range l.Marks {
				seen++
				var share float64
				if _, err := fmt.Sscanf(m.Text, "at %g", &share); err != nil || math.Abs(m.X-100*share) > 0.06 {
					t.Errorf("in %v a mark of %.1f %% stands at %.1f %% (%v)", long, 100*share, m.X, err)
				}
			}
		}
		if seen != 6 {
			t.Errorf("in %v: %d marks, want 6", long, seen)
		}
	}
}
