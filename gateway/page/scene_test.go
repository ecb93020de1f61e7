package page

import (
	"fmt"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/scenes"
)

func ptr(v float64) *float64 { return &v }

// scene is a garden on a bad day: a ridge too hot, a shelved alarm, a silent
// probe and a house of which only stored values are known.
func scene(now time.Time) alarms.Picture {
	ago := func(d time.Duration) time.Time { return now.Add(-d) }
	return alarms.Picture{
		At: now, Link: true, LinkSince: ago(4 * time.Hour), Newest: ago(20 * time.Second),
		Sentence: "Not all is well: the ridge of Long House is too hot, and Low House is not heard.",
		Houses:   []alarms.HousePicture{longHouse(now), lowHouse(now)},
		Alarms: []alarms.AlarmPicture{
			{ID: "long-house/ridge/temperature/high", Transition: "long-house/ridge/temperature/high#3",
				State: alarms.Unacknowledged, Level: alarms.Inner, Priority: alarms.High, House: "long-house",
				Place: "ridge", Quantity: alarms.Temperature, Rule: alarms.RuleLimit, Since: ago(14 * time.Minute), Active: true,
				Title: "Long House, ridge: far too hot", First: "Check first: is the exhaust fan running and the intake shutter open?",
				Left: "With the exhaust fan as it is: 8 min to 45.0 °C (5 to 14 min).",
				Sentence: "Far too hot in Long House, ridge: 41.2 °C now (limit 40.0 °C); rising 3.2 °C an hour; " +
					"40.1 °C when raised at 11:48. Check first: is the exhaust fan running and the intake shutter open?",
				Told: "Far too hot in Long House, ridge: 40.1 °C (limit 40.0 °C) since 11:47.",
				Present: alarms.Present{Quantity: alarms.Temperature, Value: ptr(41.2), At: ago(20 * time.Second), Probe: "ridge-1", Live: true,
					Rate: ptr(3.2), Limit: ptr(40), Beyond: ptr(1.2), Worst: ptr(41.2), WorstAt: ago(20 * time.Second),
					First: ptr(40.1), FirstAt: ago(14 * time.Minute)}},
			{ID: "low-house/bed/bed-1/silent", Transition: "low-house/bed/bed-1/silent#1",
				State: alarms.Unacknowledged, Level: alarms.Outer, Priority: alarms.Medium, House: "low-house",
				Place: "bed", Rule: alarms.RuleSilent, Since: ago(3 * time.Hour), Active: true, Title: "Low House, bed: probe bed 1 silent",
				Sentence: "Probe bed 1 of Low House has been silent since 09:02; it should be heard every 30 s."},
			{ID: "long-house/bench/humidity/high", Transition: "long-house/bench/humidity/high#5",
				State: alarms.ReturnedUnack, Level: alarms.Outer, Priority: alarms.Low, House: "long-house",
				Place: "bench", Quantity: alarms.Humidity, Rule: alarms.RuleLimit, Since: ago(40 * time.Minute),
				Sentence: "Bench of Long House: humidity is back below 85 %; it was above for 25 min, 91 % at most."},
			{ID: "long-house/outside/temperature/low", Transition: "long-house/outside/temperature/low#2",
				State: alarms.Shelved, Priority: alarms.Low, House: "long-house", Since: ago(2 * time.Hour),
				Until: now.Add(2 * time.Hour), Active: true, Sentence: "Too cold in Long House, outside: 1.5 °C (limit 2.0 °C)."},
			{ID: "low-house/bed/unwatched", Transition: "low-house/bed/unwatched#1", State: alarms.SuppressedByDesign,
				Priority: alarms.Medium, House: "low-house", Since: ago(3 * time.Hour), Active: true,
				Cause: "low-house/bed/bed-1/silent", Title: "Low House, bed: unwatched", Sentence: "Nobody watches the bed of Low House: it has no healthy probe."},
			{ID: "long-house/inlet/inlet-1/silent", Transition: "x#1", State: alarms.OutOfService,
				Priority: alarms.Low, House: "long-house", Since: ago(50 * time.Hour), Sentence: "Probe inlet 1 is taken out of service."},
		},
	}
}

func longHouse(now time.Time) alarms.HousePicture {
	at := now.Add(-20 * time.Second)
	return alarms.HousePicture{
		ID: "long-house", Name: "Long House", Season: alarms.SeasonOpen, Daypart: alarms.Day, Newest: at, Worst: alarms.High,
		Sentence: "The ridge of Long House is too hot, 41.2 °C; everything else is in its band.",
		Drives:   sceneDrives(now), Selectors: sceneSelectors(), Openings: sceneOpenings(now),
		Places: []alarms.PlacePicture{
			{ID: "bench", Name: "Bench", Points: []alarms.PointPicture{
				{Quantity: alarms.Temperature, HasValue: true, Value: 24.3, At: at, Live: true, Probe: "bench-1",
					Limits: scenes.Limits(8, 12, 32, 38), Rate: ptr(1.4)},
				{Quantity: alarms.Humidity, HasValue: true, Value: 82, At: at, Live: true, Probe: "bench-1",
					Limits: alarms.Limits{High: alarms.At(85)}},
				{Quantity: alarms.DewMargin, HasValue: true, Value: 2.1, At: at, Live: true,
					Limits: alarms.Limits{Low: alarms.At(1)}},
			}, Probes: []alarms.ProbePicture{{ID: "bench-1", Name: "bench 1", Heard: at, Interval: 30 * time.Second,
				Battery: ptr(87), Signal: ptr(-71), Readings: 12044, Refused: 3}}},
			{ID: "ridge", Name: "Ridge", Points: []alarms.PointPicture{
				{Quantity: alarms.Temperature, HasValue: true, Value: 41.2, At: at, Live: true, Probe: "ridge-1",
					Limits: scenes.Limits(8, 12, 36, 40), Level: alarms.Inner, Side: alarms.HighSide, Rate: ptr(3.2)},
			}, Probes: []alarms.ProbePicture{{ID: "ridge-1", Name: "ridge 1", Heard: at, Interval: time.Minute, Learned: true,
				Readings: 881, Faults: []alarms.Fault{alarms.FaultBattery}, Battery: ptr(11)}}},
			{ID: "loop-outlet", Name: "Loop outlet 2.3 m", Points: []alarms.PointPicture{
				{Quantity: alarms.Temperature, HasValue: true, Value: 13.8, At: at, Live: true}}},
			{ID: "shutter", Name: "Intake shutter", Points: []alarms.PointPicture{
				{Quantity: alarms.Contact, HasValue: true, Value: 0, Shows: "is shut", At: at, Live: true}}},
			{ID: "outside", Name: "Outside", Points: []alarms.PointPicture{
				{Quantity: alarms.Temperature, HasValue: true, Value: 1.5, At: at, Live: true, Level: alarms.Outer,
					Side: alarms.LowSide, Limits: alarms.Limits{Low: alarms.At(2)}}}},
			{ID: "seedlings", Name: "Seedlings", Points: []alarms.PointPicture{
				{Quantity: alarms.Soil, HasValue: true, Value: 18.6, At: at, Live: true},
				{Quantity: alarms.Moisture, HasValue: true, Value: 16.4, At: at, Live: true, Limits: scenes.Limits(12, 18, 45, 55),
					Level: alarms.Outer, Side: alarms.LowSide, Rate: ptr(-1.6)},
				{Quantity: alarms.Light, HasValue: true, Value: 23.1, At: at, Live: true, Limits: alarms.Limits{High: alarms.At(25)}}}},
			{ID: "tank", Name: "Rain tank", Points: []alarms.PointPicture{
				{Quantity: alarms.Fullness, HasValue: true, Value: 64, At: at, Live: true, Limits: alarms.Limits{Low: alarms.At(20), High: alarms.At(95)},
					Rate: ptr(-3.0)}}},
		},
	}
}

func lowHouse(now time.Time) alarms.HousePicture {
	return alarms.HousePicture{
		ID: "low-house", Name: "Low House", Season: alarms.SeasonOpen, Daypart: alarms.Day, Worst: alarms.Medium,
		Newest:   now.Add(-3 * time.Hour),
		Sentence: "Low House is not heard: its probe bed 1 has been silent since 09:02.",
		Places: []alarms.PlacePicture{
			{ID: "bed", Name: "Propagation bed", Points: []alarms.PointPicture{
				{Quantity: alarms.Soil, HasValue: true, Value: 18.4, At: now.Add(-3 * time.Hour), Limits: scenes.Limits(15, 18, 24, 28)},
				{Quantity: alarms.Temperature, HasValue: true, Value: 16.2, At: now.Add(-4 * time.Hour), Retained: true,
					Limits: scenes.Limits(5, 10, 28, 33)}},
				Probes: []alarms.ProbePicture{{ID: "bed-1", Name: "bed 1", Heard: now.Add(-3 * time.Hour),
					Interval: 30 * time.Second, Silent: true, Readings: 240, Garbled: 2}}},
			{ID: "frame", Name: "Cold frame", Points: []alarms.PointPicture{{Quantity: alarms.Temperature,
				Limits: scenes.Limits(-2, 2, 25, 30)}},
				Probes: []alarms.ProbePicture{{ID: "frame-1", Name: "frame 1"}}},
		},
	}
}

// sceneLog is 120 transitions, newest first; ten of them, with numbers 45 to
// 54, happened at one moment.
func sceneLog(now time.Time) []alarms.Transition {
	var out []alarms.Transition
	for i := 0; i < 120; i++ {
		n := i
		if i >= 45 && i < 55 {
			n = 45
		}
		due := now.Add(-time.Duration(n+1) * 7 * time.Minute)
		t := alarms.Transition{ID: fmt.Sprintf("a#%d", i), Alarm: "a", Due: due, Noticed: due, Priority: alarms.Medium,
			Move: alarms.Raise, Sentence: fmt.Sprintf("Entry %d: the bench of Long House was too warm, 33.1 °C.", i)}
		if i%2 == 1 {
			t.Move, t.Sentence = alarms.Return, fmt.Sprintf("Entry %d: the bench of Long House is back in its band.", i)
		}
		if i == 3 {
			t.Noticed = due.Add(5 * time.Minute)
		}
		out = append(out, t)
	}
	return out
}
