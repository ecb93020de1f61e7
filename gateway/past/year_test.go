package past

import (
	"context"
	"fmt"
	"io"
	"math"
	"net/http"
	"sync"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/page"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

const (
	yearProbes = 20
	yearEvery  = 30 * time.Second
	yearDays   = 366
)

// yearEnd is the moment at which the benchmark looks back.
var yearEnd = time.Date(2026, 6, 21, 12, 2, 10, 0, time.UTC)

// yearPlan is a house of ten places with two probes each, three drives with
// evidence and bands by day, night and season.
func yearPlan() alarms.Plan {
	h := alarms.House{ID: "long-house", Name: "Long House", Latitude: 52, Longitude: -1, Season: alarms.SeasonOpen}
	for i := range yearProbes / 2 {
		p := alarms.Place{ID: alarms.PlaceID(fmt.Sprintf("row-%d", i)), Bands: []alarms.Band{
			{Quantity: alarms.Temperature, When: alarms.Day, Limits: alarms.Limits{Low: alarms.At(12), High: alarms.At(30)}},
			{Quantity: alarms.Temperature, When: alarms.Night, Limits: alarms.Limits{Low: alarms.At(8), High: alarms.At(24)}},
			{Quantity: alarms.Humidity, Limits: alarms.Limits{High: alarms.At(85)}}}}
		for _, side := range []string{"a", "b"} {
			p.Probes = append(p.Probes, alarms.Probe{ID: alarms.ProbeID(fmt.Sprintf("row-%d-%s", i, side)), Every: yearEvery,
				Streams: []alarms.Stream{{Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}})
		}
		h.Places = append(h.Places, p)
	}
	works := alarms.Place{ID: "works"}
	for _, d := range []alarms.DriveID{"exhaust-fan", "intake-shutter", "loop-fan"} {
		probe := alarms.ProbeID(d) + "-contact"
		works.Probes = append(works.Probes, alarms.Probe{ID: probe, Every: yearEvery, Streams: []alarms.Stream{{Quantity: alarms.Contact}}})
		h.Drives = append(h.Drives, alarms.Drive{ID: d, Kind: alarms.DriveKind(d), Evidence: []alarms.Evidence{{Probe: probe, Quantity: alarms.Contact}}})
	}
	h.Places = append(h.Places, works)
	h.Controls = []alarms.Control{{ID: "thermostat", Place: "row-0",
		Stages: []alarms.Stage{{Mode: alarms.Cooling, SetPoint: 28, Drives: []alarms.DriveID{"exhaust-fan", "intake-shutter"}},
			{Mode: alarms.Heating, SetPoint: 10, Drives: []alarms.DriveID{"loop-fan"}}}}}
	return alarms.Plan{Houses: []alarms.House{h}}
}

// fillYear gives s a year of readings, summed up as they would have been, of
// switchings and of alarms.
func fillYear(b *testing.B, s *store.Store) {
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	names := []alarms.ProbeID{}
	for i := range yearProbes {
		names = append(names, alarms.ProbeID(fmt.Sprintf("row-%d-%c", i/2, 'a'+i%2)))
	}
	works := []alarms.ProbeID{"exhaust-fan-contact", "intake-shutter-contact", "loop-fan-contact"}
	hours := yearDays * 24
	begin := yearEnd.Truncate(time.Hour).Add(-time.Duration(hours) * time.Hour)
	for h := range hours + 1 {
		from := begin.Add(time.Duration(h) * time.Hour)
		for at := from; at.Before(from.Add(time.Hour)) && at.Before(yearEnd); at = at.Add(yearEvery) {
			wave := math.Sin(float64(at.Unix()%86400)/86400*2*math.Pi) * 8
			for i, p := range names {
				s.Append(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: p, Quantity: alarms.Temperature, Value: math.Round((18+wave+float64(i%7))*10) / 10})
				s.Append(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: p, Quantity: alarms.Humidity, Value: math.Round(60 - wave + float64(i%5))})
			}
			for _, p := range works {
				s.Append(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: p, Quantity: alarms.Contact, Value: float64(at.Minute() / 30)})
			}
		}
		recent := yearEnd.Sub(from) < 100*24*time.Hour
		if recent || h%24 == 23 || h == hours {
			must(s.Checkpoint([]byte("{}")))
		}
		if h%24 == 0 {
			must(s.Save(dayOfLog(from), nil))
			for more := true; more; {
				var err error
				more, err = s.Retain(b.Context(), from)
				must(err)
			}
		}
	}
}

// dayOfLog is what the log has of one day: each drive ran 24 times or 48, and
// four alarms came and went.
func dayOfLog(day time.Time) (out []alarms.Transition) {
	for i, d := range []alarms.DriveID{"exhaust-fan", "intake-shutter", "loop-fan"} {
		step := time.Hour / time.Duration(1+i/2)
		for at := day; at.Before(day.Add(24*time.Hour)) && at.Add(step/2).Before(yearEnd); at = at.Add(step) {
			id := alarms.AlarmID("long-house/" + string(d) + "/switching")
			out = append(out, alarms.Transition{ID: fmt.Sprintf("%s#%d", id, at.Unix()), Alarm: id, Move: alarms.Note, Due: at.Add(step / 2),
				Sentence: "Long House: called at 29.6 °C, ran after 40 s, stopped at 26.9 °C; this was as it should be.",
				Reason: alarms.Reason{Rule: alarms.RuleSwitching, House: "long-house", Drive: d,
					Switched: &alarms.Switched{Ran: at.Add(step / 4), Stopped: at.Add(step / 2), RanAfter: 40 * time.Second, Right: true}}})
		}
	}
	for i := range 4 {
		id := alarms.AlarmID(fmt.Sprintf("long-house/row-%d/temperature/high", i))
		from := day.Add(time.Duration(5*i) * time.Hour)
		for n, move := range []alarms.Move{alarms.Raise, alarms.Ack, alarms.Return} {
			at := from.Add(time.Duration(n) * 20 * time.Minute)
			states := []alarms.State{alarms.Normal, alarms.Unacknowledged, alarms.Acknowledged, alarms.Normal}
			out = append(out, alarms.Transition{ID: fmt.Sprintf("%s#%d", id, at.Unix()), Alarm: id, Move: move, Due: at, Noticed: at,
				From: states[n], To: states[n+1], Priority: alarms.Medium,
				Reason:   alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Place: "row-0", Quantity: alarms.Temperature},
				Sentence: "Row of Long House: 31.2 °C, above the high limit of 30 °C. Look first whether the exhaust fan runs."})
		}
	}
	return out
}

// standing is a watch that stands at one moment.
type standing struct {
	*Archive
	mu  sync.Mutex
	e   *engine.Engine
	now time.Time
}

// at looks back through s from now.
func at(tb testing.TB, plan alarms.Plan, s *store.Store, now time.Time) *standing {
	tb.Helper()
	e, err := engine.New(plan)
	if err != nil {
		tb.Fatal(err)
	}
	e.Step(alarms.Input{At: now, Kind: alarms.Tick})
	w := &standing{e: e, now: now}
	w.Archive = New(Options{Store: s, Plan: plan, Now: w.Now, Picture: w.Picture})
	return w
}

func (w *standing) PictureIn(m say.Locale) alarms.Picture {
	w.mu.Lock()
	defer w.mu.Unlock()
	return say.Picture(w.e.Plan(), w.e.Picture(), m)
}

func (w *standing) Picture() alarms.Picture                                   { return w.PictureIn(say.Locale{}) }
func (w *standing) Judged() time.Time                                         { return time.Now() }
func (w *standing) Subscribe() (<-chan struct{}, func())                      { return nil, func() {} }
func (w *standing) Do(context.Context, alarms.Input) error                    { return nil }
func (w *standing) TestMessage(context.Context, string) (string, error)       { return "", nil }
func (w *standing) Tested(context.Context, string) ([]service.Telling, error) { return nil, nil }
func (w *standing) Now() time.Time                                            { return w.now }

// yearPage serves the page over a year of readings.
func yearPage(b *testing.B) (*store.Store, *page.Server) {
	b.Helper()
	s, err := store.Open(b.TempDir()+"/store", store.Options{MaxReadings: 10_000_000})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	begun := time.Now()
	fillYear(b, s)
	b.Logf("a year was filled in %s", time.Since(begun).Round(time.Second))
	w := at(b, yearPlan(), s, yearEnd)
	p, err := page.New(page.Options{Watch: w, Course: w, Address: "127.0.0.1:0"})
	if err != nil {
		b.Fatal(err)
	}
	if err := p.Listen(); err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- p.Run(ctx) }()
	b.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			b.Error(err)
		}
	})
	return s, p
}

// BenchmarkLookBack draws every length of a strip over a year of readings of
// twenty probes, through the page's own server, and compares with asking the
// store for one quantity of one probe over the same time.
func BenchmarkLookBack(b *testing.B) {
	s, p := yearPage(b)
	b.Run("front-page", func(b *testing.B) {
		for b.Loop() {
			get(b, "http://"+p.Addr()+"/")
		}
	})
	for _, z := range []struct {
		key  string
		days int
	}{{"day", 1}, {"3-days", 3}, {"week", 7}, {"month", 31}, {"year", 366}, {"all", 366}} {
		for _, until := range []string{"", "&until=2026-04-01T12:00Z"} {
			name, end := z.key, yearEnd
			if until != "" {
				name, end = z.key+"-back", time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
			}
			b.Run(name, func(b *testing.B) {
				bare, cpu := time.Duration(0), time.Duration(0)
				for b.Loop() {
					was := cpuTime(b)
					get(b, "http://"+p.Addr()+"/back?house=long-house&zoom="+z.key+until)
					b.StopTimer()
					cpu += cpuTime(b) - was
					asked := time.Now()
					if _, err := s.History.Buckets(b.Context(), "row-0-a", alarms.Temperature, end.AddDate(0, 0, -z.days), end, 300); err != nil {
						b.Fatal(err)
					}
					bare += time.Since(asked)
					b.StartTimer()
				}
				b.ReportMetric(float64(b.Elapsed())/1e6/float64(b.N), "ms/strip")
				b.ReportMetric(float64(cpu)/1e6/float64(b.N), "cpu-ms/strip")
				b.ReportMetric(float64(b.Elapsed())/float64(bare), "times-the-bare-query")
			})
		}
	}
}

// cpuTime is what this process has used of processors so far.
func cpuTime(tb testing.TB) time.Duration {
	tb.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func get(tb testing.TB, address string) string {
	tb.Helper()
	a, err := http.Get(address)
	if err != nil {
		tb.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil || a.StatusCode != http.StatusOK {
		tb.Fatalf("%s: got status %d, %v: %s", address, a.StatusCode, err, text)
	}
	return string(text)
}
