package config

import (
	"reflect"
	"testing"
	"time"

	"telltale/alarms"
)

// 86 and 50 °F are 30 and 10 °C, 77 °F are 25 °C; 5, 4 and 3 °F of difference
// are 2.78, 2.22 and 1.67 K.
func TestThermostat(t *testing.T) {
	h := load(t, "thermostat.toml").Plan.Houses[0]
	open := []alarms.Season{alarms.SeasonOpen, alarms.SeasonChanging}
	control := alarms.Control{ID: "thermostat", Name: "thermostat at the bench", Place: "bench", Stages: []alarms.Stage{
		{Name: "hot", Mode: alarms.Cooling, SetPoint: 30, Differential: 2.777777778, Tolerance: 1.666666667,
			Drives: []alarms.DriveID{"exhaust", "loop"}, Seasons: open},
		{Name: "cold", Mode: alarms.Heating, SetPoint: 10, Differential: 2.222222222, Drives: []alarms.DriveID{"warmth"}},
	}}
	drives := []alarms.Drive{
		{ID: "exhaust", Kind: alarms.ExhaustFan, With: []alarms.DriveID{"shutter"}, Never: []alarms.DriveID{"warmth"},
			Barred: []alarms.Season{alarms.SeasonWinter}, Evidence: []alarms.Evidence{
				{Probe: "fan-clamp", Quantity: alarms.Current, Above: alarms.At(0.15), UsualLow: alarms.At(0.25), UsualHigh: alarms.At(0.45)},
				{Probe: "duct-1", Quantity: alarms.Temperature, Above: alarms.At(25)}}},
		{ID: "shutter", Kind: alarms.IntakeShutter, Start: 4 * time.Minute,
			Evidence: []alarms.Evidence{{Probe: "end-switch", Quantity: alarms.Contact, Inverted: true}}},
		{ID: "loop", Kind: alarms.LoopFan,
			Runs:     []alarms.Run{{Season: alarms.SeasonWinter, On: true, OnFor: 20 * time.Minute, OffFor: 40 * time.Minute}},
			Evidence: []alarms.Evidence{{Probe: "loop-clamp", Quantity: alarms.Power, Above: alarms.At(20)}}},
		{ID: "warmth", Kind: alarms.Heater, Effect: 30 * time.Minute, MaxStarts: 4,
			Evidence: []alarms.Evidence{{Probe: "heater-clamp", Quantity: alarms.Power, Above: alarms.At(500)}}},
		{ID: "stirrer", Kind: alarms.CirculatingFan,
			Evidence: []alarms.Evidence{{Probe: "stirrer-clamp", Quantity: alarms.Power, Above: alarms.At(8)}}},
	}
	selectors := []alarms.Selector{
		{ID: "box", Name: "box", Positions: []alarms.Position{
			{Name: "summer", Seasons: open, Follow: []alarms.DriveID{"loop"}, Off: []alarms.DriveID{"stirrer"}},
			{Name: "winter", Seasons: []alarms.Season{alarms.SeasonWinter}, Follow: []alarms.DriveID{"loop"}, On: []alarms.DriveID{"stirrer"}}}},
		{ID: "fan-switch", Name: "fan-switch", Probe: "fan-switch-1", Positions: []alarms.Position{
			{Name: "automatic", Closed: true, Follow: []alarms.DriveID{"exhaust"}},
			{Name: "off", Off: []alarms.DriveID{"exhaust"}}}},
		{ID: "shutter-switch", Name: "shutter switch", At: "with-the-fan", Positions: []alarms.Position{
			{Name: "open", On: []alarms.DriveID{"shutter"}},
			{Name: "with-the-fan", Follow: []alarms.DriveID{"shutter"}}}},
	}
	for _, c := range []struct{ got, want any }{
		{h.Controls, []alarms.Control{control}}, {h.Drives, drives}, {h.Selectors, selectors},
	} {
		if !reflect.DeepEqual(c.got, c.want) {
			t.Errorf("got\n%+v\nwant\n%+v", c.got, c.want)
		}
	}
}

// A drive's effect that is never expected is negative in the plan; every field
// of the plan's control can be set by some key.
func TestEveryMechanicalKey(t *testing.T) {
	h := load(t, "every-key.toml").Plan.Houses[0]
	if h.Drives[0].Effect >= 0 || h.Drives[0].Name != "big fan" {
		t.Errorf("got the drive %+v, want no effect expected and the name given", h.Drives[0])
	}
	given := map[string]bool{}
	note(reflect.ValueOf([]any{h.Controls, h.Drives, h.Selectors, h.Openings}), "", given)
	note(reflect.ValueOf(load(t, "ground-loop.toml").Plan.Houses[0].Selectors), "", given) // what is set by hand at a loop
	for _, typ := range []reflect.Type{reflect.TypeFor[alarms.Control](), reflect.TypeFor[alarms.Stage](), reflect.TypeFor[alarms.Drive](),
		reflect.TypeFor[alarms.Run](), reflect.TypeFor[alarms.Evidence](), reflect.TypeFor[alarms.Selector](), reflect.TypeFor[alarms.Position](), reflect.TypeFor[alarms.HandOpening]()} {
		for i := range typ.NumField() {
			name := typ.Name() + "." + typ.Field(i).Name
			if name == "Stage.Mode" { // its zero value is cooling
				continue
			}
			if !given[name] {
				t.Errorf("no key of every-key.toml sets %s", name)
			}
		}
	}
}

// note gathers the fields that are not zero in v.
func note(v reflect.Value, name string, given map[string]bool) {
	if name != "" && !v.IsZero() {
		given[name] = true
	}
	switch v.Kind() {
	case reflect.Interface:
		note(v.Elem(), "", given)
	case reflect.Slice:
		for i := range v.Len() {
			note(v.Index(i), "", given)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			note(v.Field(i), v.Type().Name()+"."+v.Type().Field(i).Name, given)
		}
	}
}
