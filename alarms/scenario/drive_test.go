package scenario_test

import (
	"reflect"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/scenario"
)

// The mechanical control of the file with everything.
var (
	fullControls = []alarms.Control{{ID: "thermostat", Name: "thermostat by the door", Place: "tray", Stages: []alarms.Stage{
		{Name: "hot", SetPoint: 29.5, Differential: 2.8, Tolerance: 1.5, Drives: []alarms.DriveID{"exhaust", "shutter"},
			Seasons: []alarms.Season{alarms.SeasonOpen, alarms.SeasonChanging}},
		{Mode: alarms.Heating, SetPoint: -2.5, Drives: []alarms.DriveID{"and"}},
	}}, {ID: "spare", Place: "tray", Stages: []alarms.Stage{{Name: "cooling"}}}}
	fullDrives = []alarms.Drive{
		{ID: "exhaust", Name: "big fan", Kind: alarms.ExhaustFan, Start: 90 * time.Second, Stop: 2 * time.Minute, Effect: 20 * time.Minute,
			With: []alarms.DriveID{"shutter"}, Never: []alarms.DriveID{"and"}, Barred: []alarms.Season{alarms.SeasonWinter},
			MaxStarts: 6, Priority: alarms.Low, Evidence: []alarms.Evidence{
				{Probe: "box-1", Quantity: alarms.Current, Above: alarms.At(0.15), UsualLow: alarms.At(0.25), UsualHigh: alarms.At(0.36)},
				{Probe: "box-2", Quantity: alarms.Contact, Inverted: true}}},
		{ID: "shutter", Kind: alarms.IntakeShutter, Start: 4 * time.Minute, Effect: -1},
		{ID: "loop", Kind: alarms.LoopFan, Runs: []alarms.Run{{Season: alarms.SeasonOpen},
			{Season: alarms.SeasonChanging, On: true, OnFor: 20 * time.Minute, OffFor: 40 * time.Minute},
			{Season: alarms.SeasonWinter, On: true}},
			Evidence: []alarms.Evidence{{Probe: "box-1", Quantity: alarms.Power, Above: alarms.At(20)}}},
		{ID: "and", Kind: alarms.Heater},
		{ID: "lamp", Kind: alarms.GrowLight, TimerTolerance: 5 * time.Minute, Runs: []alarms.Run{{Season: alarms.SeasonWinter, On: true,
			Hours: []alarms.Hours{{From: 5*time.Hour + 30*time.Minute, To: 9 * time.Hour}, {From: 22 * time.Hour, To: 24 * time.Hour}}}}},
	}
	fullSelectors = []alarms.Selector{
		{ID: "box-switch", Name: "switches at the door", At: "winter", Positions: []alarms.Position{
			{Name: "summer", Follow: []alarms.DriveID{"exhaust", "shutter"}, On: []alarms.DriveID{"and"}},
			{Name: "winter", On: []alarms.DriveID{"loop"}, Off: []alarms.DriveID{"exhaust", "shutter"},
				Seasons: []alarms.Season{alarms.SeasonWinter, alarms.SeasonChanging}}}},
		{ID: "lamp", Probe: "box-2", Positions: []alarms.Position{{Name: "on"}, {Name: "off", Closed: true}}},
	}
)

// What is printed reads back as the same plan, for a house whose every name
// is a word of the language.
func TestControlsPrintAsTheyAre(t *testing.T) {
	words := []alarms.DriveID{"and", "in", "off", "on", "closed", "follow", "cooling", "drying", "with", "from", "never", ""}
	house := alarms.House{ID: "selector", Controls: fullControls, Drives: fullDrives, Selectors: fullSelectors}
	for _, w := range words {
		house.Drives = append(house.Drives, alarms.Drive{ID: w, Name: string(w), Kind: alarms.Heater, With: words, Never: words})
		house.Selectors = append(house.Selectors, alarms.Selector{ID: alarms.SelectorID(w), At: string(w), Positions: []alarms.Position{
			{Name: string(w), Follow: words, On: words, Off: words}, {Name: string(w)}}})
		house.Controls = append(house.Controls, alarms.Control{ID: alarms.ControlID(w), Place: alarms.PlaceID(w),
			Stages: []alarms.Stage{{Name: string(w), Mode: alarms.Heating, SetPointNight: alarms.At(-3), Drives: words}, {Name: string(w), Drives: words}}})
	}
	plan := alarms.Plan{Houses: []alarms.House{house}}
	printed := scenario.New("Words", "", plan, nil).Print()
	back, err := scenario.Parse("printed", printed, nil)
	if err != nil {
		t.Fatalf("%v\n%s", err, printed)
	}
	if !reflect.DeepEqual(back.Plan, plan) {
		t.Errorf("got\n%+v\nwant\n%+v\n%s", back.Plan, plan, printed)
	}
}

// The core takes such a plan, and turning a selector does not upset it.
func TestControlsInAPlan(t *testing.T) {
	const text = `A thermostat
plan
  house long-house
    place bench
      temperature: high 35
      probe bench-1, every 1m: temperature
      probe clamp-1, every 1m: current
      probe end-switch, every 1m: contact
    control thermostat, at bench: cooling from 29.5, drives exhaust
    drive exhaust exhaust-fan, with shutter, barred in winter: clamp-1 current above 0.1
    drive shutter intake-shutter: end-switch contact
    selector box: summer follow exhaust and shutter; winter off exhaust and shutter
on 2026-06-21
12:00 bench-1 temperature 28; clamp-1 current 0; end-switch contact 0
12:01 grower turns box of long-house to winter
`
	s, err := scenario.Parse("x.txt", []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	stable(t, s)
	e, err := engine.New(s.Plan)
	if err != nil {
		t.Fatal(err)
	}
	for _, in := range s.Inputs() {
		for _, got := range e.Step(in) {
			if got.To == alarms.Unacknowledged {
				t.Errorf("nothing is wrong, yet %s %s", got.Move, got.Alarm)
			}
		}
	}
}
