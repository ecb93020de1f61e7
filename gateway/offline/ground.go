package offline

import (
	"cmp"
	"errors"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/gateway/decode"
)

// FittedGround is what recorded outlet readings of one house say of its ground.
type FittedGround struct {
	House alarms.HouseID
	Days  int // daily means used, of all depths
	Fit   ground.Fit
	Err   error // why there is no fit
}

// FitGround fits the ground below each house that has a loop to recorded
// readings of its outlets, taken as the ground's own: best from days on which
// the air moves slowly, or with pipes long enough. Where the loop fan's evidence
// is among the readings only those with the fan running count.
func FitGround(r *Recording) ([]FittedGround, error) {
	from, _ := r.span()
	var all []*outlets
	for i := range r.Plan.Houses {
		if h := &r.Plan.Houses[i]; h.Loop != nil {
			all = append(all, newOutlets(h, from))
		}
	}
	if len(all) == 0 {
		return nil, errors.New("the config names no ground loop: add [house.NAME.loop]")
	}
	err := r.each(func(v value) {
		for _, o := range all {
			o.take(v.Value)
		}
	})
	var out []FittedGround
	for _, o := range all {
		o.moment()
		days := o.days()
		f := FittedGround{House: o.house.ID, Days: len(days)}
		f.Fit, f.Err = ground.FitSoil(days, ground.Surface{})
		out = append(out, f)
	}
	return out, err
}

type outletDay struct {
	depth float64
	day   int
}

// outlets sums up the daily means of a house's outlets.
type outlets struct {
	house       *alarms.House
	depths      map[alarms.ProbeID]float64
	base        time.Time
	runs, known bool
	now         []decode.Value // readings of one moment
	sums        map[outletDay]float64
	counts      map[outletDay]int
}

func newOutlets(h *alarms.House, from time.Time) *outlets {
	o := &outlets{house: h, depths: map[alarms.ProbeID]float64{}, runs: true, sums: map[outletDay]float64{}, counts: map[outletDay]int{},
		base: time.Date(from.UTC().Year(), 1, 1, 0, 0, 0, 0, time.UTC)}
	for _, pipe := range h.Loop.Pipes {
		for _, p := range h.Places {
			for _, pr := range p.Probes {
				if p.ID == pipe.Outlet {
					o.depths[pr.ID] = pipe.Depth
				}
			}
		}
	}
	return o
}

// take takes readings by time. What shows whether the fan runs counts for the
// other readings of its moment too, whichever comes first.
func (o *outlets) take(v decode.Value) {
	if len(o.now) > 0 && v.Measured.After(o.now[0].Measured) {
		o.moment()
	}
	o.now = append(o.now, v)
}

func (o *outlets) moment() {
	e := o.house.Loop.Runs
	for _, v := range o.now {
		if v.Probe == e.Probe && v.Quantity == e.Quantity && e.Probe != "" {
			o.runs, o.known = (v.Value >= e.Above.Value) != e.Inverted, true
		}
	}
	for _, v := range o.now {
		depth, ok := o.depths[v.Probe]
		if !ok || v.Quantity != alarms.Temperature || o.known && !o.runs {
			continue
		}
		d := outletDay{depth, int(v.Measured.Sub(o.base).Hours() / 24)}
		o.sums[d] += v.Value
		o.counts[d]++
	}
	o.now = o.now[:0]
}

// days are the daily means, oldest first.
func (o *outlets) days() []ground.Reading {
	var days []ground.Reading
	for d, n := range o.counts {
		days = append(days, ground.Reading{Depth: d.depth, Day: float64(d.day) + 0.5, C: o.sums[d] / float64(n)})
	}
	slices.SortFunc(days, func(a, b ground.Reading) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Depth, b.Depth))
	})
	return days
}
