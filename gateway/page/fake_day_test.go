package page

import (
	"context"
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
)

// fakeCourse is the past of the scene: a plan with day and night bands, drives
// that ran, and alarms.
type fakeCourse struct {
	f    *fakeWatch
	plan alarms.Plan
}

var _ service.Course = (*fakeCourse)(nil)

func newFakeCourse(f *fakeWatch) *fakeCourse {
	band := func(q alarms.Quantity, when alarms.Daypart, l alarms.Limits) alarms.Band {
		return alarms.Band{Quantity: q, When: when, Limits: l}
	}
	p := alarms.Plan{Houses: []alarms.House{
		{ID: "long-house", Latitude: 52, Longitude: -1, Season: alarms.SeasonOpen, Places: []alarms.Place{{ID: "bench", Bands: []alarms.Band{
			band(alarms.Temperature, alarms.Day, scenes.Limits(8, 14, 27, 38)), band(alarms.Temperature, alarms.Night, scenes.Limits(4, 10, 22, 38)),
			band(alarms.Humidity, alarms.Always, alarms.Limits{High: alarms.At(85)})}}}},
		{ID: "low-house", Latitude: 52, Longitude: -1, Season: alarms.SeasonOpen, Places: []alarms.Place{{ID: "bed", Bands: []alarms.Band{
			band(alarms.Soil, alarms.Always, scenes.Limits(15, 18, 24, 28))}}}},
	}}
	return &fakeCourse{f, p.Filled()}
}

func (c *fakeCourse) Began(context.Context) (time.Time, error) {
	return c.f.now().AddDate(-2, 0, 0), nil
}

func (c *fakeCourse) MainPlace(h alarms.HouseID) alarms.PlaceID {
	if h == "long-house" {
		return "bench"
	}
	return "bed"
}

func (c *fakeCourse) Cells(_ context.Context, _ alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, cuts []time.Time) (out []service.Point, err error) {
	if q == alarms.Contact {
		_, err = swing(place, q, cuts[0], cuts[1], 1)
		return nil, err
	}
	for i := 0; i+1 < len(cuts) && cuts[i].Before(c.f.now()); i++ {
		if i%40 == 17 { // a day of which nothing is known
			continue
		}
		v := 18 - 7*math.Cos(float64(cuts[i].YearDay())/365*2*math.Pi) + 2*math.Sin(float64(i))
		if q == alarms.Humidity {
			v += 45
		}
		out = append(out, service.Point{At: cuts[i], Value: v, Min: v - 5, Max: v + 8})
	}
	return out, nil
}

func (c *fakeCourse) Held(_ context.Context, h alarms.HouseID, from, to time.Time) ([]alarms.Held, error) {
	for i := range c.plan.Houses {
		if c.plan.Houses[i].ID == h {
			return c.plan.Houses[i].Course(nil, from, to), nil
		}
	}
	return nil, nil
}

func (c *fakeCourse) Bands(h alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, held []alarms.Held) []alarms.BandStep {
	for _, house := range c.plan.Houses {
		for i := range house.Places {
			if house.ID == h && house.Places[i].ID == place {
				return house.Places[i].Steps(q, held)
			}
		}
	}
	return nil
}

// Runs: every two hours by day, one of them when nobody could see its start.
func (c *fakeCourse) Runs(_ context.Context, h alarms.HouseID, from, to time.Time) ([]service.DriveRuns, error) {
	if h != "long-house" {
		return nil, nil
	}
	fan := service.DriveRuns{DriveName: service.DriveName{ID: "exhaust-fan", Name: "exhaust fan"}}
	shutter := service.DriveRuns{DriveName: service.DriveName{ID: "shutter", Name: "intake shutter", Opens: true}}
	loop := service.DriveRuns{DriveName: service.DriveName{ID: "loop-fan", Name: "loop fan", Inferred: true}}
	for at := from.Truncate(2 * time.Hour); at.Before(to); at = at.Add(2 * time.Hour) {
		if hour := at.Hour(); hour < 10 || hour > 18 {
			loop.Runs = append(loop.Runs, service.Ran{Span: report.Span{From: at, To: at.Add(70 * time.Minute)}, Inferred: true})
			continue
		}
		run := service.Ran{Span: report.Span{From: at, To: service.Earlier(at.Add(50*time.Minute), c.f.now())}}
		fan.Runs, shutter.Runs = append(fan.Runs, run), append(shutter.Runs, run)
	}
	gone := c.f.now().Add(-9 * time.Hour)
	shutter.Unknown = []report.Span{{From: gone, To: gone.Add(3 * time.Hour)}}
	shutter.Runs = slices.DeleteFunc(shutter.Runs, func(r service.Ran) bool { return r.To.After(gone) && r.From.Before(gone.Add(3*time.Hour)) })
	return []service.DriveRuns{fan, shutter, loop}, nil
}

func (c *fakeCourse) RunCells(_ context.Context, h alarms.HouseID, cuts []time.Time) ([]service.DriveCells, error) {
	if h != "long-house" {
		return nil, nil
	}
	fan := service.DriveCells{DriveName: service.DriveName{ID: "exhaust-fan", Name: "exhaust fan"}}
	loop := service.DriveCells{DriveName: service.DriveName{ID: "loop-fan", Name: "loop fan", Inferred: true}}
	for i := 0; i+1 < len(cuts); i++ {
		ran := time.Duration(i%11) * time.Hour
		known := cuts[i].Before(c.f.now()) && i%40 != 17
		if !known {
			ran = 0
		}
		fan.Cells = append(fan.Cells, service.RanInCell{Known: known, Ran: ran, Starts: i % 11})
		loop.Cells = append(loop.Cells, service.RanInCell{Known: known, Ran: ran / 2, Inferred: ran / 2, Starts: i % 5})
	}
	return []service.DriveCells{fan, loop}, nil
}

// told is an alarm of each priority, two of them acknowledged, one that goes on.
func told(now time.Time) []alarms.Transition {
	at := func(id alarms.AlarmID, p alarms.Priority, m alarms.Move, from, to alarms.State, ago time.Duration, said string) alarms.Transition {
		return alarms.Transition{ID: string(id) + m.String() + ago.String(), Alarm: id, Move: m, From: from, To: to, Priority: p,
			Due: now.Add(-ago), Noticed: now.Add(-ago), Sentence: said}
	}
	n, u, k := alarms.Normal, alarms.Unacknowledged, alarms.Acknowledged
	return []alarms.Transition{
		at("old", alarms.Medium, alarms.Raise, n, u, 300*time.Hour, "Bench of Long House: too warm for two hours."),
		at("old", alarms.Medium, alarms.Return, u, n, 298*time.Hour, "Back."),
		at("night", alarms.Low, alarms.Raise, n, u, 13*time.Hour, "Too damp in Long House, bench: humidity 88 % (limit 85 %)."),
		at("night", alarms.Low, alarms.Ack, u, k, 12*time.Hour, "Ada acknowledged: bench of Long House, humidity."),
		at("night", alarms.Low, alarms.Return, k, n, 7*time.Hour, "Bench of Long House: humidity is back below 85 %."),
		at("warm", alarms.Medium, alarms.Raise, n, u, 3*time.Hour, "Too hot in Long House, bench."),
		at("warm", alarms.Medium, alarms.Return, u, n, 150*time.Minute, "Back."),
		at("hot", alarms.High, alarms.Raise, n, u, 40*time.Minute, "Far too hot in Long House, ridge. Check first: exhaust fan on?"),
		at("hot", alarms.High, alarms.Ack, u, k, 30*time.Minute, "Ben acknowledged: ridge of Long House, too hot."),
	}
}

func (c *fakeCourse) Told(_ context.Context, h alarms.HouseID, from, to time.Time, limit int) (out []alarms.Transition, err error) {
	if h != "long-house" {
		return nil, nil
	}
	for _, t := range told(c.f.now()) {
		if !t.Due.Before(from) && t.Due.Before(to) {
			out = append(out, t)
		}
	}
	return out[max(0, len(out)-limit):], nil
}
