package record

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
)

// minutes are n rows from a moment on, a minute apart, of some probes each.
func minutes(n int, probes ...string) (rows []string) {
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range n {
		for _, p := range probes {
			rows = append(rows, fmt.Sprintf("%s,%s,%d.5\n", at.Add(time.Duration(i)*time.Minute).Format("2006-01-02 15:04:05"), p, i%40))
		}
	}
	return rows
}

// However the rows stand, they come by time and none is lost.
func TestRowsComeByTime(t *testing.T) {
	const header = "time,probe,value\n"
	rows := minutes(6000, "a", "b", "c")
	inOrder := got(t, mustOpen(t, header+strings.Join(rows, ""), Options{}))
	newest := slices.Clone(rows)
	slices.Reverse(newest)
	slightly := slices.Clone(rows)
	chance := rand.New(rand.NewPCG(1, 2))
	for i := range len(slightly) - 30 {
		j := i + chance.IntN(30)
		slightly[i], slightly[j] = slightly[j], slightly[i]
	}
	byProbe := slices.Clone(rows)
	slices.SortStableFunc(byProbe, func(a, b string) int { return strings.Compare(a[20:21], b[20:21]) })
	wild := slices.Clone(rows)
	chance.Shuffle(len(wild), func(i, j int) { wild[i], wild[j] = wild[j], wild[i] })
	for name, mixed := range map[string][]string{"newest first": newest, "slightly out of order": slightly, "by probe": byProbe, "in no order": wild} {
		table := mustOpen(t, header+strings.Join(mixed, ""), Options{})
		all := got(t, table)
		if !slices.IsSortedFunc(all, func(a, b string) int { return strings.Compare(a[:19], b[:19]) }) {
			t.Errorf("%s: not by time", name)
		}
		slices.Sort(all)
		want := slices.Sorted(slices.Values(inOrder))
		if !slices.Equal(all, want) {
			t.Errorf("%s: got %d rows, want the %d there are", name, len(all), len(want))
		}
		said := strings.Join(table.Said, " ")
		if word := map[string]string{"newest first": "newest first", "by probe": "3 names", "slightly out of order": "behind a later one", "in no order": "behind a later one"}[name]; !strings.Contains(said, word) && name != "in no order" {
			t.Errorf("%s: it is not said, but %s", name, said)
		}
	}
}

func TestRowsInNoOrderAreRefusedBeforeTheyFillTheMemory(t *testing.T) {
	rows := minutes((mostOpen+50)*blockRows, "a")
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	_, err := openText("time,probe,value\n"+strings.Join(rows, ""), Options{})
	if err == nil || !strings.Contains(err.Error(), `sort the file by the column "time" first`) {
		t.Errorf("got %v", err)
	}
}

func TestAStrayQuoteCostsItsRow(t *testing.T) {
	var rows []string
	for i := range 3000 {
		rows = append(rows, fmt.Sprintf("%s,%d.5,60,note %d\n", time.Date(2026, 1, 1, 0, i, 0, 0, time.UTC).Format("2006-01-02 15:04"), i%40, i))
	}
	whole := got(t, mustOpen(t, "time,t,rh,note\n"+strings.Join(rows, ""), Options{}))
	for name, damage := range map[string]map[int]string{
		"at a cell":         {700: "2026-01-01 11:40,\"20.5,60,note\n"},
		"at the first cell": {700: "\"2026-01-01 11:40,20.5,60,note\n"},
		"two, in a column":  {700: "2026-01-01 11:40,\"20.5,60,note\n", 720: "2026-01-01 12:00,\"0.5,60,note\n"},
		"two, one behind the other": {700: "2026-01-01 11:40,\"20.5,60,note\n",
			701: "2026-01-01 11:41,21.5,60,\"note\n"},
		"in the last row": {2999: "2026-01-03 01:59,\"39.5,60,note\n"},
	} {
		t.Run(name, func(t *testing.T) {
			mixed := slices.Clone(rows)
			want := slices.Clone(whole)
			for i := range rows {
				if text, bad := damage[i]; bad {
					mixed[i], want[i] = text, ""
				}
			}
			want = slices.DeleteFunc(want, func(s string) bool { return s == "" })
			table := mustOpen(t, "time,t,rh,note\n"+strings.Join(mixed, ""), Options{})
			if all := got(t, table); !slices.Equal(all, want) {
				t.Errorf("got %d rows, want %d", len(all), len(want))
			}
			f := table.Faults.All()
			if len(f) != 1 || f[0].Cause != StrayQuote || f[0].Count != uint64(len(damage)) || !strings.Contains(f[0].Detail, "nothing ends it") {
				t.Errorf("got %v", f)
			}
		})
	}
}

// A note over several lines is no stray quote.
func TestACellOverSeveralLines(t *testing.T) {
	text := "time,t,note\n2026-01-01 00:00,20,\"the door, open\nsince noon, \"\"they\"\" say\n\nso\"\n2026-01-01 00:05,21,\n2026-01-01 00:10,22,shut\n"
	same(t, got(t, mustOpen(t, text, Options{})), []string{"2026-01-01 00:00:00 t=20 note=the door, open\nsince noon, \"they\" say\n\nso", "2026-01-01 00:05:00 t=21", "2026-01-01 00:10:00 t=22 note=shut"})
}

// A comma too many shifts the cells: such a row is not read, and said.
func TestTooManyCells(t *testing.T) {
	table := mustOpen(t, "time,t,rh\n2026-01-01 00:00,20,60\n2026-01-01 00:05,21,5,61\n2026-01-01 00:10,22,62,,\n", Options{})
	same(t, got(t, table), []string{"2026-01-01 00:00:00 t=20 rh=60", "2026-01-01 00:10:00 t=22 rh=62"})
	if f := table.Faults.All(); len(f) != 1 || f[0].Cause != TooMany || f[0].Line != 3 {
		t.Errorf("got %v", f)
	}
}

// Faults are told by cause and column with a count and the first of them.
func TestFaultsAreGrouped(t *testing.T) {
	text := "time,t\n"
	for i := range 100 {
		text += fmt.Sprintf("2026-01-%02d 00:00,20\nnever %d,21\n", i%28+1, i)
	}
	table := mustOpen(t, text, Options{})
	f := table.Faults.All()
	if len(f) != 1 || f[0].String() != `100 × no time, column "time"; first in line 3: got "never 0", want a date and a time of day such as "2026-01-01 00:00"` {
		t.Errorf("got %v", f)
	}
}
