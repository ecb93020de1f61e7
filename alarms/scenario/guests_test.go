package scenario_test

import (
	"math/rand/v2"
	"slices"
	"time"

	"telltale/alarms"
)

// The other house, whose troubles must be its own.
const guestHouse = "potting-shed"

func guestPlan(plan alarms.Plan) alarms.Plan {
	guest := alarms.House{
		ID: guestHouse, Name: "Potting Shed", Season: alarms.SeasonOpen,
		Day:      alarms.DayRule{Fixed: true, Start: 7 * time.Hour, End: 19 * time.Hour},
		Circuits: []alarms.Circuit{{ID: "north"}, {ID: "south"}},
		Places: []alarms.Place{{
			ID: "bench",
			Bands: []alarms.Band{{Quantity: alarms.Temperature,
				Limits: alarms.Limits{Low: alarms.At(10), High: alarms.At(30), HighHigh: alarms.At(34)}}},
			Rates: []alarms.RateLimit{{Quantity: alarms.Temperature, Rise: alarms.At(5)}},
			Probes: []alarms.Probe{
				{ID: "shed-1", Circuit: "north", Every: 30 * time.Second, Streams: []alarms.Stream{{Quantity: alarms.Temperature, Jump: -1}}},
				{ID: "shed-2", Circuit: "north", Streams: []alarms.Stream{{Quantity: alarms.Temperature, Jump: -1}}},
			},
		}, {
			ID:     "ridge",
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(30)}}},
			Probes: []alarms.Probe{{ID: "shed-3", Every: time.Hour, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}},
		}},
	}
	plan.Houses = append([]alarms.House{guest}, plan.Houses...)
	return plan
}

// withGuests puts the other house's inputs between the inputs: heat, faults,
// silences and a person's acts, at times that depend on seed alone. Its probes
// are heard often enough that the house never falls silent as a whole.
func withGuests(plan alarms.Plan, inputs []alarms.Input, seed uint64) []alarms.Input {
	rnd := rand.New(rand.NewPCG(seed, 2))
	extra := map[int][]alarms.Input{}
	gap(inputs, func(i int, from, to time.Time) {
		for at := from; at.Before(to); at = at.Add(20 * time.Minute) {
			extra[i] = append(extra[i], alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: "shed-3",
				Quantity: alarms.Temperature, Value: 20 + float64(rnd.IntN(120))/10})
		}
		for range rnd.IntN(3) {
			in := guestInput(rnd)
			in.At = from.Add(time.Duration(rnd.Int64N(int64(to.Sub(from)) + 1)))
			extra[i] = append(extra[i], in)
		}
		slices.SortStableFunc(extra[i], func(a, b alarms.Input) int { return a.At.Compare(b.At) })
	})
	return insert(inputs, extra)
}

func guestInput(rnd *rand.Rand) alarms.Input {
	probe := [...]alarms.ProbeID{"shed-1", "shed-2", "shed-3"}[rnd.IntN(3)]
	switch rnd.IntN(12) {
	case 0:
		return alarms.Input{Kind: alarms.GarbledIn, Probe: probe, Note: "no number"}
	case 1:
		return alarms.Input{Kind: alarms.Acknowledge, Alarm: guestHouse + "/bench/temperature/high", By: "grower"}
	case 2:
		return alarms.Input{Kind: alarms.TakeOut, Probe: probe, By: "grower"}
	case 3:
		return alarms.Input{Kind: alarms.PutBack, Probe: probe, By: "grower"}
	case 4:
		season := alarms.Seasons[rnd.IntN(len(alarms.Seasons))]
		return alarms.Input{Kind: alarms.SetSeason, House: guestHouse, Season: season, By: "grower"}
	}
	values := [...]float64{20, 25, 31, 36, 5, 85, -127}
	return alarms.Input{Kind: alarms.ReadingIn, Probe: probe, Quantity: alarms.Temperature, Value: values[rnd.IntN(len(values))]}
}
