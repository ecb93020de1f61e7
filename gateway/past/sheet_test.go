package past

import (
	"math"
	"testing"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/store"
)

// loopPlan is a house with a loop of two depths, whose pipe at 1.5 m has a damper.
func loopPlan(fan alarms.DriveID) alarms.Plan {
	place := func(id alarms.PlaceID, q ...alarms.Quantity) alarms.Place {
		p := alarms.Probe{ID: alarms.ProbeID(id), Every: 10 * time.Minute}
		for _, q := range q {
			p.Streams = append(p.Streams, alarms.Stream{Quantity: q})
		}
		return alarms.Place{ID: id, Probes: []alarms.Probe{p}}
	}
	contact := func(id alarms.ProbeID) alarms.Evidence {
		return alarms.Evidence{Probe: id, Quantity: alarms.Contact}
	}
	h := alarms.House{ID: "long-house", Latitude: 52, Longitude: -1, Season: alarms.SeasonWinter,
		Places: []alarms.Place{place("attic", alarms.Temperature), place("bench", alarms.Temperature, alarms.Humidity), place("upper", alarms.Temperature), place("lower", alarms.Temperature),
			place("loop-contact", alarms.Contact), place("damper", alarms.Contact)},
		Drives: []alarms.Drive{{ID: "loop", Kind: alarms.LoopFan, Evidence: []alarms.Evidence{contact("loop-contact")}}},
		Loop: &alarms.Loop{House: "bench", Fan: fan, Soil: &alarms.Ground{Mean: 10, Swing: 9, Coldest: 36, Diffusivity: 0.05},
			Pipes: []alarms.Pipe{{Outlet: "lower", Depth: 2.3, Flow: 0.1}, {Outlet: "upper", Depth: 1.5, Flow: 0.1, Damper: contact("damper")}}}}
	if fan == "" {
		h.Loop.Runs = contact("loop-contact")
	}
	return alarms.Plan{Houses: []alarms.House{h}}
}

// The sheet counts the air of a pipe only while it moved: by the runs of the loop fan or
// by what shows that it runs, and with the damper open. Months, fan hours and days
// without readings are those of what was written.
func TestYearFromTheStore(t *testing.T) {
	s, err := store.Open(t.TempDir()+"/store", store.Options{RawFor: 20 * 24 * time.Hour, MaxReadings: 10_000_000, MaxWaiting: 32 << 20})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	begin, now := time.Date(2025, 12, 20, 0, 0, 0, 0, time.UTC), time.Date(2026, 2, 11, 6, 0, 0, 0, time.UTC)
	fill(t, s, begin, now)
	for _, fan := range []alarms.DriveID{"loop", ""} {
		a := New(Options{Store: s, Plan: loopPlan(fan), Now: func() time.Time { return now }})
		y, err := a.Year(t.Context(), "long-house", tally.CalendarYear(2026, time.UTC))
		if err != nil {
			t.Fatal(err)
		}
		if y.Felt != tally.FeltAtLoop || y.Warmth.Cells[0].Min != 4 || y.Warmth.Cells[0].Max != 22 || math.Abs(y.Warmth.Cells[0].Mean-13) > 0.01 {
			t.Errorf("fan %q: January is %+v, by %s: want 4 to 22, 13 in the mean, by the air that enters the pipes", fan, y.Warmth.Cells[0], y.Felt)
		}
		if math.Abs(y.Moisture.Mean-70) > 0.01 || y.Counted.To != now {
			t.Errorf("fan %q: humidity %+v, counted to %v", fan, y.Moisture.Cell, y.Counted.To)
		}
		blank, days := y.Blank(time.UTC)
		if days != 2 || len(blank) != 1 || !blank[0].From.Equal(time.Date(2026, 1, 14, 0, 0, 0, 0, time.UTC)) {
			t.Errorf("fan %q: without readings are %d days: %v, want 14 and 15 January", fan, days, blank)
		}
		// The fan ran six hours on each of 29 days of January and 11 of February, where it ran until now.
		if len(y.Fans) != 1 || y.Fans[0].Kind != alarms.LoopFan || y.Fans[0].Months[0].Ran != 29*6*time.Hour || y.Fans[0].Months[1].Ran != 10*6*time.Hour || y.Fans[0].Months[2].Known {
			t.Errorf("fan %q: the fans ran %+v", fan, y.Fans)
		}
		if len(y.Depths) != 2 || y.Depths[0].Depth != 1.5 || y.Depths[1].Depth != 2.3 {
			t.Fatalf("fan %q: depths %+v", fan, y.Depths)
		}
		for i, want := range []struct {
			air   float64
			known time.Duration // of a day
		}{{8, 3 * time.Hour}, {9, 6 * time.Hour}} {
			d := y.Depths[i]
			if c := d.Months[0].Outlet; c.Min != want.air || c.Max != want.air || c.Known > 29*want.known || c.Known < 29*(want.known-10*time.Minute) {
				t.Errorf("fan %q: at %v m the air of January is %+v, want %v °C for %v of 29 days", fan, d.Depth, c, want.air, want.known)
			}
			if d.Months[2].Outlet.Known != 0 || d.Wave != nil || d.Ground == nil {
				t.Errorf("fan %q: at %v m: %+v", fan, d.Depth, d)
			}
		}
	}
	if _, err := New(Options{Store: s, Plan: loopPlan(""), Now: func() time.Time { return now }}).Year(t.Context(), "hot-house", tally.CalendarYear(2026, time.UTC)); err == nil {
		t.Error("there is a year of no house")
	}
}

// fill writes readings every 10 minutes, none on 14 and 15 January: the fan runs from
// 12:00 to 18:00, the damper of the upper pipe is open until 15:00; air that stands in a
// pipe is as warm as the house or warmer.
func fill(t *testing.T, s *store.Store, begin, now time.Time) {
	t.Helper()
	var log []alarms.Transition
	for at := begin; at.Before(now); at = at.Add(10 * time.Minute) {
		ended := at.Hour() == 23 && at.Minute() == 50
		if missing := at.Year() == 2026 && (at.YearDay() == 14 || at.YearDay() == 15); !missing {
			runs, open := at.Hour() >= 12 && at.Hour() < 18, at.Hour() < 15
			warm, upper, lower := 4.0, 21.0, 23.0
			if at.Hour() >= 12 {
				warm = 22
			}
			if runs {
				lower = 9
			}
			if runs && open {
				upper = 8
			}
			truth := map[bool]float64{true: 1}
			for probe, v := range map[alarms.ProbeID]float64{"attic": 40, "bench": warm, "upper": upper, "lower": lower} {
				s.Append(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: probe, Quantity: alarms.Temperature, Value: v})
			}
			s.Append(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: "bench", Quantity: alarms.Humidity, Value: 70})
			for probe, v := range map[alarms.ProbeID]float64{"loop-contact": truth[runs], "damper": truth[open]} {
				s.Append(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: probe, Quantity: alarms.Contact, Value: v})
			}
			if noon := at.Truncate(24 * time.Hour).Add(12 * time.Hour); ended {
				l := ranLine(len(log), "loop", noon, noon.Add(6*time.Hour), false)
				log = append(log, l)
			}
		}
		if ended {
			if err := s.Checkpoint([]byte("state")); err != nil {
				t.Fatal(err)
			}
			if _, err := s.Retain(t.Context(), at); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := s.Save(log, nil); err != nil {
		t.Fatal(err)
	}
}
