package decode

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// rfc8428 returns the example packs of RFC 8428, section 5.1, by the name that
// the table of resolved records uses.
func rfc8428() map[string]string {
	const ow = `"urn:dev:ow:10e2073a01080063`
	return map[string]string{
		"5.1.1 single":           `[{"n":` + ow + `","u":"Cel","v":23.1}]`,
		"5.1.2a voltage/current": `[{"bn":` + ow + `:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]`,
		"5.1.2b relative seconds": `[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
			{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},
			{"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]`,
		"5.1.2c humidity stream": `[{"bn":` + ow + `","bt":1.320067464e+09,"bu":"%RH","v":21.2},{"t":10,"v":21.3},{"t":20,"v":21.4},
			{"t":30,"v":21.4},{"t":40,"v":21.5},{"t":50,"v":21.5},{"t":60,"v":21.5},{"t":70,"v":21.6},{"t":80,"v":21.7}]`,
		"5.1.4 resolved (printed in RFC)": `[{"bn":` + ow + `","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},{"u":"lat","v":60.07965},
			{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},
			{"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},
			{"u":"%EL","t":150,"v":98},{"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]`,
		"5.1.5 data types": `[{"bn":` + ow + `:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},{"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]`,
		"5.1.6 collection": `[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},{"n":"humidity","u":"%RH","v":30},
			{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]`,
	}
}

func (r record) shown() string {
	switch r.kind {
	case textKind:
		return string(r.text)
	case boolKind:
		return strconv.FormatBool(r.yes)
	case dataKind:
		return fmt.Sprintf("%x", r.text)
	}
	return strconv.FormatFloat(r.value, 'g', -1, 64)
}

// Every example of RFC 8428, section 5.1, against its resolved records.
func TestSenMLExamplesOfTheRFC(t *testing.T) {
	got := map[string][]record{}
	for name, pack := range rfc8428() {
		bad, whole := resolve([]byte(pack), func(r record) { got[name] = append(got[name], r) })
		if bad.bad() || whole.bad() {
			t.Errorf("%s: %v %v", name, bad, whole)
		}
	}
	checked := 0
	for _, row := range reference(t, "senml-resolved.csv") {
		name, wantName, wantUnit, wantValue, wantTime := row[0], row[1], row[2], row[3], row[4]
		if len(got[name]) == 0 {
			t.Fatalf("%s: a record is missing", name)
		}
		r := got[name][0]
		got[name] = got[name][1:]
		checked++
		if strings.HasSuffix(wantName, "nfv-reader") {
			wantValue = "6869200a" // "hi ", line feed
		}
		if r.name != wantName || r.unit != wantUnit || r.shown() != wantValue {
			t.Errorf("%s: got %s %s %s, want %s %s %s", name, r.name, r.unit, r.shown(), wantName, wantUnit, wantValue)
		}
		at := 0.0
		if wantTime != "" {
			at, _ = strconv.ParseFloat(wantTime, 64)
		}
		if math.Abs(r.time-at) > 1e-6 {
			t.Errorf("%s %s: got time %f, want %f", name, r.name, r.time, at)
		}
	}
	for name, rest := range got {
		if len(rest) != 0 {
			t.Errorf("%s: %d records too many", name, len(rest))
		}
	}
	if checked != 40 {
		t.Errorf("checked %d records, want all 40", checked)
	}
}

// The same packs through a table: times, units chosen under one name, order.
func TestSenMLThroughATable(t *testing.T) {
	const ow = "urn:dev:ow:10e2073a01080063"
	table := mustNew(t,
		Source{Probe: "bench-1", Filter: "a", Form: SenML, Reads: []Read{
			{Quantity: alarms.Humidity, At: ow}, {Quantity: alarms.Battery, At: ow, Optional: true}}},
		Source{Probe: "upper", Filter: "b", Form: SenML, Reads: []Read{{Quantity: alarms.Temperature, At: "2001:db8::2/temperature", Unit: "Cel"}}},
		Source{Probe: "lower", Filter: "b", Form: SenML, Reads: []Read{
			{Quantity: alarms.Temperature, At: "2001:db8::1/temperature"}, {Quantity: alarms.Humidity, At: "2001:db8::1/humidity"}}})
	packs := rfc8428()

	got, problems := decodeAll(table, "a", packs["5.1.4 resolved (printed in RFC)"])
	at := func(unix int64) time.Time { return time.Unix(unix, 0).UTC() }
	want := []Value{
		{"bench-1", alarms.Humidity, 20, at(1320067464)}, {"bench-1", alarms.Humidity, 20.3, at(1320067524)},
		{"bench-1", alarms.Humidity, 20.7, at(1320067584)}, {"bench-1", alarms.Battery, 98, at(1320067614)},
		{"bench-1", alarms.Humidity, 21.2, at(1320067644)}}
	if !slices.Equal(got, want) || problems != nil {
		t.Errorf("got %v %v, want %v", got, problems, want)
	}
	got, problems = decodeAll(table, "b", packs["5.1.6 collection"])
	want = []Value{{"upper", alarms.Temperature, 25.2, at(1320078429)}, {"lower", alarms.Temperature, 12.3, at(1320078429)},
		{"lower", alarms.Humidity, 67, at(1320078429)}}
	if !slices.Equal(got, want) || problems != nil {
		t.Errorf("got %v %v, want %v", got, problems, want)
	}
}

func resolveAll(pack string) (rs []record, bad, whole fault) {
	bad, whole = resolve([]byte(pack), func(r record) { rs = append(rs, r) })
	return rs, bad, whole
}

// Section 4.1: bases hold until they come again; value = bv + v, sum = bs + s,
// time = bt + t; what is missing is zero. Worked by hand.
func TestSenMLBases(t *testing.T) {
	rs, bad, whole := resolveAll(`[{"bn":"a-","bv":20,"bs":100,"bt":1000000000},{"n":"x","v":1.5,"s":7,"t":-10},{"n":"y","v":-20},
		{"bn":"b-","bv":1,"n":"x","v":1},{"n":"z","s":5},{"bs":0,"n":"w","vs":"text"}]`)
	if bad.bad() || whole.bad() {
		t.Fatal(bad, whole)
	}
	type line struct {
		name  string
		kind  valueKind
		value float64
		sum   float64
		time  float64
	}
	want := []line{{"a-x", floatKind, 21.5, 107, 999999990}, {"a-y", floatKind, 0, 100, 1e9}, {"b-x", floatKind, 2, 100, 1e9},
		{"b-z", noKind, 0, 105, 1e9}, {"b-w", textKind, 0, 0, 1e9}}
	var got []line
	for _, r := range rs {
		got = append(got, line{r.name, r.kind, r.value, r.sum, r.time})
	}
	if !slices.Equal(got, want) {
		t.Fatalf("got %v, want %v", got, want)
	}
}

// Section 4.5.3: below 2^28 s a time counts from now.
func TestSenMLRelativeTime(t *testing.T) {
	s := Source{Probe: "bench-1", Filter: "a", Form: SenML, Reads: []Read{{Quantity: alarms.Temperature, At: "t"}}}
	tests := []struct {
		fields string
		want   time.Time
	}{
		{``, time.Time{}}, {`"t":0,`, time.Time{}}, {`"t":-5,`, noon.Add(-5 * time.Second)}, {`"t":2.5,`, noon.Add(2500 * time.Millisecond)},
		{`"bt":-60,"t":-5,`, noon.Add(-65 * time.Second)},
		{`"t":268435455,`, noon.Add(268435455 * time.Second)},
		{`"t":268435456,`, time.Date(1978, 7, 4, 21, 24, 16, 0, time.UTC)},
		{`"bt":1775369228,"t":0.25,`, time.Date(2026, 4, 5, 6, 7, 8, 250_000_000, time.UTC)},
	}
	for _, tt := range tests {
		got, problems := decodeAll(mustNew(t, s), "a", `[{"n":"t","u":"Cel",`+tt.fields+`"v":21}]`)
		if len(got) != 1 || problems != nil || !got[0].Measured.Equal(tt.want) {
			t.Errorf("%s: got %v %v, want %v", tt.fields, got, problems, tt.want)
		}
	}
}

func TestSenMLRefused(t *testing.T) {
	tests := []struct {
		name, pack string
		values     int
		cause      Cause
		says       string
	}{
		{"version 10 is the one known", `[{"bver":10,"n":"t","v":21}]`, 1, "", ""},
		{"newer version", `[{"bver":11,"n":"t","v":21}]`, 0, BadVersion, "versions 1 to 10"},
		{"version in the last record", `[{"n":"t","v":21},{"bver":11,"n":"x","v":1}]`, 0, BadVersion, "record 2"},
		{"no whole version", `[{"bver":5.5,"n":"t","v":21}]`, 0, BadVersion, ""},
		{"unknown field is ignored", `[{"n":"t","v":21,"colour":"red","V":99}]`, 1, "", ""},
		{"field that must be understood", `[{"n":"t","v":21},{"n":"x","v":1,"scale_":2}]`, 0, NotKnown, `"scale_"`},
		{"not a pack", `{"n":"t","v":21}`, 0, BadSyntax, "want a SenML pack"},
		{"not a record", `[{"n":"t","v":21},7]`, 0, BadSyntax, "record 2"},
		{"two values", `[{"n":"t","v":21,"vs":"x"}]`, 0, BadSyntax, "has 2 values"},
		{"no value", `[{"n":"t","u":"Cel"}]`, 0, BadSyntax, "has no value"},
		{"no name", `[{"v":21}]`, 0, BadSyntax, "no name"},
		{"bad name", `[{"n":"_t","v":21}]`, 0, BadSyntax, "not allowed"},
		{"name with a blank", `[{"n":"bench t","v":21}]`, 0, BadSyntax, "not allowed"},
		{"a bad record costs the others nothing", `[{"n":"x","v":"21"},{"n":"t","v":21}]`, 1, BadSyntax, `v of "x"`},
		{"a bad base spoils all", `[{"bn":7,"n":"t","v":21}]`, 0, BadSyntax, "bn is"},
		{"boolean for a number", `[{"n":"t","vb":true}]`, 0, WrongType, "got true"},
		{"data for a number", `[{"n":"t","vd":"aGkgCg"}]`, 0, WrongType, "got data"},
		{"padded data", `[{"n":"t","vd":"aGkgCg=="}]`, 0, BadSyntax, "without padding"},
		{"number as text", `[{"n":"t","vs":"21"}]`, 1, "", ""},
		{"unit of another quantity", `[{"n":"t","u":"%RH","v":21}]`, 0, Missing, `under the name "t" in a unit of temperature`},
		{"unit against the config", `[{"n":"t","u":"K","v":294.15}]`, 0, BadUnit, "the payload states K, the config says Cel"},
		{"only a sum", `[{"n":"t","u":"Cel","s":21}]`, 0, Missing, ""},
		{"empty pack", `[]`, 0, Missing, ""},
		{"infinite once added", `[{"bv":1.7e308,"n":"t","v":1.7e308}]`, 0, NotFinite, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			table := mustNew(t, Source{Probe: "bench-1", Filter: "a", Form: SenML, Reads: []Read{{Quantity: alarms.Temperature, At: "t", Unit: "Cel"}}})
			got, problems := decodeAll(table, "a", tt.pack)
			if len(got) != tt.values {
				t.Fatalf("got %v, want %d values", got, tt.values)
			}
			if tt.cause == "" {
				if problems != nil {
					t.Fatalf("got %+v", problems)
				}
				return
			}
			if !slices.Equal(causes(problems), []Cause{tt.cause}) || !strings.Contains(problems[0].Detail, tt.says) {
				t.Fatalf("got %+v, want %s and %q", problems, tt.cause, tt.says)
			}
		})
	}
}

func TestSenMLContact(t *testing.T) {
	s := Source{Probe: "shutter", Filter: "a", Form: SenML, Reads: []Read{{Quantity: alarms.Contact, At: "shutter"}}}
	for pack, want := range map[string]float64{
		`[{"n":"shutter","vb":true}]`: 1, `[{"n":"shutter","u":"/","v":0}]`: 0, `[{"n":"shutter","vs":"closed"}]`: 1,
	} {
		got, problems := decodeAll(mustNew(t, s), "a", pack)
		if len(got) != 1 || got[0].Value != want || problems != nil {
			t.Errorf("%s: got %v %v, want %v", pack, got, problems, want)
		}
	}
}
