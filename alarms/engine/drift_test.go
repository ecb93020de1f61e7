package engine_test

import (
	"encoding/json"
	"math"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// dusty is a house in which each day is like the one before, but that its glass may let
// in less.
type dusty struct {
	e         *engine.Engine
	at        time.Time
	air, mass float64
	bulb      alarms.ProbeID // there
	add       float64        // K, what it reads too much
	told      []alarms.Transition
}

func dustyPlan() alarms.Plan {
	one := func(id alarms.ProbeID, q alarms.Quantity) alarms.Probe {
		return alarms.Probe{ID: id, Every: 20 * time.Minute, Streams: []alarms.Stream{{Quantity: q, Jump: -1}}}
	}
	return alarms.Plan{Houses: []alarms.House{{ID: "long-house", Latitude: 52, Longitude: -2, Season: alarms.SeasonOpen,
		Places: []alarms.Place{
			{ID: "bench", Probes: []alarms.Probe{one("bench-1", alarms.Temperature)}, Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(45)}}}},
			{ID: "outside", Probes: []alarms.Probe{one("outside-1", alarms.Temperature)}},
			{ID: "box", Probes: []alarms.Probe{one("fan-clamp", alarms.Current)}}},
		Controls: []alarms.Control{{ID: "thermostat", Place: "bench", Stages: []alarms.Stage{{SetPoint: 40, Drives: []alarms.DriveID{"exhaust-fan"}}}}},
		Drives:   []alarms.Drive{{ID: "exhaust-fan", Kind: alarms.ExhaustFan, Evidence: []alarms.Evidence{{Probe: "fan-clamp", Quantity: alarms.Current, Above: alarms.At(0.1)}}}},
	}}}
}

// days lets some days pass in which so many K/h of sun come in at noon.
func (d *dusty) days(n int, sun float64) {
	for end := d.at.AddDate(0, 0, n); d.at.Before(end); d.at = d.at.Add(20 * time.Minute) {
		hour := float64(d.at.Hour()) + float64(d.at.Minute())/60
		outside, light := 4-3*math.Cos((hour-3)/12*math.Pi), max(0, math.Sin((hour-6.5)/11.5*math.Pi))
		for range 20 {
			d.air += (2*(outside-d.air) + 3*(d.mass-d.air) + sun*light) / 60
			d.mass += (0.15*(d.air-d.mass) + 0.3*light) / 60
		}
		d.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "outside-1", Quantity: alarms.Temperature, Value: math.Round(10*outside) / 10})
		d.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "fan-clamp", Quantity: alarms.Current})
		v := d.e.Corrected(d.bulb, alarms.Temperature, math.Round(10*(d.air+d.add))/10)
		d.step(alarms.Input{Kind: alarms.ReadingIn, Probe: d.bulb, Quantity: alarms.Temperature, Value: v})
	}
}

func (d *dusty) step(in alarms.Input) {
	in.At = d.at
	for _, t := range d.e.Step(in) {
		if t.Reason.Rule == alarms.RuleDrift {
			d.told = append(d.told, t)
		}
	}
}

// under goes on, from what was saved, under a plan.
func (d dusty) under(t *testing.T, saved []byte, p alarms.Plan) *dusty {
	t.Helper()
	e, err := engine.Restore(p, saved)
	if err != nil {
		t.Fatal(err)
	}
	d.e, d.told = e, nil
	return &d
}

// A drift ends when it is over, and not in silence when what was learned before says
// nothing any more: another season, another thermostat, another probe, one that was
// calibrated. What limits there are does not matter to it.
func TestHowADriftEnds(t *testing.T) {
	e, err := engine.New(dustyPlan())
	if err != nil {
		t.Fatal(err)
	}
	d := dusty{e: e, at: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), air: 6, mass: 6, bulb: "bench-1"}
	d.days(23, 26)
	if len(d.told) > 0 {
		t.Fatalf("told of a house that is well: %+v", d.told)
	}
	d.days(13, 13)
	raised := func(x alarms.Transition) bool {
		return x.Move == alarms.Raise && x.Reason.Drift.Figure == alarms.FigureWarming
	}
	if !slices.ContainsFunc(d.told, raised) {
		t.Fatalf("half of the sun is not told: %+v", d.told)
	}
	saved, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	other, limit, probe := dustyPlan(), dustyPlan(), dustyPlan()
	other.Houses[0].Controls[0].Stages[0].SetPoint = 38
	limit.Houses[0].Places[0].Bands[0].Limits.High = alarms.At(46)
	probe.Houses[0].Places[0].Probes[0].ID = "bench-2"
	for name, one := range map[string]struct {
		plan alarms.Plan
		do   func(d *dusty)
		ends alarms.DriftEnd // "": it goes on
	}{
		"clean again":   {dustyPlan(), func(d *dusty) { d.days(14, 31) }, alarms.DriftBack},
		"goes on":       {dustyPlan(), func(d *dusty) { d.days(10, 13) }, ""},
		"another limit": {limit, func(d *dusty) { d.days(3, 13) }, ""},
		"another season": {dustyPlan(), func(d *dusty) {
			d.step(alarms.Input{Kind: alarms.SetSeason, House: "long-house", Season: alarms.SeasonWinter})
			d.days(1, 13)
		}, alarms.DriftOther},
		"another thermostat": {other, func(d *dusty) { d.days(1, 13) }, alarms.DriftOther},
		"another probe":      {probe, func(d *dusty) { d.bulb = "bench-2"; d.days(2, 13) }, alarms.DriftOther},
		"calibrated": {dustyPlan(), func(d *dusty) {
			d.step(alarms.Input{Kind: alarms.Calibrate, Probe: "bench-1", Quantity: alarms.Temperature, Value: -0.5})
			d.days(2, 13)
		}, alarms.DriftOther},
		"taken": {dustyPlan(), func(d *dusty) {
			d.step(alarms.Input{Kind: alarms.Acknowledge})
			d.days(1, 13)
		}, alarms.DriftTaken},
	} {
		d := d.under(t, saved, one.plan)
		one.do(d)
		ended := alarms.DriftEnd("")
		for _, x := range d.told {
			if x.Move == alarms.Return && x.Reason.Drift.Figure == alarms.FigureWarming {
				ended = x.Reason.Drift.Ended
			}
		}
		if ended != one.ends {
			t.Errorf("%s: ended %q, want %q", name, ended, one.ends)
		}
		told := len(d.told)
		if d.days(12, 13); ended == alarms.DriftOther && len(d.told) > told {
			t.Errorf("%s: told again before it was learned: %+v", name, d.told[told:])
		}
	}
}

// A snapshot of before there was a drift, or one whose figures cannot be read, begins anew.
func TestDriftOfAnOldSnapshot(t *testing.T) {
	e, err := engine.New(dustyPlan())
	if err != nil {
		t.Fatal(err)
	}
	d := dusty{e: e, at: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), air: 6, mass: 6, bulb: "bench-1"}
	d.days(23, 26)
	d.days(13, 13)
	saved, err := d.e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	for name, drift := range map[string]string{"none": "", "no figures": `{"day":1,"basis":2,"probes":3}`, "no bytes": `{"day":1,"basis":2,"probes":3,"courses":"AAEC"}`} {
		d := d.under(t, without(t, saved, drift), dustyPlan())
		d.days(2, 13)
		if len(d.told) == 0 || d.told[0].Move != alarms.Return || d.told[0].Reason.Drift.Ended != alarms.DriftOther {
			t.Errorf("%s: what was on has not ended: %+v", name, d.told)
		}
	}
}

// without is a snapshot with something else, or with "" nothing, in the place of its drifts.
func without(t *testing.T, saved []byte, drift string) []byte {
	t.Helper()
	var s map[string]json.RawMessage
	var airs map[string]struct {
		Place string                     `json:"place"`
		Air   map[string]json.RawMessage `json:"air"`
	}
	if err := json.Unmarshal(saved, &s); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(s["airs"], &airs); err != nil || airs["long-house"].Air["drift"] == nil {
		t.Fatalf("%v: no drift in %s", err, s["airs"])
	}
	delete(airs["long-house"].Air, "drift")
	if drift != "" {
		airs["long-house"].Air["drift"] = json.RawMessage(drift)
	}
	var err error
	if s["airs"], err = json.Marshal(airs); err != nil {
		t.Fatal(err)
	}
	if saved, err = json.Marshal(s); err != nil {
		t.Fatal(err)
	}
	return saved
}
