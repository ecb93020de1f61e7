package decode

import (
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

func climate() Source {
	return Source{Probe: "bench-1", Filter: "long-house/bench/climate", Form: JSON, Reads: []Read{
		{Quantity: alarms.Temperature, At: "/temperature"}, {Quantity: alarms.Humidity, At: "/humidity"}}}
}

const climateTopic = "long-house/bench/climate"

func TestJSON(t *testing.T) {
	tests := []struct {
		name, payload string
		temp, hum     float64 // 0: none
		causes        []Cause
		says          string
	}{
		{"both", `{"temperature":21.4,"humidity":63}`, 21.4, 63, nil, ""},
		{"blanks and more members", " {\n\"id\" : [1,{\"x\":\"}\"}] , \"humidity\":\t63.0,\"temperature\": 21.4 } ", 21.4, 63, nil, ""},
		{"exponent", `{"temperature":2.14e1,"humidity":6.3E+1}`, 21.4, 63, nil, ""},
		{"numbers as text", `{"temperature":"21.4","humidity":"63 %"}`, 21.4, 63, nil, ""},
		{"escaped text", `{"temperature":"\u0032\u0031.4","humidity":63}`, 21.4, 63, nil, ""},
		{"null", `{"temperature":null,"humidity":63}`, 0, 63, []Cause{NoValue}, "temperature: got null"},
		{"missing", `{"humidity":63}`, 0, 63, []Cause{Missing}, `temperature: nothing is there at the pointer "/temperature"`},
		{"object", `{"temperature":{"value":21.4},"humidity":63}`, 0, 63, []Cause{WrongType}, `{\"value\":21.4}`},
		{"list", `{"temperature":[],"humidity":63}`, 0, 63, []Cause{WrongType}, "want a number"},
		{"boolean", `{"temperature":true,"humidity":63}`, 0, 63, []Cause{WrongType}, "got true"},
		{"text", `{"temperature":"n/a","humidity":63}`, 0, 63, []Cause{NotNumber}, `"n/a"`},
		{"comma in text", `{"temperature":"21,4","humidity":63}`, 0, 63, []Cause{Comma}, ""},
		{"NaN in text", `{"temperature":"NaN","humidity":63}`, 0, 63, []Cause{NotFinite}, ""},
		{"too large", `{"temperature":1e999,"humidity":63}`, 0, 63, []Cause{NotFinite}, ""},
		{"two causes", `{"temperature":null,"humidity":[]}`, 0, 0, []Cause{NoValue, WrongType}, ""},
		{"one cause twice", `{"temperature":null,"humidity":null}`, 0, 0, []Cause{NoValue}, "; humidity: got null"},
		{"NaN is no JSON", `{"temperature":NaN,"humidity":63}`, 0, 0, []Cause{BadSyntax}, "not JSON"},
		{"cut short", `{"temperature":21.4,"humid`, 0, 0, []Cause{BadSyntax}, "not JSON"},
		{"trailing comma", `{"temperature":21.4,}`, 0, 0, []Cause{BadSyntax}, "not JSON"},
		{"leading zero", `{"temperature":021.4}`, 0, 0, []Cause{BadSyntax}, "not JSON"},
		{"two documents", `{"temperature":21.4}{"humidity":63}`, 0, 0, []Cause{BadSyntax}, "not JSON"},
		{"not an object", `21.4`, 0, 0, []Cause{Missing}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			table := mustNew(t, climate())
			got, problems := decodeAll(table, climateTopic, tt.payload)
			var temp, hum float64
			for _, v := range got {
				switch v.Quantity {
				case alarms.Temperature:
					temp = v.Value
				case alarms.Humidity:
					hum = v.Value
				}
			}
			if temp != tt.temp || hum != tt.hum || !slices.Equal(causes(problems), tt.causes) {
				t.Fatalf("got %v, %v, problems %+v; want %v, %v, %v", temp, hum, problems, tt.temp, tt.hum, tt.causes)
			}
			if without := slices.Sorted(slices.Values(append(quantities(got), missed(problems)...))); !slices.Equal(without,
				[]alarms.Quantity{alarms.Humidity, alarms.Temperature}) {
				t.Errorf("each of the two is a value or missed once: got %v and %v", quantities(got), missed(problems))
			}
			if len(problems) > 0 && !strings.Contains(problems[0].Detail, tt.says) {
				t.Errorf("got %q, want %q in it", problems[0].Detail, tt.says)
			}
		})
	}
}

func TestJSONContactAndOptional(t *testing.T) {
	table := mustNew(t, Source{Probe: "shutter", Filter: "s", Form: JSON, Reads: []Read{
		{Quantity: alarms.Contact, At: "/closed"}, {Quantity: alarms.Battery, At: "/battery", Unit: "ratio", Optional: true}}})
	for payload, want := range map[string]float64{`{"closed":true}`: 1, `{"closed":false}`: 0, `{"closed":"open"}`: 0, `{"closed":1}`: 1} {
		got, problems := decodeAll(table, "s", payload)
		if len(got) != 1 || got[0].Value != want || problems != nil {
			t.Errorf("%s: got %v %v, want %v", payload, got, problems, want)
		}
	}
	got, problems := decodeAll(table, "s", `{"battery":0.87}`)
	if len(got) != 1 || got[0].Value != 87 || !slices.Equal(causes(problems), []Cause{Missing}) ||
		!slices.Equal(missed(problems), []alarms.Quantity{alarms.Contact}) {
		t.Errorf("got %v %+v", got, problems)
	}
}

func TestJSONTime(t *testing.T) {
	at := time.Date(2026, 4, 5, 6, 7, 8, 250_000_000, time.UTC)
	tests := []struct {
		unit TimeUnit
		text string
		want time.Time
	}{
		{"", `"2026-04-05T06:07:08.25Z"`, at},
		{"", `"2026-04-05T08:07:08.25+02:00"`, at},
		{"", `1775369228`, at.Truncate(time.Second)},
		{"", `1775369228.25`, at},
		{Seconds, `"1775369228"`, at.Truncate(time.Second)},
		{Milliseconds, `1775369228250`, at},
		{Microseconds, `1775369228250000`, at},
		{Nanoseconds, `1775369228250000000`, at},
		{Nanoseconds, `"2026-04-05T06:07:08.25Z"`, at},
		{"", `-86400`, time.Date(1969, 12, 31, 0, 0, 0, 0, time.UTC)},
	}
	for _, tt := range tests {
		s := climate()
		s.Clock = Clock{At: "/time", Unit: tt.unit}
		got, problems := decodeAll(mustNew(t, s), climateTopic, `{"temperature":21.4,"humidity":63,"time":`+tt.text+`}`)
		if len(got) != 2 || problems != nil || !got[0].Measured.Equal(tt.want) || !got[1].Measured.Equal(tt.want) {
			t.Errorf("%s in %q: got %v %v, want %v", tt.text, tt.unit, got, problems, tt.want)
		}
	}
}

// A time that cannot be read costs the time, never the value.
func TestJSONBadTimeKeepsTheValues(t *testing.T) {
	for _, text := range []string{`"2026-04-05T06:07:08"`, `"yesterday"`, `null`, `{}`, `1e300`, `99999999999999`, `9223372036854775807`} {
		s := climate()
		s.Clock.At = "/time"
		got, problems := decodeAll(mustNew(t, s), climateTopic, `{"temperature":21.4,"humidity":63,"time":`+text+`}`)
		if len(got) != 2 || !got[0].Measured.IsZero() || !slices.Equal(causes(problems), []Cause{BadTime}) || missed(problems) != nil {
			t.Errorf("%s: got %v %+v", text, got, problems)
		}
	}
	s := climate()
	s.Clock.At = "/time"
	got, problems := decodeAll(mustNew(t, s), climateTopic, `{"temperature":21.4,"humidity":63}`)
	if len(got) != 2 || !slices.Equal(causes(problems), []Cause{BadTime}) {
		t.Errorf("no time: got %v %+v", got, problems)
	}
}

func TestLargeAndDeepPayloads(t *testing.T) {
	table := mustNew(t, climate())
	deep := strings.Repeat("[", 9000) + strings.Repeat("]", 9000)
	got, problems := decodeAll(table, climateTopic, `{"x":`+deep+`,"temperature":21.4,"humidity":63}`)
	if len(got) != 2 || problems != nil {
		t.Errorf("deep: got %v %v", got, problems)
	}
	deeper := strings.Repeat("[", 100_000) + strings.Repeat("]", 100_000)
	if _, problems = decodeAll(table, climateTopic, deeper); !slices.Equal(causes(problems), []Cause{BadSyntax}) {
		t.Errorf("deeper than the library allows: got %v", causes(problems))
	}
	huge := `{"temperature":21.4,"humidity":63,"x":"` + strings.Repeat("x", maxPayload) + `"}`
	if got, problems = decodeAll(table, climateTopic, huge); len(got) != 0 || !slices.Equal(causes(problems), []Cause{TooLarge}) || len(missed(problems)) != 2 {
		t.Errorf("huge: got %v %v", got, causes(problems))
	}
}
