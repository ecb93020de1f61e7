package record

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// local writes rows as a clock on a wall in a zone shows them.
func local(zone *time.Location, from time.Time, step time.Duration, n int, probes ...string) (rows []string) {
	if probes == nil {
		probes = []string{""}
	}
	for i := range n {
		for _, p := range probes {
			if p != "" {
				p = "," + p
			}
			rows = append(rows, fmt.Sprintf("%s%s,%d\n", from.Add(time.Duration(i)*step).In(zone).Format("2006-01-02 15:04"), p, i))
		}
	}
	return rows
}

// Clocks are put back and forth, by any step, whichever way the file is sorted;
// the moments are those in which the rows were written. The zone's table is the
// standard library's.
func TestAnHourThatTheClocksRepeat(t *testing.T) {
	for zone, begins := range map[string][]string{"Europe/Berlin": {"2025-10-25", "2026-03-28"}, "America/New_York": {"2025-11-01", "2026-03-07"},
		"Europe/London": {"2025-10-25"}, "Australia/Sydney": {"2025-10-04", "2026-04-04"}, "Australia/Lord_Howe": {"2026-04-04"}} {
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range []time.Duration{5 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour} {
			for _, begin := range begins {
				from, _ := time.ParseInLocation(time.DateOnly, begin, loc)
				n := int(50 * time.Hour / step)
				for _, probes := range [][]string{nil, {"a", "b"}} {
					rows := local(loc, from, step, n, probes...)
					header := "time,t\n"
					if probes != nil {
						header = "time,probe,t\n"
					}
					if zone == "Australia/Lord_Howe" && step >= 30*time.Minute {
						continue // its clocks go back by half an hour: nothing tells that step from a repeated row
					}
					check := func(way string, rows []string, o Options) {
						table := mustOpen(t, header+strings.Join(rows, ""), o)
						var moments []time.Time
						for _, line := range got(t, table) {
							at, _ := time.Parse("2006-01-02 15:04:05", line[:19])
							moments = append(moments, at)
						}
						for i, at := range moments {
							if want := from.Add(time.Duration(i/max(1, len(probes))) * step); !at.Equal(want) {
								t.Fatalf("%s every %v from %s, %s, %v: row %d is at %v, want %v", zone, step, begin, way, probes, i, at, want.UTC())
							}
						}
						if len(moments) != len(rows) {
							t.Fatalf("%d rows, want %d", len(moments), len(rows))
						}
					}
					check("oldest first", rows, Options{Zone: loc})
					slices.Reverse(rows)
					check("newest first", rows, Options{Zone: loc})
				}
			}
		}
	}
}

// Nobody names the zone: the clock's own jumps do.
func TestSummerTimeIsSeenInTheRows(t *testing.T) {
	for zone, begins := range map[string][]string{"Europe/Berlin": {"2025-10-20", "2026-03-20"}, "America/New_York": {"2025-10-30", "2026-03-05"}, "America/Los_Angeles": {"2025-10-30"}} {
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		for _, begin := range begins {
			from, _ := time.ParseInLocation(time.DateOnly, begin, loc)
			table := mustOpen(t, "time,t\n"+strings.Join(local(loc, from, 5*time.Minute, 5000), ""), Options{})
			last := time.Time{}
			for _, line := range got(t, table) {
				at, _ := time.Parse("2006-01-02 15:04:05", line[:19])
				if !last.IsZero() && at.Sub(last) != 5*time.Minute {
					t.Errorf("%s from %s: a step of %v at %v", zone, begin, at.Sub(last), last)
				}
				last = at
			}
			if !strings.Contains(strings.Join(table.Said, " "), "local times with summer time") {
				t.Errorf("it is not said: %v", table.Said)
			}
		}
	}
}

// A true gap of an hour at any other time is a gap, and no zone is guessed.
func TestAGapOfAnHourIsNoSummerTime(t *testing.T) {
	rows := local(time.UTC, time.Date(2026, 3, 20, 0, 0, 0, 0, time.UTC), 5*time.Minute, 4000)
	rows = slices.Delete(rows, 1000, 1012)
	table := mustOpen(t, "time,t\n"+strings.Join(rows, ""), Options{})
	if table.Zone != time.UTC {
		t.Errorf("taken for %v", table.Zone)
	}
}

func TestOrderOfDayAndMonth(t *testing.T) {
	days := func(layout string, first, n int) string {
		var b strings.Builder
		b.WriteString("Date,t\n")
		for h := range n * 24 {
			fmt.Fprintf(&b, "%s,20\n", time.Date(2024, 1, first, h, 0, 0, 0, time.UTC).Format(layout))
		}
		return b.String()
	}
	tests := []struct {
		name, text string
		o          Options
		first      string // moment
		says       string // in what it tells, or in its error
	}{
		{"month first", days("01/02/2006 15:04", 1, 20), Options{}, "2024-01-01", `month-day, as in "01/01/2024 00:00", because "01/13/2024 00:00" (line 290) cannot be day-month`},
		{"day first", days("02/01/2006 15:04", 1, 20), Options{}, "2024-01-01", `because "13/01/2024 00:00" (line 290) cannot be month-day`},
		{"no day above 12", days("02/01/2006 15:04", 2, 8), Options{}, "2024-01-02", "because its rows then follow each other"},
		{"no day above 12, month first", days("01/02/2006 15:04", 2, 8), Options{}, "2024-01-02", "because its rows then follow each other"},
		{"a day of points", days("02.01.2006 15:04", 2, 1), Options{}, "2024-01-02", "as is usual with points between"},
		{"a day", days("02/01/2006 15:04", 2, 1), Options{}, "", "say --dates"},
		{"a day, said", days("02/01/2006 15:04", 2, 1), Options{Dates: DayMonthYear}, "2024-01-02", "as --dates says"},
		{"a day, said otherwise", days("02/01/2006 15:04", 2, 1), Options{Dates: MonthDayYear}, "2024-02-01", "as --dates says"},
		{"the same day of both", days("02/01/2006 15:04", 1, 1), Options{}, "2024-01-01", "day"},
		{"short years", days("06/01/02 15:04", 2, 20), Options{}, "2024-01-02", "year-month-day"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			table, err := openText(tt.text, tt.o)
			if tt.first == "" {
				var unsure *Unsure
				if err == nil || !strings.Contains(err.Error(), tt.says) || !asUnsure(err, &unsure) {
					t.Errorf("got %v, want %q", err, tt.says)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if said := strings.Join(table.Said, " "); !strings.Contains(said, tt.says) {
				t.Errorf("it says %s", said)
			}
			if all := got(t, table); !strings.HasPrefix(all[0], tt.first) || len(all) != strings.Count(tt.text, "\n")-1 {
				t.Errorf("%d rows, the first %s, want %s", len(all), all[0], tt.first)
			}
		})
	}
}
