package decode

import (
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// readLines reads a text line by line.
func readLines(t *testing.T, text string, sources ...Source) (got []Value, bad []Problem) {
	t.Helper()
	l, err := NewLines(sources)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(text) {
		v, p := l.Read([]byte(strings.TrimRight(line, "\n")))
		got, bad = append(got, v...), append(bad, p...)
	}
	return got, bad
}

func TestReadLines(t *testing.T) {
	text := "# recorded\nclimate,place=bench,unit=1 temp=21,rh=60 1000000000\n" +
		"climate,place=ridge,unit=1 temp=25 1000000000\nrubbish\nclimate,place=bench,unit=1 temp=22\n" +
		"climate,place=bench,unit=1 temp=t 2000000000\nclimate,place=bench,unit=1 temp=23 3000000000\n"
	s := lineSource()
	s.Filter, s.Form = "", ""
	got, bad := readLines(t, text, s)
	want := []Value{{"bench-1", alarms.Temperature, 21, time.Unix(1, 0).UTC()}, {"bench-1", alarms.Humidity, 60, time.Unix(1, 0).UTC()},
		{"bench-1", alarms.Temperature, 23, time.Unix(3, 0).UTC()}}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if len(bad) != 3 || bad[0].Cause != BadSyntax || bad[1].Cause != BadTime || bad[2].Cause != WrongType {
		t.Errorf("got %+v", bad)
	}
}

// The lines that the service itself exports can be read back.
func TestReadExportedLines(t *testing.T) {
	text := "reading,house=long-house,place=bench,probe=bench-1 temperature=21.5 1775369228000000000\n" +
		"transition,alarm=long-house/bench/temperature/high,house=long-house,move=raise,place=bench,priority=medium,rule=limit id=\"x#1\",sentence=\"Bench at 31.3 °C\" 1775369229000000000\n" +
		"reading,house=long-house,place=bench,probe=bench-1 humidity=63 1775369230000000000\n"
	probe := map[string]string{"probe": "bench-1"}
	got, bad := readLines(t, text, Source{Probe: "bench-1", Reads: []Read{
		{Quantity: alarms.Temperature, Measurement: "reading", Tags: probe, At: "temperature"},
		{Quantity: alarms.Humidity, Measurement: "reading", Tags: probe, At: "humidity"}}})
	want := []Value{{"bench-1", alarms.Temperature, 21.5, time.Unix(1775369228, 0).UTC()}, {"bench-1", alarms.Humidity, 63, time.Unix(1775369230, 0).UTC()}}
	if !slices.Equal(got, want) || bad != nil {
		t.Errorf("got %v %+v", got, bad)
	}
}
