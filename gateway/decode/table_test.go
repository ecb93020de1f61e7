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
		`house.toml:12: filter: "a/#/b": # must stand alone in the last level`,
		`house.toml:12: form: got "xml", want one of ["number" "json" "senml" "line"]`,
		`house.toml:12: reads: the source gives no quantity`,
		`house.toml:20: probe: has no name`,
		`house.toml:20: reads: a plain number gives one quantity, got 2`,
		`house.toml:20: quantity: got "wind"`,
		`house.toml:20: quantity: vpd is computed from temperature and humidity, no probe may claim it`,
		`house.toml:30: clock unit: got "min"`,
		`house.toml:30: clock: pointer "time" must be empty or start with a slash`,
		`house.toml:30: temperature: unit: "%" is no unit of temperature, want °C, °F, K`,
		`house.toml:30: temperature: pointer "temp" must be empty or start with a slash, as in "/temp"`,
		`house.toml:30: probe "ridge-1" claims temperature twice (first at house.toml:30)`,
		`probe "ridge-2": temperature: the probes "ridge-1" and "ridge-2" would take the same value`,
		`probe "ridge-2": humidity: measurement and tags are for the form line (got json)`,
		`probe "ridge-2": humidity: inverted: only a contact can be`,
		`probe "ridge-3": probe "ridge-3" claims humidity twice (first at filter "c")`,
		`probe "ridge-3": clock unit: got "s" with senml`,
		`probe "ridge-3": humidity: a record has no name; want the resolved name`,
		`probe "shutter": contact: the field to read is not given`,
		`probe "shutter": contact: factor: a contact has none (got 2)`,
		`probe "shutter": contact: unit: contact has no unit (got "V")`,
		`probe "door": clock: only JSON has a pointer to the time (got "/t" with number)`,
		`probe "door": contact: a plain number has no place to look in (got "/x")`,
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
	if c.Cause != BadSyntax || c.Count != 3 || !c.First.Equal(noon) || !c.Last.Equal(at) || c.Topic != climateTopic ||
		c.Example != `{"temperature":"n/a."` || !strings.Contains(c.Detail, "not JSON") {
		t.Errorf("got %+v", c)
	}
}

func TestExampleIsShortAndPrintable(t *testing.T) {
	table := mustNew(t, climate())
	decodeAll(table, climateTopic, "\x00\x01ä"+strings.Repeat("x", 5000))
	e := table.Stats()[0].Problems[0].Example
	if len(e) > exampleBytes+len("...") || !strings.HasPrefix(e, "...x") || !strings.HasSuffix(e, "x...") {
		t.Fatalf("got %q", e)
	}
}

func TestUnclaimedTopicsAreCountedInBounds(t *testing.T) {
	table := mustNew(t, climate())
	for i := range 1000 {
		decodeAll(table, fmt.Sprintf("low-house/heap-%04d", i%200), "21")
	}
	decodeAll(table, strings.Repeat("x", 60_000), "21")
	u := table.Unclaimed()
	if u.Messages != 1001 || len(u.Topics) != maxUnclaimed || u.Topics[0].Topic != "low-house/heap-0000" || u.Topics[0].Count != 5 ||
		u.Unlisted != 1001-5*maxUnclaimed {
		t.Fatalf("got %d messages, %d topics, first %+v, unlisted %d", u.Messages, len(u.Topics), u.Topics[0], u.Unlisted)
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
