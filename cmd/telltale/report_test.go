package main

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/store"
)

// -rewrite writes what the program says now into the golden files. Only commit
// that if you understand what caused it.
var rewrite = flag.Bool("rewrite", false, "rewrite the golden files")

// keptDay fills the store of a small config with one day, 10 June 2025 in UTC: a
// reading every 5 minutes, 32 °C from noon to 14:00 and 18 °C else, and an
// alarm that Ada acknowledged. The store stays open, as that of a watch does.
func keptDay(t *testing.T) (file string) {
	t.Helper()
	file = small(t, 30, "")
	s, err := store.Open(filepath.Join(filepath.Dir(file), "store"), store.Options{})
	ok(t, err)
	t.Cleanup(func() { _ = s.Close() })
	midnight := time.Date(2025, 6, 10, 0, 0, 0, 0, time.UTC)
	for at := midnight; at.Before(midnight.Add(24 * time.Hour)); at = at.Add(5 * time.Minute) {
		v := 18.0
		if h := at.Hour(); h == 12 || h == 13 {
			v = 32
		}
		s.Append(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: "bench-1", Quantity: alarms.Temperature, Value: v})
	}
	const id = alarms.AlarmID("long-house/bench/temperature/high")
	hot := alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Place: "bench", Quantity: alarms.Temperature, Side: alarms.HighSide}
	taken := hot
	taken.By, taken.Note = "Ada", "the door stands open"
	ok(t, s.Save([]alarms.Transition{
		{ID: string(id) + "#1", Alarm: id, Move: alarms.Raise, To: alarms.Unacknowledged, Priority: alarms.Medium, Due: midnight.Add(12 * time.Hour),
			Noticed: midnight.Add(12 * time.Hour), Reason: hot, Sentence: "Long House, bench: 32.0 °C, above 30 °C."},
		{ID: string(id) + "#2", Alarm: id, Move: alarms.Ack, From: alarms.Unacknowledged, To: alarms.Acknowledged, Priority: alarms.Medium,
			Due: midnight.Add(12*time.Hour + 3*time.Minute), Noticed: midnight.Add(12*time.Hour + 3*time.Minute), Reason: taken, Sentence: "Ada acknowledged: Long House, bench, too hot."},
		{ID: string(id) + "#3", Alarm: id, Move: alarms.Return, From: alarms.Acknowledged, To: alarms.Normal, Priority: alarms.Medium,
			Due: midnight.Add(14 * time.Hour), Noticed: midnight.Add(14 * time.Hour), Reason: hot, Sentence: "Long House, bench: back within its limits."}}, nil))
	return file
}

// The report's figures are those of testdata/report-day.csv, whatever the day on
// which it is made; the page says the same.
func TestReportIsWritten(t *testing.T) {
	t.Parallel()
	file := keptDay(t)
	out := t.TempDir()
	p := start(t, "report", file, "--on", "2025-06-10", "--out", out, "--csv")
	if code := p.exit(); code != exitStopped {
		t.Fatalf("it exited with %d", code)
	}
	name := filepath.Join(out, "report-long-house-day-2025-06-10")
	if said := p.stdout(); said != "Wrote the report on long-house, 10 June 2025 to "+name+".html, and its figures to "+name+".csv.\n" {
		t.Errorf("it said %q", said)
	}
	table, err := os.ReadFile(name + ".csv")
	ok(t, err)
	got := regexp.MustCompile(`(?m)^report,[^,]*,made,.*\n`).ReplaceAllString(strings.ReplaceAll(string(table), "\r\n", "\n"), "")
	const golden = "testdata/report-day.csv"
	if *rewrite {
		ok(t, os.WriteFile(golden, []byte(got), 0o644))
	}
	want, err := os.ReadFile(golden)
	ok(t, err)
	if got != string(want) {
		t.Errorf("the table is\n%s\nwant\n%s", got, want)
	}
	page, err := os.ReadFile(name + ".html")
	ok(t, err)
	for _, words := range []string{"Tuesday 10 June 2025", "bench: temperature from 18.0\u00a0°C to 32.0\u00a0°C, 2.0\u00a0h beyond its limits", "the door stands open", "Telltale only watches"} {
		if !strings.Contains(string(page), words) {
			t.Errorf("the page lacks %q", words)
		}
	}
	left, err := filepath.Glob(filepath.Join(out, ".report-*"))
	if ok(t, err); len(left) > 0 {
		t.Errorf("it left %v behind", left)
	}
}

func TestReportRefuses(t *testing.T) {
	t.Parallel()
	file := keptDay(t)
	for what, c := range map[string]struct {
		args []string
		code int
		want string
	}{
		"another house": {[]string{"--house", "hot-house"}, exitUsage, `the config has no house "hot-house"; did you mean "long-house"?`},
		"a month":       {[]string{"--of", "month"}, exitUsage, `--of is "month", want "day", "season", "span" or "week"`},
		"no day":        {[]string{"--on", "yesterday"}, exitUsage, `on must be a day like 2026-06-21 (got "yesterday")`},
		"no folder":     {[]string{"--out", filepath.Join(t.TempDir(), "none", "x.html")}, exitOther, "the report cannot be written"},
	} {
		p := start(t, append([]string{"report", file}, c.args...)...)
		if code := p.exit(); code != c.code || !strings.Contains(p.stderr(), c.want) {
			t.Errorf("%s: it exited with %d and said %q; want %d and %q", what, code, p.stderr(), c.code, c.want)
		}
	}
	p := start(t, "report", small(t, 30, ""))
	if code := p.exit(); code != exitStore || !strings.Contains(p.stderr(), "there is no store yet") {
		t.Errorf("without a store it exited with %d and said %q", code, p.stderr())
	}
}
