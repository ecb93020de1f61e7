// Package scenes is the garden that tests of the page draw. No program uses it.
package scenes

import (
	"time"
	_ "time/tzdata" // the zone of Berlin, on any machine

	"telltale/alarms"
	"telltale/gateway/page/service"
)

// Noon is when it is in the scenes.
var Noon = time.Date(2026, 6, 21, 12, 2, 10, 0, time.UTC)

// Limits sets all four.
func Limits(lowLow, low, high, highHigh float64) alarms.Limits {
	return alarms.Limits{LowLow: alarms.At(lowLow), Low: alarms.At(low), High: alarms.At(high), HighHigh: alarms.At(highHigh)}
}

// Forms are the houses of Thimble Garth as the demo describes them.
func Forms() []service.Form {
	return []service.Form{
		{House: "long-house", LeanTo: true, Width: 3.5, Length: 6, Eaves: 1.7, Ridge: 2.8,
			Bench: []service.Bench{{From: 2.3, To: 3.35, Height: 0.8}, {From: 0.75, To: 1.75, Height: 0.25}},
			Places: map[alarms.PlaceID]service.Position{"bench": {Across: 2.6, Height: 1.05}, "ridge": {Across: 0.7, Height: 2.3}, "intake": {Across: 0.3, Height: 0.55}, "bed": {Across: 1.25, Height: 0.15},
				"outside": {Across: 4.1, Height: 1.5}, "loop-shallow": {Across: 2.1, Height: -1.5}, "loop-deep": {Across: 2.1, Height: -2.3}},
			Drives: map[alarms.DriveID]service.Position{"exhaust": {Across: 0, Height: 2.45}, "shutter": {Across: 0, Height: 0.5}, "loop": {Across: 0.525, Height: 0.2}}},
		{House: "low-house", Width: 2.4, Length: 4, Eaves: 1.2, Ridge: 2, Bench: []service.Bench{{From: 0.1, To: 0.9, Height: 0.7}, {From: 1.5, To: 2.3, Height: 0.7}},
			Places: map[alarms.PlaceID]service.Position{"bench": {Across: 0.5, Height: 0.9}, "bed": {Across: 1.9, Height: 0.65}},
			Drives: map[alarms.DriveID]service.Position{"exhaust": {Across: 1.2, Height: 1.8}, "warmth": {Across: 1.44, Height: 0.25}}},
	}
}

// Plain are the same houses where nobody has said what they look like.
func Plain() []service.Form {
	return []service.Form{
		{House: "long-house", Plain: true, Width: 3, Eaves: 1.8, Ridge: 2.6,
			Places: map[alarms.PlaceID]service.Position{"bench": {Across: 1.65, Height: 1.1}, "ridge": {Across: 1.5, Height: 2.3}, "intake": {Across: 0.24, Height: 0.4}, "bed": {Across: 1.35, Height: 0.1},
				"outside": {Across: 3.45, Height: 1.44}, "loop-shallow": {Across: 1.8, Height: -1.5}, "loop-deep": {Across: 1.8, Height: -2.3}},
			Drives: map[alarms.DriveID]service.Position{"exhaust": {Across: 1.5, Height: 2.34}, "shutter": {Across: 0, Height: 0.4}, "loop": {Across: 0.45, Height: 0.2}}},
		{House: "low-house", Plain: true, Width: 3, Eaves: 1.8, Ridge: 2.6,
			Places: map[alarms.PlaceID]service.Position{"bench": {Across: 1.65, Height: 1.1}, "bed": {Across: 1.35, Height: 0.1}},
			Drives: map[alarms.DriveID]service.Position{"exhaust": {Across: 1.5, Height: 2.34}, "warmth": {Across: 1.8, Height: 0.25}}},
	}
}

// Garden is the demo's garden on a good day.
func Garden(now time.Time) alarms.Picture {
	at := now.Add(-5 * time.Second)
	pt := func(q alarms.Quantity, v float64, l alarms.Limits) alarms.PointPicture {
		return alarms.PointPicture{Quantity: q, HasValue: true, Value: v, At: at, Live: true, Limits: l}
	}
	place := func(id, name string, points ...alarms.PointPicture) alarms.PlacePicture {
		return alarms.PlacePicture{ID: alarms.PlaceID(id), Name: name, Points: points,
			Probes: []alarms.ProbePicture{{ID: alarms.ProbeID(id + "-1"), Name: name + " 1", Heard: at, Interval: 30 * time.Second, Readings: 9}}}
	}
	none := alarms.Limits{}
	drive := func(id, name string, kind alarms.DriveKind, state alarms.DriveState, does string) alarms.DrivePicture {
		return alarms.DrivePicture{ID: alarms.DriveID(id), Name: name, Kind: kind, State: state, Does: does, Call: "between", Evidenced: true,
			Sentence: "The " + name + " switched as it should."}
	}
	guess := 0.2
	inferred := drive("exhaust", "exhaust fan", alarms.ExhaustFan, alarms.DriveUnknown, "probably stands still")
	inferred.Evidenced, inferred.Inferred = false, &guess
	long := alarms.HousePicture{ID: "long-house", Name: "Long House", Season: alarms.SeasonOpen, Daypart: alarms.Day, Newest: at,
		Sentence: "All is well in Long House.",
		Drives: []alarms.DrivePicture{drive("exhaust", "exhaust fan", alarms.ExhaustFan, alarms.DriveRunning, "runs"),
			drive("shutter", "intake shutter", alarms.IntakeShutter, alarms.DriveRunning, "is open"),
			drive("loop", "loop fan", alarms.LoopFan, alarms.DriveRunning, "runs")},
		Places: []alarms.PlacePicture{
			place("bench", "bench", pt(alarms.Temperature, 31.3, Limits(5, 10, 33, 37)), pt(alarms.Humidity, 52, none), pt(alarms.VPD, 2.2, none)),
			place("ridge", "ridge", pt(alarms.Temperature, 32.7, alarms.Limits{High: alarms.At(45)})),
			place("intake", "intake", pt(alarms.Temperature, 25.4, none)),
			place("loop-shallow", "loop outlet, 1.5 m", pt(alarms.Temperature, 19, none), pt(alarms.Humidity, 91, none)),
			place("loop-deep", "loop outlet, 2.3 m", pt(alarms.Temperature, 18.2, none), pt(alarms.Humidity, 90, none)),
			place("bed", "bed", pt(alarms.Soil, 23.4, none)),
			place("exhaust-fan", "exhaust fan", pt(alarms.Current, 0.33, none), pt(alarms.Power, 68, none)),
			place("outside", "outside", pt(alarms.Temperature, 25.3, none), pt(alarms.Humidity, 58, none)),
		},
		Loop: &alarms.LoopPicture{Known: true, Running: true, Sentence: "The loop fan runs.", Depths: "The deeper one is better.", Sums: "Today 2 kWh.",
			Pipes: []alarms.PipePicture{{Outlet: "loop-shallow", Name: "loop outlet, 1.5 m", Depth: 1.5, Moving: true, Sentence: "It moves."},
				{Outlet: "loop-deep", Name: "loop outlet, 2.3 m", Depth: 2.3, Moving: true, Sentence: "It moves."}}},
	}
	low := alarms.HousePicture{ID: "low-house", Name: "Low House", Season: alarms.SeasonOpen, Daypart: alarms.Day, Newest: at,
		Sentence: "All is well in Low House.",
		Drives:   []alarms.DrivePicture{inferred, drive("warmth", "heater", alarms.Heater, alarms.DriveStanding, "is off")},
		Places: []alarms.PlacePicture{
			place("bench", "bench", pt(alarms.Temperature, 27.7, Limits(3, 6, 40, 45)), pt(alarms.Humidity, 56, none)),
			place("bed", "bed", pt(alarms.Soil, 29.4, none)),
			place("heater", "heater", pt(alarms.Power, 0, none))},
	}
	long.Places[0].Outlook, low.Places[0].Outlook = rising(now), TooNew()
	return alarms.Picture{At: now, Link: true, LinkSince: now.Add(-time.Hour), Newest: at, Sentence: "All is well.",
		Houses: []alarms.HousePicture{long, low}}
}

// Berlin is a zone in which clocks went from 02:00 to 03:00 on 29 March 2026 and
// from 03:00 to 02:00 on 25 October 2026 (last Sundays, Directive 2000/84/EC).
func Berlin() *time.Location {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		panic(err) // it is built in
	}
	return zone
}
