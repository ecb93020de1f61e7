package say_test

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

func TestAMomentIsNotMeasured(t *testing.T) {
	for lasted, want := range map[time.Duration]string{
		0: "", 400 * time.Millisecond: "", 600 * time.Millisecond: " after 1 s", 2 * time.Hour: " after 2 h",
	} {
		of := alarms.Subject{Alarm: "watch/broker/silent", Rule: alarms.RuleLink}
		tr := alarms.Transition{Move: alarms.Return, Reason: alarms.Reason{Lasted: lasted}, Background: &alarms.Background{Of: of}}
		if got := say.Transition(&alarms.Plan{}, &tr, say.Locale{}); got != "The broker is reached again"+want+". Readings are awaited." {
			t.Errorf("%v: got %q, want %q", lasted, got, want)
		}
	}
}

func TestADarkPlaceIsLookedAtWithWhatFits(t *testing.T) {
	for _, c := range []struct {
		dark []alarms.Quantity
		want string
	}{
		{[]alarms.Quantity{alarms.Humidity, alarms.Temperature}, "look at a thermometer there yourself"},
		{[]alarms.Quantity{alarms.Humidity}, "look at a hygrometer and the leaves yourself"},
		{[]alarms.Quantity{alarms.Soil}, "look at a thermometer in the soil there yourself"},
		{[]alarms.Quantity{alarms.Surface}, "look at the leaves there yourself"},
		{[]alarms.Quantity{alarms.Power}, "look there yourself"},
	} {
		of := alarms.Subject{Rule: alarms.RuleUnwatched}
		ts := []alarms.Transition{{Reason: alarms.Reason{Quantities: c.dark}, Background: &alarms.Background{Of: of, First: &alarms.First{}}}}
		say.Complete(&alarms.Plan{}, ts, say.Locale{})
		if got := ts[0].Reason.Check; got != c.want {
			t.Errorf("%v: got %q, want %q", c.dark, got, c.want)
		}
	}
}

// What another alarm spoke for, and what then ended with it, asks nobody to look
// at anything.
func TestWhatIsOverNeedsNoCheck(t *testing.T) {
	e, err := engine.New(alarms.Plan{Houses: []alarms.House{{ID: "low-house", Latitude: 52, Places: []alarms.Place{{ID: "tray",
		Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(30)}}},
		Probes: []alarms.Probe{{ID: "tray-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	var over, asked int
	give := func(in alarms.Input) {
		for _, tr := range step(e, in) {
			if tr.To == alarms.Normal && tr.Reason.Check != "" {
				t.Errorf("%s is over, but asks to check %q", tr.ID, tr.Reason.Check)
			}
			if tr.Move == alarms.Release && tr.To == alarms.Normal {
				over++
				if !strings.HasPrefix(tr.Sentence, "Over: ") {
					t.Errorf("%s is over, but says %q", tr.ID, tr.Sentence)
				}
			}
			if tr.Reason.Check != "" {
				asked++
			}
		}
	}
	at := func(minute int) time.Time { return start.Add(time.Duration(minute) * time.Minute) }
	for m := range 10 {
		give(alarms.Input{At: at(m), Kind: alarms.ReadingIn, Probe: "tray-1", Quantity: alarms.Temperature, Value: 20 + float64(m)/10})
	}
	give(alarms.Input{At: at(30), Kind: alarms.Tick})
	give(alarms.Input{At: at(31), Kind: alarms.ReadingIn, Probe: "tray-1", Quantity: alarms.Temperature, Value: 21})
	give(alarms.Input{At: at(40), Kind: alarms.Tick})
	if over == 0 || asked == 0 {
		t.Errorf("%d hidden alarms were over and %d asked for a check; both must have happened", over, asked)
	}
}

// The most specific directions are told, once; which that is may change with the
// plan while the alarm is on.
func TestTheMostSpecificDirectionsAreTold(t *testing.T) {
	start := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct{ house, place, want string }{
		{"", "", ""},
		{"key behind the butt", "", " Directions: key behind the butt."},
		{"key behind the butt", "", " Directions: key behind the butt."},
		{"key behind the butt", "Fleece under the bench!", " Directions: Fleece under the bench!"},
	} {
		plan := alarms.Plan{Houses: []alarms.House{{ID: "low-house", Latitude: 52, Directions: c.house, Places: []alarms.Place{{ID: "tray", Directions: c.place,
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(30)}}},
			Probes: []alarms.Probe{{ID: "tray-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}}}}}
		e, err := engine.New(plan)
		if err != nil {
			t.Fatal(err)
		}
		var raised string
		for m := range 5 {
			for _, tr := range step(e, alarms.Input{At: start.Add(time.Duration(m) * time.Minute), Kind: alarms.ReadingIn, Probe: "tray-1", Quantity: alarms.Temperature, Value: 35}) {
				if tr.Move == alarms.Raise {
					raised = tr.Sentence
				}
			}
		}
		for _, said := range []string{raised, seen(e).Alarms[0].Sentence} {
			if !strings.Contains(said, "Check first: ") || !strings.HasSuffix(said, "open doors."+c.want) || strings.Count(said, "Directions:") > 1 {
				t.Errorf("%+v: got %q", c, said)
			}
		}
		plan.Houses[0].Places[0].Directions = "ring Bea"
		snap, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		if e, err = engine.Restore(plan, snap); err != nil {
			t.Fatal(err)
		}
		if said := seen(e).Alarms[0].Sentence; !strings.HasSuffix(said, " Directions: ring Bea.") {
			t.Errorf("%+v: after a change of the plan: %q", c, said)
		}
	}
}
