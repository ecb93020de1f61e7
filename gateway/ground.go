package gateway

import (
	"cmp"
	"fmt"
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
func FitGround(o ReplayOptions) ([]FittedGround, Replayed, error) {
	r := Replayed{}
	values, err := r.read(o)
	if err != nil {
		return nil, r, err
	}
	r.Readings = len(values)
	var all []FittedGround
	for i := range o.Config.Plan.Houses {
		if h := &o.Config.Plan.Houses[i]; h.Loop != nil {
			fanFirst(h.Loop, values)
			days := outletDays(h, values)
			f := FittedGround{House: h.ID, Days: len(days)}
			f.Fit, f.Err = ground.FitSoil(days, ground.Surface{})
			all = append(all, f)
		}
	}
	if len(all) == 0 {
		return nil, r, fmt.Errorf("%s names no ground loop: add [house.NAME.loop]", o.Config.File)
	}
	return all, r, nil
}

// fanFirst sorts values by time; what shows whether the fan runs stands before
// the other readings of its moment.
func fanFirst(l *alarms.Loop, values []decode.Value) {
	late := func(v decode.Value) int {
		if v.Probe == l.Runs.Probe && v.Quantity == l.Runs.Quantity {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(values, func(a, b decode.Value) int {
		return cmp.Or(a.Measured.Compare(b.Measured), late(a)-late(b))
	})
}

type outletDay struct {
	depth float64
	day   int
}

// outletDays returns the daily means of h's outlets, oldest first.
func outletDays(h *alarms.House, values []decode.Value) []ground.Reading {
	depths := map[alarms.ProbeID]float64{}
	for _, pipe := range h.Loop.Pipes {
		for _, p := range h.Places {
			for _, pr := range p.Probes {
				if p.ID == pipe.Outlet {
					depths[pr.ID] = pipe.Depth
				}
			}
		}
	}
	if len(values) == 0 {
		return nil
	}
	base := time.Date(values[0].Measured.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	runs, known := true, false
	sums := map[outletDay]float64{}
	counts := map[outletDay]int{}
	for _, v := range values {
		if e := h.Loop.Runs; v.Probe == e.Probe && v.Quantity == e.Quantity && e.Probe != "" {
			runs, known = (v.Value >= e.Above.Value) != e.Inverted, true
			continue
		}
		depth, ok := depths[v.Probe]
		if !ok || v.Quantity != alarms.Temperature || known && !runs {
			continue
		}
		d := outletDay{depth, int(v.Measured.Sub(base).Hours() / 24)}
		sums[d] += v.Value
		counts[d]++
	}
	var days []ground.Reading
	for d, n := range counts {
		days = append(days, ground.Reading{Depth: d.depth, Day: float64(d.day) + 0.5, C: sums[d] / float64(n)})
	}
	slices.SortFunc(days, func(a, b ground.Reading) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Depth, b.Depth))
	})
	return days
}
