package decode

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
)

var noon = time.Date(2026, 4, 5, 12, 0, 0, 0, time.UTC)

// reference reads a CSV of published check values.
func reference(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

func mustNew(t testing.TB, sources ...Source) *Table {
	t.Helper()
	table, err := New(sources)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

// decodeAll decodes one payload received at noon.
func decodeAll(table *Table, topic, payload string) ([]Value, []Problem) {
	var got []Value
	problems := table.Decode(topic, []byte(payload), noon, func(v Value) { got = append(got, v) })
	return got, problems
}

// causes lists the causes of problems in order.
func causes(ps []Problem) []Cause {
	var cs []Cause
	for _, p := range ps {
		cs = append(cs, p.Cause)
	}
	return cs
}

func one(q alarms.Quantity, unit string) []Read { return []Read{{Quantity: q, Unit: unit}} }

func quantities(vs []Value) []alarms.Quantity {
	var all []alarms.Quantity
	for _, v := range vs {
		all = append(all, v.Quantity)
	}
	return all
}

// missed lists what the payload gave no value of.
func missed(problems []Problem) []alarms.Quantity {
	var all []alarms.Quantity
	for _, p := range problems {
		all = append(all, p.Quantities...)
	}
	return all
}
