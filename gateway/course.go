package gateway

import (
	"cmp"
	"context"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page"
	"telltale/gateway/store"
)

// course is the past of the houses as the page asks for it. It reads the
// store; the plan says what was watched, the picture what goes on.
type course struct {
	*watch
	filled alarms.Plan // with nothing left to default
}

var _ page.Course = (*course)(nil)

func newCourse(w *watch) *course { return &course{w, w.plan.Filled()} }

// Began implements page.Course.
func (c *course) Began(ctx context.Context) (time.Time, error) { return c.store.Began(ctx) }

func (c *course) house(id alarms.HouseID) *alarms.House {
	for i := range c.filled.Houses {
		if c.filled.Houses[i].ID == id {
			return &c.filled.Houses[i]
		}
	}
	return &alarms.House{}
}

// MainPlace implements page.Course: where the thermostat hangs, or the first
// place with a band.
func (c *course) MainPlace(id alarms.HouseID) alarms.PlaceID {
	h := c.house(id)
	if len(h.Controls) > 0 {
		return h.Controls[0].Place
	}
	for _, banded := range []bool{true, false} {
		for i := range h.Places {
			p := &h.Places[i]
			if (len(p.Bands) > 0 || !banded) && len(p.Probes) > 0 {
				return p.ID
			}
		}
	}
	return ""
}

// Cells implements page.Course.
func (c *course) Cells(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, cuts []time.Time) ([]page.Point, error) {
	p := c.place(house, place)
	if p == nil || len(cuts) < 2 {
		return nil, nil
	}
	if q.Derived() {
		return c.derivedCells(ctx, house, place, q, cuts)
	}
	sums := map[time.Time]*store.Bucket{}
	for _, pr := range p.Probes {
		if !measures(&pr, q) {
			continue
		}
		buckets, err := c.store.Cells(ctx, pr.ID, q, cuts)
		if err != nil {
			return nil, err
		}
		for i := range buckets {
			buckets[i].Width = 0 // joined by their beginning
		}
		join(sums, buckets)
	}
	points := make([]page.Point, 0, len(sums))
	for at, b := range sums {
		points = append(points, page.Point{At: at, Value: b.Mean, Min: b.Min, Max: b.Max})
	}
	slices.SortFunc(points, func(a, b page.Point) int { return a.At.Compare(b.At) })
	return points, nil
}

func measures(p *alarms.Probe, q alarms.Quantity) bool {
	return slices.ContainsFunc(p.Streams, func(s alarms.Stream) bool { return s.Quantity == q })
}

// derivedCells sums up what is derived from two quantities: their lowest and
// highest do not come together, so it is derived from short means first.
func (c *course) derivedCells(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, cuts []time.Time) ([]page.Point, error) {
	const shortMeans = 9000
	points, err := c.History(ctx, house, place, q, cuts[0], cuts[len(cuts)-1], shortMeans)
	if err != nil {
		return nil, err
	}
	var out []page.Point
	n, cell := 0, 0
	for _, p := range points {
		for cell+2 < len(cuts) && !p.At.Before(cuts[cell+1]) {
			cell++
		}
		if p.At.Before(cuts[cell]) {
			continue
		}
		last := len(out) - 1
		if last < 0 || !out[last].At.Equal(cuts[cell]) {
			out, n = append(out, page.Point{At: cuts[cell], Value: p.Value, Min: p.Min, Max: p.Max}), 1
			continue
		}
		o := &out[last]
		n++
		o.Value += (p.Value - o.Value) / float64(n)
		o.Min, o.Max = min(o.Min, p.Min), max(o.Max, p.Max)
	}
	return out, nil
}

// Held implements page.Course. Seasons are those of the log.
func (c *course) Held(ctx context.Context, house alarms.HouseID, from, to time.Time) ([]alarms.Held, error) {
	h := c.house(house)
	log, err := c.store.Transitions(ctx, store.LogQuery{Alarm: alarms.AlarmID(house) + "/season", To: to, Limit: 1000})
	if err != nil {
		return nil, err
	}
	slices.Reverse(log)
	seasons := []alarms.SeasonFrom{{Season: h.Season}}
	if len(log) == 0 { // the season now is the one there always was
		for _, p := range c.Picture().Houses {
			if p.ID == house {
				seasons[0].Season = p.Season
			}
		}
	}
	for _, t := range log {
		if t.Reason.Season != "" {
			seasons = append(seasons, alarms.SeasonFrom{From: t.Due, Season: t.Reason.Season})
		}
	}
	return h.Course(seasons, from, to), nil
}

// Bands implements page.Course.
func (c *course) Bands(house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, held []alarms.Held) []alarms.BandStep {
	h := c.house(house)
	for i := range h.Places {
		if h.Places[i].ID == place {
			return h.Places[i].Steps(q, held)
		}
	}
	return nil
}

// Told implements page.Course.
func (c *course) Told(ctx context.Context, house alarms.HouseID, from, to time.Time, limit int) ([]alarms.Transition, error) {
	return c.store.Told(ctx, house, from, to, limit)
}

// nameOf is how a drive is called.
func nameOf(d *alarms.Drive) page.DriveName {
	return page.DriveName{ID: d.ID, Name: cmp.Or(d.Name, string(d.ID)), Inferred: len(d.Evidence) == 0, Opens: d.Kind == alarms.IntakeShutter}
}
