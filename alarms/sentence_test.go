package alarms

import (
	"strings"
	"testing"
	"time"
)

func TestAMomentIsNotMeasured(t *testing.T) {
	for lasted, want := range map[time.Duration]string{
		0: "", 400 * time.Millisecond: "", 600 * time.Millisecond: " after 1 s", 2 * time.Hour: " after 2 h",
	} {
		if got := after(Reason{Lasted: lasted}); got != want {
			t.Errorf("%v: got %q, want %q", lasted, got, want)
		}
	}
}

func TestADarkPlaceIsLookedAtWithWhatFits(t *testing.T) {
	for _, c := range []struct {
		dark []Quantity
		want string
	}{
		{[]Quantity{Humidity, Temperature}, "look at a thermometer there yourself"},
		{[]Quantity{Humidity}, "look at a hygrometer and the leaves yourself"},
		{[]Quantity{Soil}, "look at a thermometer in the soil there yourself"},
		{[]Quantity{Surface}, "look at the leaves there yourself"},
		{[]Quantity{Power}, "look there yourself"},
	} {
		if got := check(&alarm{rule: RuleUnwatched}, Reason{Quantities: c.dark}); got != c.want {
			t.Errorf("%v: got %q, want %q", c.dark, got, c.want)
		}
	}
}

// What another alarm spoke for, and what then ended with it, asks nobody to look
// at anything.
func TestWhatIsOverNeedsNoCheck(t *testing.T) {
	e, err := New(Plan{Houses: []House{{ID: "low-house", Latitude: 52, Places: []Place{{ID: "tray",
		Bands:  []Band{{Quantity: Temperature, Limits: Limits{High: At(30)}}},
		Probes: []Probe{{ID: "tray-1", Every: time.Minute, Streams: []Stream{{Quantity: Temperature}}}}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	var over, asked int
	step := func(in Input) {
		for _, tr := range e.Step(in) {
			if tr.To == Normal && tr.Reason.Check != "" {
				t.Errorf("%s is over, but asks to check %q", tr.ID, tr.Reason.Check)
			}
			if tr.Move == Release && tr.To == Normal {
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
		step(Input{At: at(m), Kind: ReadingIn, Probe: "tray-1", Quantity: Temperature, Value: 20 + float64(m)/10})
	}
	step(Input{At: at(30), Kind: Tick})
	step(Input{At: at(31), Kind: ReadingIn, Probe: "tray-1", Quantity: Temperature, Value: 21})
	step(Input{At: at(40), Kind: Tick})
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
		plan := Plan{Houses: []House{{ID: "low-house", Latitude: 52, Directions: c.house, Places: []Place{{ID: "tray", Directions: c.place,
			Bands:  []Band{{Quantity: Temperature, Limits: Limits{High: At(30)}}},
			Probes: []Probe{{ID: "tray-1", Every: time.Minute, Streams: []Stream{{Quantity: Temperature}}}}}}}}}
		e, err := New(plan)
		if err != nil {
			t.Fatal(err)
		}
		var raised string
		for m := range 5 {
			for _, tr := range e.Step(Input{At: start.Add(time.Duration(m) * time.Minute), Kind: ReadingIn, Probe: "tray-1", Quantity: Temperature, Value: 35}) {
				if tr.Move == Raise {
					raised = tr.Sentence
				}
			}
		}
		for _, said := range []string{raised, e.Picture().Alarms[0].Sentence} {
			if !strings.Contains(said, "Check first: ") || !strings.HasSuffix(said, "open doors."+c.want) || strings.Count(said, "Directions:") > 1 {
				t.Errorf("%+v: got %q", c, said)
			}
		}
		plan.Houses[0].Places[0].Directions = "ring Bea"
		snap, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		if e, err = Restore(plan, snap); err != nil {
			t.Fatal(err)
		}
		if said := e.Picture().Alarms[0].Sentence; !strings.HasSuffix(said, " Directions: ring Bea.") {
			t.Errorf("%+v: after a change of the plan: %q", c, said)
		}
	}
}
