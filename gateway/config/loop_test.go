package config

import (
	"reflect"
	"testing"

	"telltale/alarms"
)

// 51.8 °F is 11 °C, 14.4 °F of swing are 8 K, 50 and 77 °F are 10 and 25 °C;
// 180 m³ an hour are 0.05 m³/s.
func TestGroundLoop(t *testing.T) {
	houses := load(t, "ground-loop.toml").Plan.Houses
	soil := &alarms.Ground{Mean: 11, Swing: 8, Coldest: 32, Diffusivity: 0.05}
	damper := alarms.Evidence{Probe: "damper-1", Quantity: alarms.Contact}
	shut := damper
	shut.Inverted = true
	want := []*alarms.Loop{{
		House: "bench", Runs: alarms.Evidence{Probe: "loop-fan-1", Quantity: alarms.Current, Above: alarms.At(0.2)},
		FanPower: "loop-fan-1", AtHouse: true, Pressure: 95000, Soil: soil, WarmBelow: alarms.At(10), CoolAbove: alarms.At(25), Priority: alarms.Low,
		Pipes: []alarms.Pipe{
			{Outlet: "loop-shallow", Depth: 1.5, Flow: 0.05, Effectiveness: 0.8, Damper: damper},
			{Outlet: "loop-deep", Depth: 2.3, Flow: 0.06, Damper: shut},
		},
	}, {
		House: "bench", Fan: "loop", FanWatts: 30, Soil: soil, Pipes: []alarms.Pipe{{Outlet: "outlet", Depth: 2, Flow: rounded(100. / 3600)}},
	}}
	knob := []alarms.Selector{
		{ID: "knob", Name: "knob", Positions: []alarms.Position{{Name: "high"}, {Name: "medium", Flow: 0.04, Shut: []alarms.PlaceID{"loop-deep"}}}},
		{ID: "turned-round", Name: "turned-round", Probe: "damper-1", Positions: []alarms.Position{{Name: "summer", Direction: alarms.Down},
			{Name: "winter", Direction: alarms.Up, Closed: true}}},
	}
	if got := houses[0].Selectors; !reflect.DeepEqual(got, knob) {
		t.Errorf("got the selectors\n%+v\nwant\n%+v", got, knob)
	}
	given := map[string]bool{}
	for i, w := range want {
		if got := houses[i].Loop; !reflect.DeepEqual(got, w) {
			t.Errorf("%s: got the loop\n%+v\nwant\n%+v", houses[i].ID, got, w)
		}
		note(reflect.ValueOf(*houses[i].Loop), "", given)
	}
	for _, typ := range []reflect.Type{reflect.TypeFor[alarms.Loop](), reflect.TypeFor[alarms.Pipe]()} {
		for i := range typ.NumField() {
			if name := typ.Name() + "." + typ.Field(i).Name; !given[name] {
				t.Errorf("no key of ground-loop.toml sets %s", name)
			}
		}
	}
}
