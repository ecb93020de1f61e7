package draw

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// Bands are steps: each is drawn from where it began to where it ended, and a
// day's is the widest of its time.
func TestBandsAreSteps(t *testing.T) {
	w := words.New(alarms.Words{})
	whole := report.Span{From: scenes.Noon.Add(-10 * time.Hour), To: scenes.Noon}
	ask := PanelAsk{Named: true, Place: "Bench", Quantity: alarms.Temperature, Whole: whole, Tall: 100, Bands: []alarms.BandStep{
		{From: whole.From, To: scenes.Noon.Add(-6 * time.Hour), Limits: alarms.Limits{Low: alarms.At(10), High: alarms.At(20)}},
		{From: scenes.Noon.Add(-6 * time.Hour), To: scenes.Noon.Add(-5 * time.Hour), Limits: alarms.Limits{High: alarms.At(30)}},
		{From: scenes.Noon.Add(-5 * time.Hour), To: scenes.Noon.Add(-4 * time.Hour)},
		{From: scenes.Noon.Add(-4 * time.Hour), To: scenes.Noon, Limits: alarms.Limits{Low: alarms.At(10)}},
	}}
	c := PanelOf(w, ask, nil)
	// 10 to 30 in steps of 10: 10 is at the bottom, 118, 30 at the top, 18.
	if want := "M0,68H400V118H0zM400,18H500V118H400zM600,18H1000V118H600z"; c.Band != want {
		t.Errorf("band: got %s, want %s", c.Band, want)
	}
	if want := "M0,118V118H400M600,118V118H1000M0,68V68H400V18H500"; c.Edge != want {
		t.Errorf("edges: got %s, want %s", c.Edge, want)
	}
	got := widest(ask.Bands, []time.Time{whole.From, scenes.Noon.Add(-6 * time.Hour), scenes.Noon.Add(-5 * time.Hour), scenes.Noon})
	want := []alarms.BandStep{
		{From: whole.From, To: scenes.Noon.Add(-6 * time.Hour), Limits: alarms.Limits{Low: alarms.At(10), High: alarms.At(20)}},
		{From: scenes.Noon.Add(-6 * time.Hour), To: scenes.Noon.Add(-5 * time.Hour), Limits: alarms.Limits{High: alarms.At(30)}},
		{From: scenes.Noon.Add(-5 * time.Hour), To: scenes.Noon},
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("widest: got %v, want %v", got, want)
	}
}

func TestDrivesAreBarsAndGaps(t *testing.T) {
	w := words.New(alarms.Words{})
	whole := report.Span{From: scenes.Noon.Add(-10 * time.Hour), To: scenes.Noon}
	ago := func(h float64) time.Time { return scenes.Noon.Add(-time.Duration(h * float64(time.Hour))) }
	r := driveRowOf(w, service.DriveRuns{DriveName: service.DriveName{Name: "fan"},
		Runs: []service.Ran{{Span: report.Span{From: ago(11), To: ago(9)}}, {Span: report.Span{From: ago(5), To: ago(4)}, FromUnseen: true},
			{Span: report.Span{From: ago(2), To: ago(1)}, Inferred: true}},
		Unknown: []report.Span{{From: ago(7), To: ago(5)}, {From: ago(0.5), To: scenes.Noon}}}, whole, scenes.Noon, 0)
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
	c := cellRow(w, service.DriveCells{DriveName: service.DriveName{Name: "fan"}, Cells: []service.RanInCell{{Known: true, Ran: time.Hour, Starts: 2}, {}, {Known: true},
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
		return alarms.Transition{Alarm: id, Move: m, From: from, To: to, Priority: p, Due: scenes.Noon.Add(-time.Duration(hoursAgo) * time.Hour),
			Sentence: string(id) + " " + m.String()}
	}
	n, u, k := alarms.Normal, alarms.Unacknowledged, alarms.Acknowledged
	spans, acks := AlarmSpans([]alarms.Transition{
		line("other", alarms.Note, n, n, alarms.Low, 40),
		line("long", alarms.Return, k, n, alarms.Low, 20),
		line("gone", alarms.Raise, n, u, alarms.Low, 19), line("gone", alarms.Return, u, n, alarms.Low, 18),
		line("worse", alarms.Raise, n, u, alarms.Medium, 9), line("worse", alarms.Worsen, u, u, alarms.High, 8),
		line("said", alarms.Suppress, n, alarms.SuppressedByDesign, alarms.High, 8),
		line("worse", alarms.Ack, u, k, alarms.High, 7), line("worse", alarms.ShelveOn, k, alarms.Shelved, alarms.High, 6),
		line("on", alarms.Raise, n, u, alarms.Low, 2),
	}, report.Span{From: scenes.Noon.Add(-22 * time.Hour), To: scenes.Noon.Add(time.Hour)}, scenes.Noon)
	var got []string
	for _, s := range spans {
		got = append(got, fmt.Sprintf("%s %s %s-%s %v", s.Begun.Sentence, s.Priority, s.From.Format("15:04"), s.To.Format("15:04"), s.FromUnseen))
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
		whole := report.Span{From: scenes.Noon.Add(-long), To: scenes.Noon}
		var spans []AlarmSpan
		for i, share := range []float64{0, 0.004, 0.5, 0.98, 0.999} {
			at := whole.From.Add(time.Duration(share * float64(long)))
			tr := alarms.Transition{ID: fmt.Sprint(i), Due: at, Sentence: fmt.Sprint("at ", share)}
			spans = append(spans, AlarmSpan{Span: report.Span{From: at, To: scenes.Noon}, Priority: alarms.Priority(1 + i%3), Begun: &tr})
		}
		lanes, _ := LanesOf(words.New(alarms.Words{}), spans, []*alarms.Transition{spans[4].Begun}, whole, 0)
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
