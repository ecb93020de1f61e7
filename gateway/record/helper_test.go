package record

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones below, on any machine
)

// open looks at a text as if it were a file.
func openText(text string, o Options) (*Table, error) {
	p, err := plainOf(strings.NewReader(text), int64(len(text)), func() error { return nil })
	if err != nil {
		return nil, err
	}
	return newTable(p, o)
}

func mustOpen(t testing.TB, text string, o Options) *Table {
	t.Helper()
	table, err := openText(text, o)
	if err != nil {
		t.Fatalf("%v\nof the text\n%.400s", err, text)
	}
	t.Cleanup(func() { _ = table.Close() })
	return table
}

// got is a row as "time name=text name=text", the time in UTC.
func got(t testing.TB, table *Table) (out []string) {
	t.Helper()
	for {
		row, ok, err := table.Next()
		if err != nil {
			t.Fatal(err)
		}
		if !ok {
			return out
		}
		text := time.Unix(0, row.At).UTC().Format("2006-01-02 15:04:05.999")
		for _, c := range row.Cells {
			text += fmt.Sprintf(" %s=%s", table.Series[c.Series].Name(), c.Text)
		}
		out = append(out, text)
	}
}

func same(t *testing.T, got, want []string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("got\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}
