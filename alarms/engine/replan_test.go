package engine_test

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// hotBench is a watch of Long House whose bench is too hot, and whose alarm is on.
func hotBench(t *testing.T) *run {
	r := start(t, longHouse())
	r.hold(28, 10*time.Minute)
	r.hold(34, 5*time.Minute)
	return r
}

// TestWhatAChangedPlanDoesNotNameIsToldAsEnded reads what a person is told when
// what is on is taken out of the config.
func TestWhatAChangedPlanDoesNotNameIsToldAsEnded(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*alarms.House)
		want   string
	}{
		"the place": {func(h *alarms.House) { h.Places[0].ID = "staging" },
			"Long House, bench is no longer watched: it was taken out of the config (or given another name there) while its alarm was on. Last told: Too hot: 34.0 °C (limit 32.0 °C) since 12:10"},
		"the house": {func(h *alarms.House) { h.ID = "low-house" },
			"Long House, bench is no longer watched: it was taken out of the config"},
		"the limits": {func(h *alarms.House) { h.Places[0].Bands = nil },
			"Long House, bench is no longer watched for a limit of its temperature: the config was changed while its alarm was on."},
		"the high limits": {func(h *alarms.House) {
			h.Places[0].Bands[0].High, h.Places[0].Bands[0].HighHigh = alarms.Limit{}, alarms.Limit{}
		}, "Long House, bench is no longer watched for a limit of its temperature: the config was changed while its alarm was on."},
		"the probe": {func(h *alarms.House) { h.Places[0].Probes, h.Places[0].Bands, h.Places[0].Rates = nil, nil, nil },
			"Long House, bench is no longer watched for a limit of its temperature: the config was changed while its alarm was on."},
	} {
		t.Run(name, func(t *testing.T) {
			r := hotBench(t)
			p := longHouse()
			c.change(&p.Houses[0])
			r.underAnotherPlan(p)
			r.underAnotherPlan(p) // nothing is lost where nobody heard of it yet
			r.step(alarms.Input{Kind: alarms.RestartMarker})
			for _, m := range r.all {
				if m.Alarm == "long-house/bench/temperature/high" && m.Told() && !m.To.Active() && strings.HasPrefix(m.Sentence, c.want) {
					return
				}
			}
			t.Errorf("told %v\nwant %s", r.all, c.want)
		})
	}
}

// TestWhatStaysUnderAChangedPlanGoesOn adds a probe and a rate limit at a bench
// whose alarm is on: the alarm ends as ever, and the next heat is told.
func TestWhatStaysUnderAChangedPlanGoesOn(t *testing.T) {
	r := hotBench(t)
	p := longHouse()
	bench := &p.Houses[0].Places[0]
	bench.Probes = append(bench.Probes, alarms.Probe{ID: "bench-2", Streams: []alarms.Stream{{Quantity: alarms.Temperature}}})
	bench.Rates = append(bench.Rates, alarms.RateLimit{Quantity: alarms.Humidity, Rise: alarms.At(50)})
	r.underAnotherPlan(p)
	r.step(alarms.Input{Kind: alarms.RestartMarker})
	r.hold(34, 5*time.Minute)
	if got := r.moves(); got != "note:watch/restart" {
		t.Errorf("moves %s; nothing has changed for the alarm that is on", got)
	}
	r.hold(28, 10*time.Minute)
	from := r.now
	r.hold(34, 10*time.Minute)
	want := "note:watch/restart return:bench/temperature/high raise:bench/temperature/high"
	if got := r.moves(); got != want {
		t.Fatalf("moves\n got %s\nwant %s", got, want)
	}
	if due := from.Add(time.Minute); !r.all[2].Due.Equal(due) {
		t.Errorf("the next heat was told at %v, want %v", r.all[2].Due, due)
	}
}

// TestNewDayHoursHoldAtOnce changes the hours of the day at noon: the limits of
// the night hold from the change on, and not from the old evening.
func TestNewDayHoursHoldAtOnce(t *testing.T) {
	plan := func(start, end time.Duration) alarms.Plan {
		p := longHouse()
		p.Houses[0].Day = alarms.DayRule{Fixed: true, Start: start, End: end}
		p.Houses[0].Places[0].Bands = append(p.Houses[0].Places[0].Bands, alarms.Band{Quantity: alarms.Temperature, When: alarms.Night,
			Limits: alarms.Limits{High: alarms.At(25)}})
		return p
	}
	r := start(t, plan(7*time.Hour, 19*time.Hour))
	r.hold(28, 10*time.Minute)
	r.underAnotherPlan(plan(20*time.Hour, 4*time.Hour))
	r.step(alarms.Input{Kind: alarms.RestartMarker})
	from := r.now
	r.hold(28, 5*time.Minute)
	if len(r.all) != 2 || r.all[1].Move != alarms.Raise || !r.all[1].Due.Equal(from.Add(time.Minute)) {
		t.Errorf("moves %q; 28 °C is too hot for the night that the new hours make of it, a minute after it was first seen", r.moves())
	}
}

// TestAProbeAddedToASilentCircuitEndsNothing adds a probe to a circuit that has
// lost its power: it has not been heard either.
func TestAProbeAddedToASilentCircuitEndsNothing(t *testing.T) {
	plan := func(ids ...alarms.ProbeID) alarms.Plan {
		p := longHouse()
		p.Houses[0].Places[0].Probes = nil
		for _, id := range ids {
			p.Houses[0].Places[0].Probes = append(p.Houses[0].Places[0].Probes, alarms.Probe{ID: id, Circuit: "north", Every: 30 * time.Second,
				Streams: []alarms.Stream{{Quantity: alarms.Temperature}}})
		}
		return p
	}
	r := start(t, plan("bench-1", "bench-2"))
	for range 20 {
		for _, id := range []alarms.ProbeID{"bench-1", "bench-2"} {
			r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: id, Quantity: alarms.Temperature, Value: 20})
		}
		r.now = r.now.Add(30 * time.Second)
	}
	r.now = r.now.Add(20 * time.Minute)
	r.step(alarms.Input{Kind: alarms.Tick})
	if !strings.Contains(r.moves(), "raise:north/silent") {
		t.Fatalf("moves %s; the circuit is silent", r.moves())
	}
	r.underAnotherPlan(plan("bench-1", "bench-2", "bench-3"))
	r.step(alarms.Input{Kind: alarms.RestartMarker})
	r.now = r.now.Add(time.Hour)
	r.step(alarms.Input{Kind: alarms.Tick})
	for _, m := range r.all {
		if m.Told() && !m.Repeats() && m.Alarm != "watch/restart" {
			t.Errorf("told %s: nothing was heard", m.Sentence)
		}
	}
}
