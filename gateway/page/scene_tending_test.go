package page

import (
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
)

// tendedHouse gives h probes with values and a ground loop.
func tendedHouse(h alarms.HousePicture, now time.Time) alarms.HousePicture {
	at := now.Add(-20 * time.Second)
	h.Places = append([]alarms.PlacePicture(nil), h.Places...)
	h.Places[0].Probes = []alarms.ProbePicture{{ID: "bench-1", Name: "bench 1", Heard: at, Interval: 30 * time.Second,
		Battery: ptr(87), Signal: ptr(-71), Readings: 12044, Refused: 3, Garbled: 1,
		Values: []alarms.ProbeValue{{Quantity: alarms.Temperature, HasValue: true, Value: 24.3, At: at, Live: true},
			{Quantity: alarms.Humidity, HasValue: true, Value: 82, At: at, Live: true}, {Quantity: alarms.Battery, HasValue: true, Value: 87, At: at, Live: true}}}}
	h.Places[3].Probes = []alarms.ProbePicture{{ID: "switch-1", Name: "shutter switch", Heard: at, OutOf: true, OutSince: now.Add(-26 * time.Hour),
		OutBy: "Ben", OutNote: "the wire is being renewed", Values: []alarms.ProbeValue{{Quantity: alarms.Contact, HasValue: true, At: at}}}}
	h.Loop = sceneLoop()
	return h
}

func sceneLoop() *alarms.LoopPicture {
	day := alarms.LoopEnergy{Heat: 1.24, Cold: 0.02, Fan: 0.21, Run: 5 * time.Hour, Watched: 12 * time.Hour}
	return &alarms.LoopPicture{Known: true, Running: true, House: ptr(24.3), Watts: ptr(-212), FanWatts: ptr(55), PerFanWatt: ptr(3.9),
		Today: day, Yesterday: day, Total: alarms.LoopEnergy{Heat: 412, Cold: 98, Fan: 77, Run: 2100 * time.Hour},
		Want: "cooling", Better: ptr(2.3), Sentence: "The loop fan runs. The ground takes 212 W out of the house now, 3.9 W for each W of the fan.",
		Depths: "The house wants cooling: the pipe at 2.3 m is the better one now; its air leaves at 13.8 °C, at 1.5 m 15.1 °C.",
		Sums:   "Today the loop brought 1.2 kWh of heat.",
		Pipes: []alarms.PipePicture{
			{Outlet: "loop-outlet", Name: "Loop outlet 1.5 m", Depth: 1.5, Moving: true, Temperature: ptr(15.1), Humidity: ptr(88), Ground: ptr(13.2),
				Effectiveness: ptr(0.83), Learned: ptr(0.81), Watts: ptr(-98), Today: day, Yesterday: day,
				Sentence: "The pipe at 1.5 m brings air of 15.1 °C, 98 W of cold; the ground there should be at 13.2 °C, so it gives 83 % of the difference to the house."},
			{Outlet: "loop-outlet-2", Name: "Loop outlet 2.3 m", Depth: 2.3, Moving: true, Temperature: ptr(13.8), Ground: ptr(11.6), Drift: ptr(-0.4),
				Effectiveness: ptr(0.83), Watts: ptr(-114), Today: day, Yesterday: day,
				Sentence: "The pipe at 2.3 m brings air of 13.8 °C, 114 W of cold; the ground there should be at 11.6 °C, so it gives 83 % of the difference to the house."},
		}}
}

// sceneDays are 20 days of the loop, oldest first, of 1 kWh of heat each.
func sceneDays(now time.Time) (all []service.LoopDay) {
	midnight := now.Truncate(24 * time.Hour)
	for i := 20; i > 0; i-- {
		day := alarms.LoopEnergy{Heat: 1, Cold: 0.5, Fan: 0.25, Run: 6 * time.Hour, Watched: 24 * time.Hour}
		all = append(all, service.LoopDay{From: midnight.AddDate(0, 0, -i), To: midnight.AddDate(0, 0, -i+1), LoopDay: alarms.LoopDay{LoopEnergy: day,
			Pipes: []alarms.PipeDay{{Depth: 1.5, LoopEnergy: day}, {Depth: 2.3, LoopEnergy: day}}}})
	}
	return all
}

func sceneDeliveries(now time.Time) map[alarms.ProbeID]service.Delivery {
	return map[alarms.ProbeID]service.Delivery{
		"bench-1": {Day: service.Received{Got: 2874, Want: 2880}, Week: service.Received{Got: 20150, Want: 20160}, Kept: 30 * time.Second, Longest: 12 * time.Minute,
			LongestFrom: now.Add(-50 * time.Hour), Away: 3 * time.Minute},
		"ridge-1": {Day: service.Received{Got: 1200, Want: 1440}, Week: service.Received{Got: 4100, Want: 4320}, Kept: time.Minute, Longest: 2 * time.Hour,
			LongestFrom: now.Add(-5 * time.Hour), Since: now.Add(-72 * time.Hour)},
		"bed-1": {Day: service.Received{Got: 2000, Want: 2880}, Week: service.Received{Got: 19000, Want: 20160}, Kept: 29900 * time.Millisecond, Longest: 3 * time.Hour, LongestFrom: now.Add(-3 * time.Hour)},
	}
}

// sceneMixed is a line of each kind.
func sceneMixed(now time.Time) []alarms.Transition {
	line := func(id string, ago time.Duration, rule alarms.Rule, m alarms.Move, p alarms.Priority, by, says string) alarms.Transition {
		alarm, _, _ := cutLast(id)
		t := alarms.Transition{ID: id, Alarm: alarms.AlarmID(alarm), Move: m, To: alarms.Unacknowledged, Priority: p, Due: now.Add(-ago), Noticed: now.Add(-ago),
			Reason: alarms.Reason{Rule: rule, House: "long-house", By: by}, Sentence: says}
		if m == alarms.Note || m == alarms.Ack {
			t.From, t.To = alarms.Normal, alarms.Normal
		}
		return t
	}
	return []alarms.Transition{
		line(ridge+"#3", 14*time.Minute, alarms.RuleLimit, alarms.Worsen, alarms.High, "", "Far too hot in Long House, ridge: 41.2 °C (limit 40.0 °C) since 11:48."),
		line(ridge+"#2", 20*time.Minute, alarms.RuleLimit, alarms.Raise, alarms.Medium, "", "Too hot in Long House, ridge: 36.4 °C (limit 36.0 °C) since 11:42."),
		line("long-house/season#1", 3*time.Hour, alarms.RulePerson, alarms.Note, alarms.Low, "Ada", "Long House: the season was changed to \"open\" by Ada. Limits change over 60 min."),
		line("long-house/exhaust-fan/switching#9", 4*time.Hour, alarms.RuleSwitching, alarms.Note, alarms.Low, "", "The exhaust fan was called at 29.6 °C 08:02:10, ran after 40 s, stopped at 26.9 °C 08:31."),
		line("watch/restart#2", 5*time.Hour, alarms.RuleRestart, alarms.Note, alarms.Low, "", "The watch was away from 06:59 to 07:02 (3 min). Nothing was watched in that time."),
	}
}

func cutLast(id string) (before, after string, ok bool) {
	for i := len(id) - 1; i >= 0; i-- {
		if id[i] == '#' {
			return id[:i], id[i+1:], true
		}
	}
	return id, "", false
}

// sceneTellings are tellings of every outcome, newest first.
func sceneTellings(now time.Time) []service.Telling {
	of, quiet := sceneMixed(now)[0], sceneMixed(now)[2]
	at := func(ago time.Duration) time.Time { return now.Add(-ago) }
	return []service.Telling{
		{Seq: 9, Person: "Ben", Channel: "mail", Of: of, Planned: now.Add(6 * time.Minute), Outcome: service.ToldWaiting, Next: now.Add(6 * time.Minute), Waits: service.WaitsAnswer, Kind: "mail"},
		{Seq: 8, Person: "Ada", Channel: "phone", Of: of, Planned: at(14 * time.Minute), Outcome: service.ToldHandedOver, Kind: "push", At: at(14*time.Minute - time.Second), Tries: 1},
		{Seq: 7, Person: "Ada", Channel: "mail", Of: of, Planned: at(14 * time.Minute), Outcome: service.ToldFailed, At: at(time.Minute), Tries: 3, Next: now.Add(4 * time.Minute),
			Why: "mail.example.org refused the connection"},
		{Seq: 6, Person: "Ada", Channel: "phone", Of: sceneMixed(now)[1], Planned: at(20 * time.Minute), Outcome: service.ToldDelivered, At: at(20 * time.Minute), Tries: 2},
		{Seq: 5, Person: "Ben", Channel: "mail", Of: sceneMixed(now)[1], Planned: at(10 * time.Minute), Outcome: service.ToldNotNeeded},
		{Seq: 4, Person: "Ben", Channel: "mail", Test: true, Of: alarms.Transition{ID: "test/1", Sentence: "A test."}, Planned: at(30 * time.Hour), Outcome: service.ToldGivenUp,
			At: at(28 * time.Hour), Tries: 12, Why: "no such mailbox"},
		{Seq: 3, Person: "Cat", Channel: "trial", Kind: "mail", Of: quiet, Planned: at(4 * time.Hour), Outcome: service.ToldRehearsed, At: at(4 * time.Hour)},
		{Seq: 2, Person: "Cat", Channel: "sms", Kind: "text", Of: quiet, Planned: at(5 * time.Hour), Outcome: service.ToldUndelivered, At: at(4*time.Hour + 30*time.Minute), Tries: 1, Why: "the number does not answer"},
	}
}
