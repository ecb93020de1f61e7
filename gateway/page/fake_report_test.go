package page

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
)

// fakeReports makes reports of a garden whose days are waves.
type fakeReports struct {
	f       *fakeWatch
	seasons []alarms.SeasonFrom
	err     error
}

var _ service.Reports = (*fakeReports)(nil)

func (r *fakeReports) Houses() []service.HouseName {
	return []service.HouseName{{ID: "long-house", Name: "Long House"}, {ID: "low-house", Name: "Low House"}}
}

func (r *fakeReports) Began(context.Context) (time.Time, error) {
	return noon.AddDate(0, -3, 0).Truncate(24 * time.Hour), r.err
}

func (r *fakeReports) Seasons(context.Context, alarms.HouseID) ([]alarms.SeasonFrom, error) {
	if r.seasons != nil {
		return r.seasons, r.err
	}
	return []alarms.SeasonFrom{{Season: alarms.SeasonWinter}, {From: noon.AddDate(0, -1, -5), Season: alarms.SeasonOpen}}, r.err
}

// reportPlan is the house that is reported on.
func reportPlan() alarms.House {
	band := func(when alarms.Daypart, l alarms.Limits) alarms.Band {
		return alarms.Band{Quantity: alarms.Temperature, When: when, Limits: l}
	}
	p := alarms.Plan{Houses: []alarms.House{{ID: "long-house", Name: "Long House", Latitude: 52, Longitude: -1, Season: alarms.SeasonOpen,
		Drives: []alarms.Drive{{ID: "exhaust-fan", Name: "Exhaust fan", Kind: alarms.ExhaustFan}, {ID: "loop-fan", Name: "Loop fan"}},
		Places: []alarms.Place{
			{ID: "bench", Name: "Bench", Bands: []alarms.Band{band(alarms.Day, scenes.Limits(8, 14, 27, 32)), band(alarms.Night, scenes.Limits(4, 10, 22, 32)),
				{Quantity: alarms.Humidity, Limits: alarms.Limits{High: alarms.At(85)}}}},
			{ID: "ridge", Name: "Ridge", Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(33), HighHigh: alarms.At(38)}}}},
			{ID: "outside", Name: "Outside"}}}}}
	return p.Filled().Houses[0]
}

func (r *fakeReports) Report(_ context.Context, house alarms.HouseID, s report.Span) (report.Report, error) {
	if r.err != nil {
		return report.Report{}, r.err
	}
	h := reportPlan()
	h.ID = house
	if house == "low-house" {
		h.Name = "Low House"
	}
	rep := report.Of(&h, s, r.f.now(), reportLog(s, r.f.now()))
	held := h.Course([]alarms.SeasonFrom{{Season: alarms.SeasonOpen}}, s.From, s.To)
	for i := range h.Places {
		for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity} {
			a := report.Asked{Span: rep.Counted, Bands: h.Places[i].Steps(q, held), Days: report.Days(rep.Counted, time.UTC), Base: report.GrowingBase}
			if a.Cells = a.Days; len(a.Days) <= 2 {
				a.Cells = report.Hours(s)
			}
			rep.Measures = append(rep.Measures, report.MeasureOf(h.Places[i].ID, q, a, []report.Series{waves(rep.Counted, q, float64(3*i))}))
		}
	}
	return rep, nil
}

// Year is one of a house whose loop has two depths; a garden of many has six.
func (r *fakeReports) Year(_ context.Context, house alarms.HouseID, s report.Span) (report.Year, error) {
	over := s.Within(report.Span{From: s.From, To: r.f.now()})
	asked := report.Asked{Span: over, Cells: report.Months(s, time.UTC), Days: report.Days(over, time.UTC)}
	y := report.Year{Span: s, Counted: over, Made: r.f.now(), Felt: report.FeltAtLoop, ByHand: true,
		Soil: &alarms.Ground{Mean: 10.4, Swing: 9.2, Coldest: 36, Diffusivity: 0.05}}
	measure := func(q alarms.Quantity, v func(day float64) float64) report.Measure {
		one := report.Series{Hold: 6 * time.Hour}
		for at := s.From.AddDate(0, 0, 9); at.Before(over.To); at = at.Add(6 * time.Hour) {
			if at.YearDay()%20 != 0 || at.YearDay() > 170 {
				one.Samples = append(one.Samples, report.Reading(at, v(float64(at.YearDay()))+float64(at.Hour()-9)/3))
			}
		}
		return report.MeasureOf("bench", q, asked, []report.Series{one})
	}
	warmth, moisture := measure(alarms.Temperature, func(d float64) float64 { return 15 - 12*math.Cos((d-20)/365*2*math.Pi) }), measure(alarms.Humidity, func(float64) float64 { return 72 })
	y.Warmth, y.Moisture = &warmth, &moisture
	depths := []float64{1.5, 2.3}
	if house == "low-house" {
		depths = []float64{0.8, 1.2, 1.5, 2.3, 3, 4}
	}
	for _, depth := range depths {
		y.Depths = append(y.Depths, report.DepthOf(depth, y.Soil, measure(alarms.Temperature, func(d float64) float64 { return 0.8*y.Soil.At(depth, d) + 3 }), time.UTC))
	}
	for _, kind := range []alarms.DriveKind{alarms.ExhaustFan, alarms.LoopFan, alarms.CirculatingFan} {
		f := report.YearFan{Kind: kind, Number: 1, Ran: 1234 * time.Hour, Inferred: 12 * time.Hour, Months: make([]report.FanMonth, 12)}
		for i := range 6 {
			f.Months[i] = report.FanMonth{Ran: time.Duration(100+i) * time.Hour, Known: true}
		}
		y.Fans = append(y.Fans, f)
	}
	return y, r.err
}

// waves are readings every quarter of an hour, missing for three hours of each
// fifth day.
func waves(s report.Span, q alarms.Quantity, more float64) report.Series {
	one := report.Series{Hold: 30 * time.Minute}
	for at := s.From; at.Before(s.To); at = at.Add(15 * time.Minute) {
		if at.YearDay()%5 == 0 && at.Hour() >= 3 && at.Hour() < 6 {
			continue
		}
		day := math.Sin(float64(at.Unix()%86400)/86400*2*math.Pi - 2)
		v := 20 + more/2 + 9*day + 3*math.Sin(float64(at.YearDay()))
		if q == alarms.Humidity {
			v = 70 - 20*day
		}
		one.Samples = append(one.Samples, report.Reading(at, v))
	}
	return one
}

// reportLog is what happened on each day of s.
func reportLog(s report.Span, now time.Time) report.Log {
	l := report.Log{Until: now, Seasons: []alarms.SeasonFrom{{Season: alarms.SeasonOpen}}}
	add := func(at time.Time, id alarms.AlarmID, m alarms.Move, from, to alarms.State, p alarms.Priority, say string, r alarms.Reason) {
		if at.Before(now) {
			r.House = "long-house"
			l.Lines = append(l.Lines, alarms.Transition{ID: fmt.Sprint(id, "#", len(l.Lines)), Alarm: id, Move: m, From: from, To: to, Priority: p, Due: at, Noticed: at, Reason: r, Sentence: say})
		}
	}
	for at := s.From; at.Before(s.To); at = at.Add(24 * time.Hour) {
		hot := alarms.Reason{Rule: alarms.RuleLimit, Place: "bench", Quantity: alarms.Temperature, Side: alarms.HighSide}
		t := at.Add(9 * time.Hour)
		add(t, "long-house/bench/temperature/high", alarms.Raise, alarms.Normal, alarms.Unacknowledged, alarms.Medium, "It is too warm at the bench.", hot)
		taken := hot
		taken.By, taken.Note = "Ada", "the door is open now"
		add(t.Add(4*time.Minute), "long-house/bench/temperature/high", alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged, alarms.Medium, "Ada acknowledged: it is too warm at the bench.", taken)
		gone := alarms.Reason{Rule: alarms.RuleUnwatched, Place: "ridge", Since: t.Add(time.Hour)}
		add(t.Add(time.Hour), "long-house/ridge/unwatched", alarms.Raise, alarms.Normal, alarms.Unacknowledged, alarms.High, "No healthy probe at the ridge.", gone)
		add(t.Add(2*time.Hour), "long-house/ridge/unwatched", alarms.Return, alarms.Unacknowledged, alarms.ReturnedUnack, alarms.High, "The ridge is watched again.", gone)
		chill := alarms.Reason{Rule: alarms.RuleExposure, Place: "bench", Quantity: alarms.Temperature, Exposure: &alarms.ExposureReason{ID: "chill", Says: "chilling slows the seedlings", Time: 4 * time.Hour, Limit: 4 * time.Hour}}
		add(t.Add(2*time.Hour), "long-house/bench/exposure-chill", alarms.Raise, alarms.Normal, alarms.Unacknowledged, alarms.Low, "Chilling slows the seedlings.", chill)
		brought := alarms.LoopEnergy{Heat: 1.2, Cold: 0.4, Fan: 0.3, Run: 6 * time.Hour}
		add(t.Add(3*time.Hour), "long-house/ground-loop", alarms.Note, alarms.Normal, alarms.Normal, 0, "", alarms.Reason{Rule: alarms.RuleLoop, Since: at,
			Loop: &alarms.LoopReason{Day: &alarms.LoopDay{LoopEnergy: brought, Pipes: []alarms.PipeDay{{Depth: 1.5, LoopEnergy: brought}, {Depth: 2.3, LoopEnergy: brought}}}}})
		l.Switchings = append(l.Switchings, alarms.Transition{Due: t.Add(time.Hour), Alarm: "long-house/exhaust-fan/switching",
			Reason: alarms.Reason{Rule: alarms.RuleSwitching, Drive: "exhaust-fan", Switched: &alarms.Switched{Ran: t, Stopped: t.Add(50 * time.Minute), Right: true}}})
		l.Runs = append(l.Runs, report.Run{Drive: "exhaust-fan", Span: report.Span{From: t, To: t.Add(50 * time.Minute)}})
	}
	l.Told = []report.Told{{Person: "Ada", Channel: "mail", HandedOver: 31, GivenUp: 1}, {Person: "Ben", Channel: "phone", HandedOver: 4, Delivered: 3, Waiting: 1, Rehearsed: 2}}
	if len(l.Lines) > 0 {
		l.Lost = []report.Lost{{At: l.Lines[0].Due, Person: "Ada", Channel: "mail", Of: l.Lines[0], Why: "mail.example.net refused the connection"}}
	}
	return l
}

// fakeDownloads has two streams, with sums before 20 June and readings since.
type fakeDownloads struct {
	fakeReports
	err  error
	step time.Duration
}

func (d *fakeDownloads) Streams(house alarms.HouseID) []service.DownloadStream {
	return []service.DownloadStream{
		{House: house, Place: "bench", PlaceName: `Bench, "north"`, Probe: "bench-1", Quantity: alarms.Temperature},
		{House: house, Place: "bench", PlaceName: `Bench, "north"`, Probe: "bench-1", Quantity: alarms.Humidity},
		{House: house, Place: "ridge", PlaceName: "Ridge", Probe: "ridge-1", Quantity: alarms.Temperature}}
}

var errTorn = errors.New("the disk is torn")

func (d *fakeDownloads) Samples(ctx context.Context, of []service.DownloadStream, from, to time.Time) iter.Seq2[service.DownloadSample, error] {
	rawFrom := time.Date(2026, 6, 20, 0, 0, 0, 0, time.UTC)
	return func(yield func(service.DownloadSample, error) bool) {
		for at, n := from, 0; at.Before(to); at, n = at.Add(d.step), n+1 {
			if d.err != nil && n == 5000 || ctx.Err() != nil {
				yield(service.DownloadSample{}, errors.Join(d.err, ctx.Err()))
				return
			}
			for i := range of {
				x := service.DownloadSample{Stream: i, At: at, Min: 20, Mean: 20, Max: 20}
				if x.Sum = at.Before(rawFrom); x.Sum {
					x.Min, x.Max = 19.5, 20.25
				}
				if !yield(x, nil) {
					return
				}
			}
		}
	}
}
