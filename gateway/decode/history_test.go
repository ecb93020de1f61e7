package decode

import (
	"errors"
	"io"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"telltale/alarms"
)

func benchColumns() Columns {
	return Columns{Time: "when", Cells: []Column{
		{Header: "t_f", Probe: "bench-1", Quantity: alarms.Temperature, Unit: "°F"},
		{Header: "rh", Probe: "bench-1", Quantity: alarms.Humidity},
		{Header: "ridge", Probe: "ridge-1", Quantity: alarms.Temperature}}}
}

func TestReadCSV(t *testing.T) {
	text := "\xef\xbb\xbfwhen,t_f,rh,ridge,note\n" +
		"2026-04-05 06:07:08,50,63,,\n" +
		"2026-04-05 06:08,n/a,64,24.5,door open\n" +
		"never,50,63,24,\n" +
		"2026-02-30 06:08,50,63,24,\n" +
		"2026-04-05T06:09:00Z,51.8\n" +
		"2026-04-05 06:10,\"53.6,65\n"
	var got []Value
	h, err := ReadCSV(strings.NewReader(text), benchColumns(), func(v Value) { got = append(got, v) })
	if err != nil {
		t.Fatal(err)
	}
	at := func(m, s int) time.Time { return time.Date(2026, 4, 5, 6, m, s, 0, time.UTC) }
	want := []Value{
		{"bench-1", alarms.Temperature, 10, at(7, 8)}, {"bench-1", alarms.Humidity, 63, at(7, 8)},
		{"bench-1", alarms.Humidity, 64, at(8, 0)}, {"ridge-1", alarms.Temperature, 24.5, at(8, 0)},
		{"bench-1", alarms.Temperature, 11, at(9, 0)}}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if h.Rows != 5 || h.Values != 5 || h.Empty != 3 || h.Bad != 4 || !h.From.Equal(at(7, 8)) || !h.To.Equal(at(9, 0)) {
		t.Errorf("got %+v", h)
	}
	var said []string
	for _, p := range h.Problems {
		said = append(said, p.String())
	}
	for i, want := range []string{`line 3, column "t_f": got "n/a", want a number`, `line 4, column "when": got the time "never"`,
		`line 5, column "when": got the time "2026-02-30 06:08"`, `line 7: `} {
		if i >= len(said) || !strings.HasPrefix(said[i], want) {
			t.Errorf("got %q, want %q", said, want)
		}
	}
}

func TestReadCSVZoneUnitAndComma(t *testing.T) {
	zone := time.FixedZone("east", 2*3600)
	c := Columns{Time: "t", Zone: zone, Unit: Milliseconds, Comma: ';', Cells: []Column{{Header: "v", Probe: "bench-1", Quantity: alarms.Temperature}}}
	var got []time.Time
	h, err := ReadCSV(strings.NewReader("t;v\n2026-04-05 08:07:08;21\n1775369228000;21\n2026-04-05T06:07:08+00:00;21\n"), c, func(v Value) { got = append(got, v.Measured) })
	if err != nil || h.Bad != 0 || len(got) != 3 {
		t.Fatalf("got %v %+v %v", got, h, err)
	}
	for _, at := range got {
		if !at.Equal(time.Unix(1775369228, 0)) {
			t.Errorf("got %v", at)
		}
	}
}

func TestReadCSVTellsWrongColumns(t *testing.T) {
	c := benchColumns()
	c.Unit = "days"
	c.Cells = append(c.Cells, Column{Header: "t_f", Probe: "bench-1", Quantity: alarms.Temperature, Unit: "%"})
	_, err := ReadCSV(strings.NewReader("time,rh,ridge\n1,2,3\n"), c, func(Value) { t.Error("gave a value") })
	for _, want := range []string{`unit of time: got "days"`, `column "when" for the time is not there, got ["time" "rh" "ridge"]`,
		`column "t_f" is not there`, `probe "bench-1" claims temperature twice`, `"%" is no unit of temperature`} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q in it", err, want)
		}
	}
	if _, err := ReadCSV(strings.NewReader(""), benchColumns(), nil); err == nil || !strings.Contains(err.Error(), "header line") {
		t.Errorf("empty: got %v", err)
	}
}

func TestReadersTellAFailingFile(t *testing.T) {
	broken := errors.New("the card was pulled out")
	values := 0
	count := func(Value) { values++ }
	_, err := ReadCSV(io.MultiReader(strings.NewReader("when,t_f,rh,ridge\n2026-04-05 06:07,50,63,20\n"), iotest.ErrReader(broken)), benchColumns(), count)
	if !errors.Is(err, broken) || values != 3 {
		t.Errorf("csv: got %v after %d values", err, values)
	}
	values = 0
	_, err = ReadLines(io.MultiReader(strings.NewReader("climate,place=bench,unit=1 temp=21 1000\n"), iotest.ErrReader(broken)), []Source{lineSource()}, count)
	if !errors.Is(err, broken) || values != 1 {
		t.Errorf("lines: got %v after %d values", err, values)
	}
}

func TestReadLines(t *testing.T) {
	text := "# recorded\nclimate,place=bench,unit=1 temp=21,rh=60 1000000000\n" +
		"climate,place=ridge,unit=1 temp=25 1000000000\nrubbish\nclimate,place=bench,unit=1 temp=22\n" +
		"climate,place=bench,unit=1 temp=t 2000000000\nclimate,place=bench,unit=1 temp=23 3000000000\n"
	s := lineSource()
	s.Filter, s.Form = "", ""
	var got []Value
	h, err := ReadLines(strings.NewReader(text), []Source{s}, func(v Value) { got = append(got, v) })
	want := []Value{{"bench-1", alarms.Temperature, 21, time.Unix(1, 0).UTC()}, {"bench-1", alarms.Humidity, 60, time.Unix(1, 0).UTC()},
		{"bench-1", alarms.Temperature, 23, time.Unix(3, 0).UTC()}}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %v %v, want %v", got, err, want)
	}
	if h.Rows != 6 || h.Values != 3 || h.Bad != 3 || !h.To.Equal(time.Unix(3, 0)) || h.Problems[0].Line != 4 {
		t.Errorf("got %+v", h)
	}
}

// The lines that the service itself exports can be read back.
func TestReadExportedLines(t *testing.T) {
	text := "reading,house=long-house,place=bench,probe=bench-1 temperature=21.5 1775369228000000000\n" +
		"transition,alarm=long-house/bench/temperature/high,house=long-house,move=raise,place=bench,priority=medium,rule=limit id=\"x#1\",sentence=\"Bench at 31.3 °C\" 1775369229000000000\n" +
		"reading,house=long-house,place=bench,probe=bench-1 humidity=63 1775369230000000000\n"
	probe := map[string]string{"probe": "bench-1"}
	var got []Value
	h, err := ReadLines(strings.NewReader(text), []Source{{Probe: "bench-1", Reads: []Read{
		{Quantity: alarms.Temperature, Measurement: "reading", Tags: probe, At: "temperature"},
		{Quantity: alarms.Humidity, Measurement: "reading", Tags: probe, At: "humidity"}}}}, func(v Value) { got = append(got, v) })
	want := []Value{{"bench-1", alarms.Temperature, 21.5, time.Unix(1775369228, 0).UTC()}, {"bench-1", alarms.Humidity, 63, time.Unix(1775369230, 0).UTC()}}
	if err != nil || !slices.Equal(got, want) || h.Bad != 0 || h.Rows != 3 {
		t.Errorf("got %v %+v %v", got, h, err)
	}
}

// The recorded houses: every filled cell is read, every empty one is missing.
func TestRecordedHouses(t *testing.T) {
	tests := []struct {
		file    string
		columns Columns
		rows    uint64
	}{
		{"fan-house-summer.csv", Columns{Time: "time_local", Cells: []Column{
			{Header: "inside_c", Probe: "inside", Quantity: alarms.Temperature},
			{Header: "inside_rh_pct", Probe: "inside", Quantity: alarms.Humidity},
			{Header: "exhaust_fan_pct", Probe: "fan", Quantity: alarms.Speed}}}, 41713},
		{"winter-house.csv", Columns{Time: "time_local", Cells: []Column{
			{Header: "probe_a_c", Probe: "a", Quantity: alarms.Temperature},
			{Header: "probe_b_c", Probe: "b", Quantity: alarms.Temperature}}}, 12384},
	}
	for _, tt := range tests {
		f, err := os.Open("../../../shared/data/" + tt.file)
		if err != nil {
			t.Skip("the recorded houses are not beside the checkout")
		}
		defer f.Close()
		h, err := ReadCSV(f, tt.columns, func(Value) {})
		cells := tt.rows * uint64(len(tt.columns.Cells))
		if err != nil || h.Rows != tt.rows || h.Bad != 0 || h.Values+h.Empty != cells || h.Values < cells*9/10 {
			t.Errorf("%s: got %+v, %v", tt.file, h, err)
		}
	}
}
