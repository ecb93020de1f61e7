package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// cell is one number of a recorded house.
type cell struct {
	at    time.Time
	value float64
}

// recordedFile is a file kept beside the checkout; the test skips without it.
func recordedFile(t *testing.T, name string) string {
	t.Helper()
	file := filepath.Join("..", "..", "..", "shared", "data", name)
	if _, err := os.Stat(file); err != nil {
		t.Skipf("the recorded house %s is not beside this checkout: %v", name, err)
	}
	return file
}

// cells reads some columns of a table in the plainest way; where several are
// named the largest number of a row counts.
func cells(t *testing.T, file, layout string, columns ...string) []cell {
	t.Helper()
	f, err := os.Open(file)
	ok(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	ok(t, err)
	var all []cell
	for _, l := range lines[1:] {
		at, err := time.Parse(layout, l[0])
		ok(t, err)
		var row []float64
		for i, text := range l {
			if v, err := strconv.ParseFloat(text, 64); err == nil && slices.Contains(columns, lines[0][i]) {
				row = append(row, v)
			}
		}
		if len(row) > 0 {
			all = append(all, cell{at, slices.Max(row)})
		}
	}
	return all
}

// excursions gives the first moments of runs beyond a limit; a run ends with
// the first value that is back inside by half a kelvin.
func excursions(all []cell, beyond func(v, margin float64) bool) []time.Time {
	var found []time.Time
	open := false
	for _, c := range all {
		switch {
		case !open && beyond(c.value, 0):
			found = append(found, c.at)
			open = true
		case open && !beyond(c.value, 0.5):
			open = false
		}
	}
	return found
}

func above(limit float64) func(v, margin float64) bool {
	return func(v, margin float64) bool { return v > limit-margin }
}

func below(limit float64) func(v, margin float64) bool {
	return func(v, margin float64) bool { return v < limit+margin }
}

// replayed runs the command over a file and returns what it wrote, in
// sentences, and its transitions.
func replayed(t *testing.T, config, file string, columns ...string) (string, []alarms.Transition) {
	t.Helper()
	args := []string{"replay", filepath.Join("..", "..", "testdata", "replay", config), file}
	for _, c := range columns {
		args = append(args, "--column", c)
	}
	began := time.Now()
	p := start(t, args...)
	if code := p.exit(); code != exitStopped {
		t.Fatalf("it exited with %d:\n%s", code, p.stderr())
	}
	t.Logf("%s judged in %v", filepath.Base(file), time.Since(began).Round(time.Millisecond))
	j := start(t, append(args, "--json", "--all")...)
	if code := j.exit(); code != exitStopped {
		t.Fatalf("with --json it exited with %d:\n%s", code, j.stderr())
	}
	var all []alarms.Transition
	for line := range strings.Lines(j.stdout()) {
		var tr alarms.Transition
		ok(t, json.Unmarshal([]byte(line), &tr))
		all = append(all, tr)
	}
	told := 0
	for _, tr := range all {
		if !tr.Told() {
			continue
		}
		told++
		line := fmt.Sprintf("%s  %-6s  %s\n", tr.Due.UTC().Format(time.DateTime), tr.Priority, tr.Sentence)
		if !strings.Contains(p.stdout(), line) {
			t.Errorf("the sentences lack\n%s", line)
		}
	}
	if told == 0 {
		t.Error("nothing would have been told")
	}
	return p.stdout(), all
}

func raised(all []alarms.Transition, id alarms.AlarmID) []time.Time {
	var when []time.Time
	for _, tr := range all {
		if tr.Alarm == id && tr.Move == alarms.Raise {
			when = append(when, tr.Due)
		}
	}
	return when
}

// sameExcursions demands a raise a minute, the delay, after each excursion began,
// unless the alarm stood already because the value swings, and no other.
func sameExcursions(t *testing.T, said string, all []alarms.Transition, id alarms.AlarmID, want []time.Time) {
	t.Helper()
	got, told := raised(all, id), 0
	if len(want) < 5 {
		t.Errorf("%s: a plain scan of the file finds only %d excursions", id, len(want))
	}
	for i, at := range want {
		switch due := at.Add(time.Minute); {
		case slices.ContainsFunc(got, due.Equal):
			told++
		case !stood(all, id, at):
			t.Errorf("%s: nobody was told of excursion %d, which began at %v", id, i, at)
		}
	}
	if told != len(got) || told < 5 {
		t.Errorf("%s was raised %d times, %d of them a minute after one of %d excursions began", id, len(got), told, len(want))
	}
	if line := fmt.Sprintf("\n%s: raised %d times.\n", id, len(got)); !strings.Contains(said, line) {
		t.Errorf("the summary lacks %q", line)
	}
	if line := fmt.Sprintf("a plain scan finds %d excursions", len(want)); !strings.Contains(said, line) {
		t.Errorf("the score sheet lacks %q", line)
	}
}

// stood reports whether an alarm was on just before a moment.
func stood(all []alarms.Transition, id alarms.AlarmID, at time.Time) bool {
	on := false
	for _, tr := range all {
		if tr.Alarm == id && tr.Due.Before(at) {
			on = tr.To.Active()
		}
	}
	return on
}

func TestReplayFindsEveryExcursionOfTheRecordedSummer(t *testing.T) {
	t.Parallel()
	file := recordedFile(t, "fan-house-summer.csv")
	said, all := replayed(t, "fan-house.toml", file, "inside_c=inside-1/temperature:°C", "inside_rh_pct=inside-1/humidity:%",
		"outside_c=outside-1/temperature", "outside_rh_pct=outside-1/humidity")
	inside := cells(t, file, time.DateTime, "inside_c")
	sameExcursions(t, said, all, "fan-house/inside/temperature/high", excursions(inside, above(32)))
	sameExcursions(t, said, all, "fan-house/inside/temperature/low", excursions(inside, below(17)))
}

func TestReplayFindsTheTwoProbesOfTheRecordedWinterApart(t *testing.T) {
	t.Parallel()
	file := recordedFile(t, "winter-house.csv")
	said, all := replayed(t, "winter-house.toml", file, "probe_a_c=probe-a/temperature", "probe_a_rh_pct=probe-a/humidity:%",
		"probe_b_c=probe-b/temperature:°C", "probe_b_rh_pct=probe-b/humidity")
	const layout = "2006-01-02 15:04"
	warmer := cells(t, file, layout, "probe_a_c", "probe_b_c")
	sameExcursions(t, said, all, "winter-house/inside/temperature/high", excursions(warmer, above(26)))

	const apart = "winter-house/inside/temperature/disagrees"
	if when := raised(all, apart); len(when) != 1 || when[0].Sub(warmer[0].at) > time.Hour {
		t.Errorf("the probes were said to disagree at %v, want once, in the first hour", when)
	}
	a, b := cells(t, file, layout, "probe_a_c")[0], cells(t, file, layout, "probe_b_c")[0]
	if by := a.value - b.value; by < 2.5 || by > 3.5 {
		t.Fatalf("the probes are %.2f K apart in the first row: the file has changed", by)
	}
	for _, tr := range all {
		if tr.Alarm == apart && tr.Move == alarms.Raise && !strings.Contains(tr.Sentence, "3.") {
			t.Errorf("the sentence does not say by how much, about 3 K: %s", tr.Sentence)
		}
	}
}

func TestReplayTellsWhatItCannotRead(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file := filepath.Join(dir, "readings.csv")
	ok(t, os.WriteFile(file, []byte("time,warmth\n2026-07-01 10:00,24.5\n2026-07-01 10:05,warm\n2026-07-01 10:10,25.0\n2026-07-01 10:15,warmer\n"), 0o600))
	p := start(t, "replay", small(t, 30, ""), file, "--column", "warmth=bench-1/temperature")
	if code := p.exit(); code != exitStopped {
		t.Errorf("it exited with %d", code)
	}
	for _, want := range []string{`"warmth" is temperature in °C of bench-1, as --column says.`, "2 readings from 2026-07-01 10:00 to 2026-07-01 10:15",
		file + `: 2 × no number, column "warmth"; first in line 3: got "warm", want a number such as 21.5`} {
		if !strings.Contains(p.stdout(), want) {
			t.Errorf("it lacks %q:\n%s", want, p.stdout())
		}
	}
	for says, args := range map[string][]string{
		`there is no column "cold"; it has "warmth"`:  {small(t, 30, ""), file, "--column", "cold=bench-1/temperature"},
		`the config has no probe "bench-7"`:           {small(t, 30, ""), file, "--column", "warmth=bench-7/temperature"},
		"the probe bench-1 does not measure humidity": {small(t, 30, ""), file, "--column", "warmth=bench-1/humidity"},
		`the crop "moss" is not known`:                {file, "--crop", "moss", "--column", "warmth=bench/temperature"},
	} {
		ends(t, exitUsage, append([]string{"replay"}, args...), says)
	}
	for says, args := range map[string][]string{
		"none of its columns is named like a probe of the config": {small(t, 30, ""), file},
		"none.csv": {small(t, 30, ""), filepath.Join(dir, "none.csv"), "--column", "a=bench-1/temperature"},
		`no column was found that is a temperature or a humidity`: {file},
		"it is a directory": {dir},
		`there is no column "when" to say when: the columns are`: {file, "--time", "when"},
	} {
		ends(t, exitOther, append([]string{"replay"}, args...), says)
	}
	for says, args := range map[string]string{`--dates is "dmy", want `: "--dates dmy", "--decimal is": "--decimal dot", "--degrees is": "--degrees K",
		"--separator is": "--separator blank", "want header=probe/quantity": "--column warmth", "--zone is": "--zone Here"} {
		ends(t, exitUsage, append([]string{"replay", file}, strings.Fields(args)...), says)
	}
}

// unprepared are tables as they lie about, of an invented house, with what is to
// be found out of each.
func TestReplayReadsWhatNobodyPrepared(t *testing.T) {
	t.Parallel()
	const hot = "a plain scan finds 1 excursion, up to "
	for file, says := range map[string][]string{
		"bench-us.csv": {`"Temp" is temperature in °F, place "inside"`, "month-day", `"Exhaust Fan (%)" shows when a fan ran`, `"Light (%)" is ignored`,
			"low-low 35.6, low 41, high 95, high-high 104 °F", hot + "98.6 °F; 1 alarm raised", "The fan, inferred from temperatures alone", "local times with summer time"},
		"bench-de.csv": {`"Temperatur" is temperature in °C, place "inside"`, "semicolons, with a decimal comma", "2 lines above the header", `Columns "Datum" and "Uhrzeit" say when: day-month`,
			hot + "36.5 °C; 1 alarm raised", "1 × stray quote"},
		"long.csv": {`"bench-1 temperature" is temperature in °C, place "bench 1"`, "sorted newest first", `"ridge-1 temperature" is temperature in °C, place "ridge 1"`,
			`"outdoor temperature" is temperature in °C, place "outside"`, hot + "37.0 °C; 1 alarm raised"},
	} {
		p := start(t, "replay", filepath.Join("..", "..", "testdata", "replay", file))
		if code := p.exit(); code != exitStopped {
			t.Errorf("%s: it exited with %d:\n%s", file, code, p.stderr())
		}
		for _, want := range says {
			if !strings.Contains(p.stdout(), want) {
				t.Errorf("%s: it lacks %q:\n%s", file, want, p.stdout())
			}
		}
		crop := start(t, "replay", filepath.Join("..", "..", "testdata", "replay", file), "--crop", "tomato", "--json")
		if code := crop.exit(); code != exitStopped || !strings.Contains(crop.stderr(), "Limits: those of tomato") {
			t.Errorf("%s: with a crop it exited with %d:\n%s", file, code, crop.stderr())
		}
		for line := range strings.Lines(crop.stdout()) {
			if !json.Valid([]byte(line)) {
				t.Errorf("%s: no JSON: %s", file, line)
			}
		}
	}
}

// The sheet of the outlook has a line for each limit, the outlook's own figures and
// the yardsticks' beside them; without the flag there is none.
func TestReplayShowsHowTheOutlookDid(t *testing.T) {
	t.Parallel()
	file := filepath.Join("..", "..", "testdata", "replay", "bench-us.csv")
	p := start(t, "replay", file, "--outlook")
	if code := p.exit(); code != exitStopped {
		t.Fatalf("it exited with %d:\n%s", code, p.stderr())
	}
	for _, want := range []string{"\nThe outlook of recorded/inside, from its readings up to each moment alone:\n", "  up to 95.0 °F  ",
		"    outlook                 all weeks        1 ", "    limit less 1 K          all weeks        1 ", "    straight on for an hour all weeks        1 ",
		"    Said to be reached within 2 h, and came true: ", "  down to 35.6 °F: never reached, and never told.\n",
		"  The day and the night ahead: ",
		"% of the time: too little had been learned yet, in the first two days.\n", "Two hours ahead it relied on the regression for "} {
		if !strings.Contains(p.stdout(), want) {
			t.Errorf("it lacks %q:\n%s", want, p.stdout())
		}
	}
	plain := start(t, "replay", file)
	if code := plain.exit(); code != exitStopped || strings.Contains(plain.stdout(), "outlook") {
		t.Errorf("without the flag it exited with %d:\n%s", code, plain.stdout())
	}
}

// The interval of Wilson (1927), against the worked values of Newcombe (1998,
// Statistics in Medicine 17:857, table I, method 3): 81 of 263, 15 of 148, 0 of 20
// and 1 of 29.
func TestIntervalOfAShare(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		low, high := wilson(c.k, c.n)
		if max(low-c.low, c.low-low, high-c.high, c.high-high) > 0.0001 {
			t.Errorf("%d of %d: %.4f to %.4f, want %.4f to %.4f", c.k, c.n, low, high, c.low, c.high)
		}
	}
}
