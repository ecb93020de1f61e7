package decode

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

func TestNewTellsEverythingThatIsWrong(t *testing.T) {
	_, err := New([]Source{
		{Probe: "bench-1", Filter: "a/#/b", Form: "xml", Where: "house.toml:12"},
		{Probe: "", Filter: "b", Form: Number, Reads: []Read{{Quantity: "wind"}, {Quantity: alarms.VPD}}, Where: "house.toml:20"},
		{Probe: "ridge-1", Filter: "c", Form: JSON, Clock: Clock{At: "time", Unit: "min"}, Where: "house.toml:30",
			Reads: []Read{{Quantity: alarms.Temperature, At: "temp", Unit: "%"}, {Quantity: alarms.Temperature, At: "/t"}}},
		{Probe: "ridge-2", Filter: "c", Form: JSON, Reads: []Read{{Quantity: alarms.Temperature, At: "/t"}, {Quantity: alarms.Humidity, At: "/h", Measurement: "m", Inverted: true}}},
		{Probe: "ridge-3", Filter: "c", Form: JSON, Reads: []Read{{Quantity: alarms.Humidity, At: "/h"}}},
		{Probe: "ridge-3", Filter: "d", Form: SenML, Clock: Clock{Unit: Seconds}, Reads: []Read{{Quantity: alarms.Humidity, At: ""}}},
		{Probe: "shutter", Filter: "e", Form: Line, Reads: []Read{{Quantity: alarms.Contact, Factor: 2, Unit: "V"}}},
		{Probe: "door", Filter: "f", Form: Number, Clock: Clock{At: "/t"}, Reads: []Read{{Quantity: alarms.Contact, At: "/x"}}},
	})
	if err == nil {
		t.Fatal("got no error")
	}
	for _, want := range []string{
		`house.toml:12: filter: must have # as its last level only (got "a/#/b")`,
		`house.toml:12: form: must be one of ["number" "json" "senml" "line"] (got "xml")`,
		`house.toml:12: reads: must give a quantity at least`,
		`house.toml:20: probe: must have a name`,
		`house.toml:20: reads: must give one quantity, for a plain number is the whole payload (got 2)`,
		`house.toml:20: wind: quantity: must be one of ["temperature"`,
		`house.toml:20: vpd: quantity: is worked out from temperature and humidity; no probe may claim it`,
		`house.toml:30: clock unit: must be one of ["s" "ms" "us" "ns"] (got "min")`,
		`house.toml:30: clock: must be a JSON pointer (RFC 6901): empty, or starting with a slash, such as "/air/temperature" (got "time")`,
		`house.toml:30: temperature: unit: must be a unit of temperature: °C, °F, K (got "%")`,
		`house.toml:30: temperature: at: must be a JSON pointer (RFC 6901): empty, or starting with a slash, such as "/air/temperature" (got "temp")`,
		`house.toml:30: probe "ridge-1" claims temperature twice (first at house.toml:30)`,
		`probe "ridge-2": humidity: quantity: measurement and tags are for form = "line" alone (the form is "json")`,
		`probe "ridge-2": humidity: inverted: is for contacts alone`,
		`probe "ridge-3": probe "ridge-3" claims humidity twice (first at filter "c")`,
		`probe "ridge-3": clock: must be what senml can have (got the pointer "" and the unit "s")`,
		`probe "ridge-3": humidity: at: is missing: say where in the payload humidity stands`,
		`probe "shutter": contact: at: is missing: say where in the payload contact stands`,
		`probe "shutter": contact: factor: must be left out: a contact has none (got 2)`,
		`probe "shutter": contact: unit: must be left out: contact has no unit (got "V")`,
		`probe "door": clock: must be what number can have (got the pointer "/t" and the unit "")`,
		`probe "door": contact: at: must be left out: a plain number is the whole payload (got "/x")`,
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("missing: %s", want)
		}
	}
	if t.Failed() {
		t.Logf("got:\n%v", err)
	}
}

func TestOverlappingFiltersFeedEveryProbe(t *testing.T) {
	table := mustNew(t,
		Source{Probe: "a", Filter: "long-house/+/temperature", Form: Number, Reads: one(alarms.Temperature, "")},
		Source{Probe: "b", Filter: "long-house/bench/#", Form: Number, Reads: one(alarms.Temperature, "°F")},
		Source{Probe: "c", Filter: "long-house/bench/temperature", Form: Number, Reads: one(alarms.Soil, "")},
		Source{Probe: "d", Filter: "low-house/#", Form: Number, Reads: one(alarms.Temperature, "")})
	got, problems := decodeAll(table, "long-house/bench/temperature", "50")
	want := []Value{{Probe: "a", Quantity: alarms.Temperature, Value: 50}, {Probe: "b", Quantity: alarms.Temperature, Value: 10}, {Probe: "c", Quantity: alarms.Soil, Value: 50}}
	if !slices.Equal(got, want) || problems != nil {
		t.Errorf("got %v %v, want %v", got, problems, want)
	}
	// The same topic a second time comes from the cache.
	if again, _ := decodeAll(table, "long-house/bench/temperature", "50"); !slices.Equal(again, want) {
		t.Errorf("again: got %v", again)
	}
	if got, _ := decodeAll(table, "long-house/ridge/temperature", "50"); len(got) != 1 || got[0].Probe != "a" {
		t.Errorf("got %v, want a alone", got)
	}
}

func TestTwoFormsUnderOneTopic(t *testing.T) {
	table := mustNew(t, climate(), Source{Probe: "whole", Filter: "long-house/#", Form: Line, Reads: []Read{{Quantity: alarms.Power, At: "power"}}})
	got, problems := decodeAll(table, climateTopic, `{"temperature":21.4,"humidity":63}`)
	if len(got) != 2 || len(problems) != 1 || problems[0].Probe != "whole" || problems[0].Cause != BadSyntax {
		t.Errorf("got %v %+v", got, problems)
	}
}

func TestEmptyPayloadIsADeletion(t *testing.T) {
	table := mustNew(t, climate())
	got, problems := decodeAll(table, climateTopic, "")
	if got != nil || problems != nil || table.Emptied() != 1 || table.Stats() != nil {
		t.Fatalf("got %v %v, emptied %d, %v", got, problems, table.Emptied(), table.Stats())
	}
}

func TestProblemsAreCountedAndNewOnesMarked(t *testing.T) {
	table := mustNew(t, climate())
	at := noon
	send := func(payload string, after time.Duration) []Problem {
		at = at.Add(after)
		return table.Decode(climateTopic, []byte(payload), at, func(Value) {})
	}
	first := send("{\"temperature\":\"n/a\x07\"", 0)
	again := send("{broken", time.Minute)
	other := send(`{"temperature":null,"humidity":63}`, time.Minute)
	later := send("{broken", 25*time.Hour)
	for i, tt := range []struct {
		got   []Problem
		cause Cause
		first bool
	}{{first, BadSyntax, true}, {again, BadSyntax, false}, {other, NoValue, true}, {later, BadSyntax, true}} {
		if len(tt.got) != 1 || tt.got[0].Cause != tt.cause || tt.got[0].First != tt.first {
			t.Errorf("%d: got %+v, want %s, first %v", i, tt.got, tt.cause, tt.first)
		}
	}
	stats := table.Stats()
	if len(stats) != 1 || stats[0].Probe != "bench-1" || stats[0].Values != 1 || len(stats[0].Problems) != 2 {
		t.Fatalf("got %+v", stats)
	}
	c := stats[0].Problems[1]
	if c.Cause != BadSyntax || c.Count != 3 {
		t.Errorf("got %+v", c)
	}
}

func TestUnclaimedTopicsAreCountedInBounds(t *testing.T) {
	table := mustNew(t, climate())
	for i := range 1000 {
		decodeAll(table, fmt.Sprintf("low-house/heap-%04d", i%200), "21")
	}
	decodeAll(table, strings.Repeat("x", 60_000), "21")
	if n := table.Unclaimed(); n != 1001 {
		t.Fatalf("got %d messages", n)
	}
	for i := range 3 * maxTopics {
		decodeAll(table, fmt.Sprintf("t/%d", i), "21")
	}
	if n := len(table.router.met); n > maxTopics {
		t.Errorf("remembers %d topics, at most %d", n, maxTopics)
	}
}

func TestTopicsShareTheirRoutes(t *testing.T) {
	table := mustNew(t, Source{Probe: "any", Filter: "low-house/+", Form: Number, Reads: one(alarms.Temperature, "")})
	for i := range 2000 {
		decodeAll(table, fmt.Sprintf("low-house/%d", i), "21")
	}
	if n := len(table.router.routes); n != 1 {
		t.Errorf("got %d routes for one set of sources", n)
	}
}

func TestStatsMayBeReadWhileDecoding(t *testing.T) {
	table := mustNew(t, climate())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range 200 {
			table.Stats()
			table.Unclaimed()
			table.Emptied()
			table.Filters()
		}
	}()
	for range 200 {
		decodeAll(table, climateTopic, `{"temperature":null}`)
		decodeAll(table, "elsewhere", "1")
	}
	<-done
}
