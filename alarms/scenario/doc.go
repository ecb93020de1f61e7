// Package scenario reads, runs and prints scenario files: a story, a plan, and
// timed lines of what happened, with the transitions expected of the core
// indented below the line that brings them out. A grower can read them, and
// they are the specification of the core.
//
// The package promises to be pure: text in, values out. It reads no file, and
// whoever calls it hands in how a time zone is found.
//
// # A file
//
//	A hot afternoon                         the title
//
//	The sun comes out over the bench.       the story, in plain words
//
//	plan
//	  house long-house "Long House"
//	    daylight from 06:00 to 20:00
//	    circuit north "north circuit"
//	    place bench
//	      temperature: low 10, high 30, high-high 35
//	      temperature rate: fall 8, window 30m
//	      probe bench-1 one-wire, on north, every 30s: temperature
//
//	on 2026-06-21
//	12:00 bench-1 temperature 28
//	12:00:30 to 12:40 every 30s bench-1 temperature from 28 to 37
//	    12:14:30 raise long-house/bench/temperature/high: unacknowledged, medium, outer
//	        "..."
//	12:41 grower acknowledges everything
//
// A # at the start of a word begins a comment. A line that ends in a comma, colon or
// a semicolon goes on in the next one. Words that hold blanks or marks stand
// in double quotes. Lengths of time are written as 30s, 10m, 1h30m.
//
// # The plan
//
// Before the first house: "zone NAME" (clock times of the file and of the
// sentences; UTC if missing), "fahrenheit", "chatter 4 raises in 30m, hold 30m",
// "remind low after 24h, medium after 2h, high never" (how long an acknowledgement
// holds), "repeat high every 30m, medium never", "link lost after 30s, high".
//
// In a house: "at 52 north, 2 west", "daylight from 06:00 to 20:00" (optionally
// "in ZONE"; sunrise to sunset if missing), "settle 1h" or "settle none",
// "season open", "silent high", circuits and places. A circuit has after its name
// any of a priority, "fed by main" (a circuit), "witness plug-1" (a probe) and
// "zero voltage" (what of the witness is zero without power). In a place: "unwatched
// medium", "unwarned" (not told before a limit is reached), "leaf 1.5 below air", "disagree temperature 2, humidity 10, for 30m",
// bands, rates and probes. A band is a quantity, optionally "by day" or "by
// night", optionally "in winter and changing", a colon and any of low-low,
// low, high, high-high, deadband, delay, quick, clear (lengths of time),
// priority, worst (priorities) and source. An exposure names itself, then after
// a colon a quantity and "above", "below", "at least" or "at most" a limit,
// optionally "by night", "in winter", "while temperature from 12.8 to 23.9",
// then any of for (a time) or degree-hours, one of window, gap (times), days
// and nights, and hold, morning (told by day only), priority, says (what it
// does) and source. A probe names its kind, circuit
// (on), interval (every), misses and priority, then its streams after the
// colon, parted by semicolons: each a quantity with any of min, max, jump,
// stuck, offset, weak.
//
// What the mechanical thermostat drives comes after the places of a house, a
// line each:
//
//	control thermostat "thermostat by the door", at bench:
//	  hot cooling from 29.5, differential 2.8, tolerance 1.5, drives exhaust, in open and changing;
//	  cold heating from 9, drives warmth
//	drive exhaust exhaust-fan, with shutter, never with warmth, barred in winter:
//	  clamp-1 current above 0.15, usual-low 0.25, usual-high 0.36; clamp-1 power above 40
//	drive shutter intake-shutter: switch-1 contact
//	drive loop loop-fan, off in open, by turns 20m on and 40m off in changing, on in winter:
//	  clamp-2 power above 20
//	drive warmth heater: clamp-3 power above 500
//	selector box "switch by the door", starts summer:
//	  summer follow exhaust and shutter; winter off exhaust and shutter
//
// A stage has a name or none, "cooling", "heating" or, of a humidistat, "drying"
// or "moistening", and the set point, then
// any of differential, tolerance, drives and in (seasons); "heating from 18 and by
// night 12" has two set points. A drive names its
// kind, then any of start, stop, effect (lengths of time; effect or none),
// with, never with, "on in", "off in", "by turns 5m on and 10m off in",
// "timer 05:30 to 09:00 and 16:00 to 20:30 in" and barred in (seasons), timer
// tolerance, starts (an hour), circuit and priority; after the colon its
// evidence, the most trusted first: a probe, a quantity and any of above,
// usual-low, usual-high and inverted. A selector has starts (a position) or
// told by (a probe); each position has any of follow, on, off, covered
// (drives), shut (pipes), flow (m³/s through all of them), up or down (which way air
// passes), closed and in (seasons).
//
// A door, window or lid stands there too:
//
//	opening front "front door" door, at bench, by door-1, shut by 19:30, falls 5
//
// with at (the place that it airs), by (its contact, shut when that is closed;
// "by door-1 inverted" when that is open), and any of "shut by sunset" (as without),
// "shut by 19:30", "shut by never", falls (K an hour) and priority.
//
// The ground loop of a house comes after its places and drives:
//
//	loop from bench, fan loop, draws 55
//	loop from bench, cool above 24, runs by clamp-2 power above 20
//	loop soil mean 10.5, swing 8, coldest 32, diffusivity 0.05
//	loop pipe upper: depth 1.5, flow 0.05, damper switch-2 contact
//
// The first (one of the two) names the place whose air enters, then any of fan
// (a drive), power by (a probe), draws (W), flow at house, pressure (Pa), warm
// below, cool above, priority and, last, runs by (evidence as above). A pipe is
// named after the place at its outlet and has depth (m), flow (m³/s),
// effectiveness and, last, damper (evidence).
//
// # Timed lines
//
// A line "on 2026-06-21" sets the day. A line starts with a time, or with
// "12:00 to 12:40 every 30s" for a series; an end that is not after the start
// is on the next day. Readings: a probe, then quantities and values parted by
// commas; a value is a number, "from 20 to 30" (a ramp over the series, to
// 0.01), or "around 21 give or take 0.2" (up, middle, down, middle). After a
// comma "measured 11:59", "measured 5s earlier", "measured 2m later" or
// "retained". Further probes follow after semicolons, each with its own
// "every" if it has one. Then: "tick"; "bench-1 unreadable: WHY", or
// "bench-1 unreadable temperature: WHY" where only that is; "link lost:
// WHY"; "link back"; "watch restarts"; "watch stood still
// since 12:00"; "clock put forward by 3h"; "clock put back by 3h"; "trouble watch/disk: WHY"; "trouble over
// watch/disk"; and people: "NAME acknowledges ALARM" (or "everything"),
// with "until TIME" for how long that is to hold, "shelves ALARM until TIME because WHY", "unshelves ALARM", "tries DRIVE of HOUSE until TIME because WHY", "takes out probe P
// because WHY", "puts back alarm A because WHY", "sets HOUSE to SEASON", "turns
// SELECTOR of HOUSE to POSITION", "calibrates PROBE QUANTITY by NUMBER because
// WHY", "goes away until TIME with NAME first and spared" (the end of it as far as
// wanted), "comes back"; "somebody" is a person who gave no name. The number of a calibration is
// added to what the probe sends from then on; readings in a file are as sent.
// A line's time is the core's own: after the clock was put forward or back the
// lines go on as if nothing had happened, and what is expected below them tells
// the time that the clock on the wall then shows. Where a clock time comes twice, in the night summer
// time ends, give the offset: 01:30-04:00.
//
// # Expectations
//
// Below a timed line, indented: when the transition was due, "noticed" and a
// time if the core heard of it later, the move, the alarm, the state after it,
// its priority and level; then, indented on a line of its own, the sentence.
// Run gives what really comes, Diff compares, Rewrite puts it into the file.
package scenario
