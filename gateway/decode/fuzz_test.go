package decode

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"testing"
	"time"

	"telltale/alarms"
)

// sound holds what is true of every payload, however bad.
func sound(t *testing.T, table *Table, payload []byte, claimed map[claim]bool) ([]Value, []Problem) {
	t.Helper()
	kept := string(payload)
	var got []Value
	problems := table.Decode("t", payload, noon, func(v Value) { got = append(got, v) })
	if string(payload) != kept {
		t.Fatal("the payload was changed")
	}
	var last time.Time
	for _, v := range got {
		if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) {
			t.Fatalf("not finite: %+v", v)
		}
		if !claimed[claim{v.Probe, v.Quantity}] {
			t.Fatalf("not claimed: %+v", v)
		}
		if v.Quantity == alarms.Contact && v.Value != 0 && v.Value != 1 {
			t.Fatalf("a contact is 0 or 1: %+v", v)
		}
		if v.Measured.Before(last) {
			t.Fatalf("out of order: %v", got)
		}
		last = v.Measured
	}
	for _, p := range problems {
		if p.Cause == "" || p.Detail == "" {
			t.Fatalf("says nothing: %+v", p)
		}
		for _, v := range got {
			if v.Probe == p.Probe && slices.Contains(p.Quantities, v.Quantity) {
				t.Fatalf("said to give no value, but gave %+v", v)
			}
		}
	}
	return got, problems
}

func claims(sources []Source) map[claim]bool {
	m := map[claim]bool{}
	for _, s := range sources {
		for _, r := range s.Reads {
			m[claim{s.Probe, r.Quantity}] = true
		}
	}
	return m
}

func FuzzNumber(f *testing.F) {
	for _, s := range []string{"21.5", "-7", "+21.5e0", " 50 °F\r\n", "21,5", "nan", "inf", "1e400", "on", "CLOSED", "", "0x15", "5.", ".5", "1_0",
		"123456789012345678901234567890", "1e-400", "-0", "21.5\x00", `{"t":1}`, "1e99999999999999999999", "9007199254740993", "0.1e23"} {
		f.Add([]byte(s))
	}
	sources := []Source{
		{Probe: "a", Filter: "t", Form: Number, Reads: one(alarms.Temperature, "")},
		{Probe: "b", Filter: "t", Form: Number, Reads: one(alarms.Pressure, "kPa")},
		{Probe: "c", Filter: "t", Form: Number, Reads: one(alarms.Contact, "")}}
	table := mustNew(f, sources...)
	f.Fuzz(func(t *testing.T, payload []byte) {
		got, problems := sound(t, table, payload, claims(sources))
		if len(payload) > 0 && len(got)+len(problems) != len(sources) {
			t.Fatalf("%q: %d values and %d problems for %d sources", payload, len(got), len(problems), len(sources))
		}
		if v, rest, ok, _ := scanNumber(payload); ok {
			text := string(payload[:len(payload)-len(rest)])
			if want, err := strconv.ParseFloat(text, 64); err != nil || want != v {
				t.Fatalf("%q: got %v, strconv %v, %v", text, v, want, err)
			}
		}
	})
}

// naive follows a pointer through what encoding/json makes of a document.
func naive(doc any, p pointer) (any, bool) {
	for _, token := range p {
		switch d := doc.(type) {
		case map[string]any:
			v, ok := d[token]
			if !ok {
				return nil, false
			}
			doc = v
		case []any:
			i, ok := arrayIndex(token)
			if !ok || i >= len(d) {
				return nil, false
			}
			doc = d[i]
		default:
			return nil, false
		}
	}
	return doc, true
}

// FuzzJSON holds the finder against encoding/json: the same texts are
// refused, and every number is found with the same value.
func FuzzJSON(f *testing.F) {
	for _, s := range []string{`{"temperature":21.4,"humidity":63}`, `{"temperature":{"0":[1,2]},"humidity":"63 %"}`, rfc6901Document,
		`{"a":{"b":1},"a":{"c":2}}`, `{"a":{"b":1},"\u0061":{"\u0062":8}}`, `[[1,2],{"a":{"b":3}}]`, `{"a":[{"b":1}],"":5,"é":1e3}`, `21.5`,
		`"x"`, `null`, `{"":{"":7}}`, "{\"a\xff\":1}", `{"a":{"b":null}}`, ` [ ] `, `{"a":{"b":1,"b":[]}}`, `{"\ud800":1}`} {
		f.Add([]byte(s))
	}
	pointers := []string{"", "/temperature", "/humidity", "/a", "/a/b", "/", "//", "/0", "/1/a/b", "/0/1", "/é", "/m~0n", "/a/0/b"}
	quantities := []alarms.Quantity{alarms.Temperature, alarms.Humidity, alarms.Surface, alarms.Soil, alarms.Current, alarms.Power,
		alarms.Speed, alarms.Battery, alarms.Voltage, alarms.Signal, alarms.Pressure, alarms.Contact}
	source := Source{Probe: "a", Filter: "t", Form: JSON}
	other := Source{Probe: "b", Filter: "t", Form: JSON, Reads: []Read{{Quantity: alarms.Temperature, At: "/a/0/b"}}}
	for i, q := range quantities {
		source.Reads = append(source.Reads, Read{Quantity: q, At: pointers[i]})
	}
	table := mustNew(f, source, other)
	f.Fuzz(func(t *testing.T, payload []byte) {
		got, problems := sound(t, table, payload, claims([]Source{source, other}))
		if len(payload) == 0 || len(payload) > maxPayload {
			return
		}
		if !json.Valid(payload) {
			if len(got) != 0 || len(problems) != 2 || problems[0].Cause != BadSyntax {
				t.Fatalf("not JSON, but got %v %+v", got, problems)
			}
			return
		}
		var doc any
		if err := json.Unmarshal(payload, &doc); err != nil {
			return // a number that no float64 holds
		}
		values := map[claim]float64{}
		for _, v := range got {
			values[claim{v.Probe, v.Quantity}] = v.Value
		}
		for _, s := range []Source{source, other} {
			for _, r := range s.Reads {
				p, _ := parsePointer(r.At)
				want, there := naive(doc, p)
				x, isNumber := want.(float64)
				value, given := values[claim{s.Probe, r.Quantity}]
				_, isText := want.(string)
				switch {
				case r.Quantity == alarms.Contact:
				case there && isNumber && (!given || value != x):
					t.Fatalf("%q: got %v %v, want %v", r.At, value, given, x)
				case given && !isNumber && !isText:
					t.Fatalf("%q: got %v where encoding/json has %v", r.At, value, want)
				}
			}
		}
	})
}

func FuzzSenML(f *testing.F) {
	for _, pack := range rfc8428() {
		f.Add([]byte(pack))
	}
	for _, s := range []string{`[]`, `[{}]`, `[{"bver":11}]`, `[{"x_":1}]`, `{"n":"t"}`, `[1]`, `[{"bn":"t","bv":1e308,"v":1e308}]`, `[{"n":"t","t":-1e300,"v":1}]`,
		`[{"n":"t","t":1e300,"v":1}]`, `[{"n":"t","vs":"on"}]`, `[{"n":"t","vb":0}]`, `[{"n":"t","bt":268435456,"t":-1,"v":1}]`} {
		f.Add([]byte(s))
	}
	sources := []Source{
		{Probe: "a", Filter: "t", Form: SenML, Reads: []Read{{Quantity: alarms.Temperature, At: "t"}, {Quantity: alarms.Contact, At: "t2"}}},
		{Probe: "b", Filter: "t", Form: SenML, Reads: []Read{{Quantity: alarms.Humidity, At: "urn:dev:ow:10e2073a01080063"}, {Quantity: alarms.Contact, At: "t"}}}}
	table := mustNew(f, sources...)
	f.Fuzz(func(t *testing.T, payload []byte) {
		got, problems := sound(t, table, payload, claims(sources))
		if !json.Valid(payload) && (len(got) != 0 || (len(payload) > 0 && len(problems) == 0)) {
			t.Fatalf("not JSON, but got %v %v", got, problems)
		}
		var named []map[string]any
		if err := json.Unmarshal(payload, &named); err != nil && len(got) != 0 && json.Valid(payload) {
			var any []json.RawMessage
			if json.Unmarshal(payload, &any) != nil {
				t.Fatalf("not a list, but got %v", got)
			}
		}
	})
}

func FuzzLine(f *testing.F) {
	for _, s := range []string{"climate,place=bench,unit=1 temp=21.5,rh=63 1775369228250000000", "climate,place=bench,unit=1 temp=21i", "x", "x y=", "x y=1 z",
		"# c\n\nx y=t\r\n", `my\ M,a=\,b f\ k="x\"y" 1`, "climate,place=bench,unit=1 temp=\"on\"", "x,=1 y=1", "x y=1\x00", "x y=1e400", "x y=0x1p4", "x y=1i 9223372036854775807",
		"x y=18446744073709551615u -9223372036854775808", "x y=\"\n\" 5", "\\", "x y=1,z=\"", "x y=1 5\nclimate,place=bench,unit=1 temp=4"} {
		f.Add([]byte(s))
	}
	any := Source{Probe: "any", Filter: "t", Form: Line, Clock: Clock{Unit: Seconds}, Reads: []Read{{Quantity: alarms.Temperature, At: "y"}, {Quantity: alarms.Contact, At: "temp"}}}
	bench := lineSource()
	bench.Filter = "t"
	sources := []Source{any, bench}
	table := mustNew(f, sources...)
	f.Fuzz(func(t *testing.T, payload []byte) { sound(t, table, payload, claims(sources)) })
}
