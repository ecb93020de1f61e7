package scenario_test

import (
	"strings"
	"testing"

	"telltale/alarms/scenario"
)

func TestErrorsSayWhereAndWhat(t *testing.T) {
	const head = "Title\n\nplan\n  house long-house\n    place bench\n      temperature: high 30\n      probe b-1: temperature\non 2026-06-21\n"
	for _, tt := range []struct{ text, want string }{
		{"Title\nstory\n", `x.txt:3: want a line "plan" after title and story, got the end of the file`},
		{"T\nplan\n  greenhouse x\n", `x.txt:3: want a line of the plan, or "on 2026-06-21" after it, got "greenhouse"`},
		{"T\nplan\n  zone EST5EDT\n", `x.txt:3: want the zone UTC, as no other is known here, got "EST5EDT"`},
		{"T\nplan\n  house a\n    place b\n      temperature: high warm\n", `x.txt:5: want a number for high, got "warm"`},
		{"T\nplan\n  house a\n    place b\n      temperature: height 3\n", `x.txt:5: want low-low, low, high, high-high, deadband, delay, quick, clear, priority, worst or source, got "height"`},
		{"T\nplan\n  house a\n    place b\n      probe p magic: temperature\n", `x.txt:5: want a kind of probe, one of ["one-wire" "thermistor" "capacitive" "switch" "clamp-meter"], got "magic"`},
		{"T\nplan\n  house a\n    control t: cooling from 20\n", `x.txt:4: want ",", got ":"`},
		{"T\nplan\n  house a\n    control t, at b: hot from 20\n", `x.txt:4: want cooling, heating, drying or moistening, got "from"`},
		{"T\nplan\n  house a\n    control t, at b: cooling from 20, runs fan\n", `x.txt:4: want differential, tolerance, drives or in, got "runs"`},
		{"T\nplan\n  house a\n    drive f fan\n", `x.txt:4: want a kind of drive, one of ["exhaust-fan" "intake-shutter" "loop-fan" "heater" "circulating-fan" "grow-light" "misting"], got "fan"`},
		{"T\nplan\n  house a\n    drive f heater, started 3\n", `x.txt:4: want start, stop, effect, with, never with, on in, off in, timer, by turns, timer tolerance, barred in, starts, circuit or priority, got "started"`},
		{"T\nplan\n  house a\n    drive f heater, by turns 5m on, 5m off\n", `x.txt:4: want "and", got ","`},
		{"T\nplan\n  house a\n    drive f heater: p-1 force above 2\n", `x.txt:4: want one of the quantities [temperature humidity surface soil contact current power speed position battery voltage signal pressure soil-moisture level light vpd dew-margin], got "force"`},
		{"T\nplan\n  house a\n    drive f heater: p-1 power above 2, below 3\n", `x.txt:4: want above, usual-low, usual-high or inverted, got "below"`},
		{"T\nplan\n  house a\n    selector s, from x: one; two\n", `x.txt:4: want starts or told by, got "from"`},
		{"T\nplan\n  house a\n    selector s: one on f, over g\n", `x.txt:4: want follow, on, off, covered, shut, flow, up, down, closed or in, got "over"`},
		{"T\nplan\n    drive f heater\n", `x.txt:3: want a line of the plan, or "on 2026-06-21" after it, got "drive"`},
		{head + "12:00 grower calibrates b-1 temperature 0.3\n", `x.txt:9: want "by", got "0.3"`},
		{head + "12:00 grower calibrates b-1 temperature by much\n", `x.txt:9: want a number for what is added to each reading, got "much"`},
		{head + "12:00 grower calibrates b-1 by 0.3\n", `x.txt:9: want one of the quantities [temperature humidity surface soil contact current power speed position battery voltage signal pressure soil-moisture level light vpd dew-margin], got "by"`},
		{head + "12:00 grower turns box to winter\n", `x.txt:9: want "of", got "to"`},
		{"T\nplan\non 21.6.2026\n", `x.txt:3: want a day such as 2026-06-21, got "21.6.2026"`},
		{"T\nplan\non 2026-06-21\n    12:00 raise a: normal\n", `x.txt:4: want a timed line before the first expectation`},
		{"T\nplan\non 0001-01-01\n00:00 tick\n", `x.txt:4: want a year from 1700 to 2200 for the start of the line, got 1`},
		{head + "12:00\n", `x.txt:9: want a probe, tick, link, watch or a person, got the end of the line`},
		{head + "12:00 b-1 temperature\n", `x.txt:9: want a number for temperature, got the end of the line`},
		{head + "12:00 b-1 warmth 3\n", `x.txt:9: want one of the quantities [temperature humidity surface soil contact current power speed position battery voltage signal pressure soil-moisture level light vpd dew-margin], got "warmth"`},
		{head + "25:00 tick\n", `x.txt:9: want a time such as 14:30 or 14:30:15 for the start of the line, got "25:00"`},
		{head + "12:00 tick\n11:00 tick\n", `x.txt:10: want a time not before 12:00, got 11:00`},
		{head + "12:00 to 13:00 every 0s tick\n", `x.txt:9: want a length of time such as 30s or 1h30m for the series, got "0s"`},
		{head + "12:00 to 13:00 every 1ms tick\n", `x.txt:9: want at most 100000 readings in a line, got 3600001`},
		{head + "12:00 b-1 temperature from 1 to 2\n", `x.txt:9: want one number here: "from" and "around" belong to a series (12:00 to 13:00 every 30s)`},
		{head + "12:00 link broken\n", `x.txt:9: want "link lost", "link back", "watch restarts", "watch stood still since", "clock put forward by" or "clock put back by", got "link broken"`},
		{head + "12:00 grower takes off probe b-1\n", `x.txt:9: want what the person does (acknowledges, shelves, unshelves, tries, takes out, puts back, sets, turns, calibrates, goes away, comes back), got "takes"`},
		{head + "12:00 tick\n    12:00 lift a: normal\n", `x.txt:10: a move: got "lift", want one of ["raise" "worsen" "ease" "return" "acknowledge" "re-alarm" "chatter" "shelve" "unshelve" "suppress" "release" "take-out" "put-back" "note"]`},
		{head + "12:00 tick \"a\n", `x.txt:9: a quoted word has no end: got "a`},
		{head + "12:00 tick\n    \"A sentence.\"\n", `x.txt:10: want a transition above this sentence`},
		{head + "12:99 tick\n12:00 b-1 warmth 3\n", "x.txt:9: want a time such as 14:30 or 14:30:15 for the start of the line, got \"12:99\"\nx.txt:10: want one of the quantities [temperature humidity surface soil contact current power speed position battery voltage signal pressure soil-moisture level light vpd dew-margin], got \"warmth\""},
	} {
		_, err := scenario.Parse("x.txt", []byte(tt.text), nil)
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s\ngot  %v\nwant %s", strings.TrimPrefix(tt.text, head), err, tt.want)
		}
	}
}
