package decode

import (
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

func lineSource() Source {
	return Source{Probe: "bench-1", Filter: "lines", Form: Line, Reads: []Read{
		{Quantity: alarms.Temperature, Measurement: "climate", Tags: map[string]string{"place": "bench", "unit": "1"}, At: "temp"},
		{Quantity: alarms.Humidity, Measurement: "climate", Tags: map[string]string{"place": "bench"}, At: "rh", Optional: true}}}
}

func TestLineProtocol(t *testing.T) {
	at := time.Unix(0, 1775369228250000000).UTC()
	tests := []struct {
		name, payload string
		want          []float64
		measured      time.Time
		causes        []Cause
		says          string
	}{
		{"float", `climate,place=bench,unit=1 temp=21.5,rh=63 1775369228250000000`, []float64{21.5, 63}, at, nil, ""},
		{"no time", `climate,place=bench,unit=1 temp=21.5`, []float64{21.5}, time.Time{}, nil, ""},
		{"whole", `climate,place=bench,unit=1 temp=21i`, []float64{21}, time.Time{}, nil, ""},
		{"unsigned", `climate,place=bench,unit=1 temp=21u`, []float64{21}, time.Time{}, nil, ""},
		{"text", `climate,place=bench,unit=1 temp="21.5 C"`, []float64{21.5}, time.Time{}, nil, ""},
		{"tags in any order, further tags and fields", `climate,a=x,unit=1,place=bench v=3,temp=21.5`, []float64{21.5}, time.Time{}, nil, ""},
		{"comment and blank lines", "# from the bench\n\nclimate,place=bench,unit=1 temp=21.5\n", []float64{21.5}, time.Time{}, nil, ""},
		{"two lines out of order", "climate,place=bench,unit=1 temp=22 2000000000\nclimate,place=bench,unit=1 temp=21 1000000000",
			[]float64{21, 22}, time.Unix(1, 0), nil, ""},
		{"other tag", `climate,place=ridge,unit=1 temp=21.5`, nil, time.Time{}, []Cause{Missing}, `in the field "temp" of "climate" with place="bench" with unit="1"`},
		{"tag missing", `climate,place=bench temp=21.5`, nil, time.Time{}, []Cause{Missing}, ""},
		{"other measurement", `weather,place=bench,unit=1 temp=21.5`, nil, time.Time{}, []Cause{Missing}, ""},
		{"boolean", `climate,place=bench,unit=1 temp=true`, nil, time.Time{}, []Cause{WrongType}, "got true"},
		{"no field", `climate,place=bench,unit=1`, nil, time.Time{}, []Cause{BadSyntax}, "not line protocol"},
		{"NaN", `climate,place=bench,unit=1 temp=NaN`, nil, time.Time{}, []Cause{BadSyntax}, ""},
		{"quoted time", `climate,place=bench,unit=1 temp=21.5 "1775369228"`, nil, time.Time{}, []Cause{BadSyntax}, ""},
		{"time too large to hold", `climate,place=bench,unit=1 temp=21.5 99999999999999999999`, nil, time.Time{}, []Cause{BadSyntax}, "timestamp"},
		{"a bad line costs the others nothing", "climate,place=bench,unit=1 temp=\nclimate,place=bench,unit=1 temp=21.5\nx\ny",
			[]float64{21.5}, time.Time{}, []Cause{BadSyntax}, "(and 2 more lines)"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, problems := decodeAll(mustNew(t, lineSource()), "lines", tt.payload)
			var values []float64
			for _, v := range got {
				values = append(values, v.Value)
			}
			if !slices.Equal(values, tt.want) || !slices.Equal(causes(problems), tt.causes) {
				t.Fatalf("got %v and %+v, want %v and %v", got, problems, tt.want, tt.causes)
			}
			if len(got) > 0 && !got[0].Measured.Equal(tt.measured) {
				t.Errorf("measured %v, want %v", got[0].Measured, tt.measured)
			}
			if len(problems) > 0 && !strings.Contains(problems[0].Detail, tt.says) {
				t.Errorf("got %q, want %q in it", problems[0].Detail, tt.says)
			}
		})
	}
}

func TestLineTimeUnits(t *testing.T) {
	want := time.Unix(1775369228, 0)
	for unit, stamp := range map[TimeUnit]string{"": "1775369228000000000", Nanoseconds: "1775369228000000000",
		Microseconds: "1775369228000000", Milliseconds: "1775369228000", Seconds: "1775369228"} {
		s := lineSource()
		s.Clock.Unit = unit
		got, problems := decodeAll(mustNew(t, s), "lines", "climate,place=bench,unit=1 temp=21.5 "+stamp)
		if len(got) != 1 || !got[0].Measured.Equal(want) || problems != nil {
			t.Errorf("%q: got %v %v", unit, got, problems)
		}
	}
	s := lineSource()
	s.Clock.Unit = Seconds
	got, problems := decodeAll(mustNew(t, s), "lines", "climate,place=bench,unit=1 temp=21.5 1775369228000000000")
	if len(got) != 1 || !got[0].Measured.IsZero() || !slices.Equal(causes(problems), []Cause{BadTime}) {
		t.Errorf("nanoseconds taken as seconds: got %v %+v, want the value, and its time refused", got, problems)
	}
}

// The examples of the published syntax: escapes in names, an escaped equals
// sign in a tag, quotes within text.
func TestLineEscapes(t *testing.T) {
	s := Source{Probe: "bench-1", Filter: "lines", Form: Line, Reads: []Read{
		{Quantity: alarms.Temperature, Measurement: "my Measurement", Tags: map[string]string{"sensor_id": "TLM=0201"}, At: "field key"}}}
	got, problems := decodeAll(mustNew(t, s), "lines",
		`my\ Measurement,sensor_id=TLM\=0201 desc="\=My data==\\",field\ key=21.5,note="\"string\" within a string"`)
	if len(got) != 1 || got[0].Value != 21.5 || problems != nil {
		t.Fatalf("got %v %v", got, problems)
	}
}

// One topic for a whole house: a tag tells the probes apart, and a line of one
// of them says nothing about the others.
func TestLineSharedByProbes(t *testing.T) {
	var sources []Source
	for _, p := range []alarms.ProbeID{"bench-1", "ridge-1"} {
		sources = append(sources, Source{Probe: p, Filter: "lines", Form: Line, Reads: []Read{
			{Quantity: alarms.Temperature, Tags: map[string]string{"probe": string(p)}, At: "temp"}}})
	}
	table := mustNew(t, sources...)
	got, problems := decodeAll(table, "lines", "climate,probe=ridge-1 temp=24.5")
	if len(got) != 1 || got[0].Probe != "ridge-1" || problems != nil {
		t.Errorf("one of two: got %v %v", got, problems)
	}
	got, problems = decodeAll(table, "lines", "climate,probe=heap temp=41")
	if len(got) != 0 || !slices.Equal(causes(problems), []Cause{Unmatched}) || problems[0].Probe != "" {
		t.Errorf("none of two: got %v %+v", got, problems)
	}
	got, problems = decodeAll(table, "lines", "climate,probe=ridge-1 temp=true\nclimate,probe=bench-1 temp=20")
	if len(got) != 1 || len(problems) != 1 || problems[0].Probe != "ridge-1" ||
		!slices.Equal(missed(problems), []alarms.Quantity{alarms.Temperature}) {
		t.Errorf("one bad: got %v %+v", got, problems)
	}
}
