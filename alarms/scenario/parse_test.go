package scenario_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // so that zones are known on every machine

	"telltale/alarms"
	"telltale/alarms/scenario"
)

const full = `A file with everything
# a comment in the story

The plan uses each word of the language once,
and so do the lines.

plan
  zone EST5EDT
  fahrenheit
  chatter 5 raises in 20m, hold 1h
  remind low never, medium after 6h, high after 2h
  link lost after 45s, medium
  house long-house "Long House"
    at 52.5 north, 2 west
    daylight from 06:30 to 24:00
    settle none
    season winter
    silent medium
    circuit north "north circuit", low     # the one by the door
    place bench "Bench"
      unwatched high
      unwarned
      leaf 1.5 below air
      disagree temperature 3, humidity 12, for 20m
      temperature: low 10, high 30
      temperature by night in winter and changing: low-low 3, high-high 28.5, deadband 1,
        delay 2m, quick none, clear 90s, priority low, worst medium, source "grower's book"
      temperature rate: rise 12, fall 8, window 20m, clear 4m, priority high
      vpd: high 1.6
      probe bench-1 "Bench sensor" capacitive, on north, every 30s, misses 4, priority low:
        temperature min -20, max 60, jump any, stuck never, offset -0.3; humidity jump 30, stuck 6h;
        battery weak 25
  house low-house
    daylight from 06:00 to 20:00 in UTC
    place tray
      soil: low 12
      probe tray-1: soil
    place box
      probe box-1 clamp-meter: power; current; contact
      probe box-2 switch: contact
    control thermostat "thermostat by the door", at tray: hot cooling from 29.5, differential 2.8,
      tolerance 1.5, drives exhaust and shutter, in open and changing; heating from -2.5, drives "and"
    control spare, at tray: "cooling" cooling from 0
    drive exhaust "big fan" exhaust-fan, start 1m30s, stop 2m, effect 20m, with shutter, never with "and",
      barred in winter, starts 6, priority low: box-1 current above 0.15, usual-low 0.25, usual-high 0.36;
      box-2 contact inverted
    drive shutter intake-shutter, start 4m, effect none
    drive loop loop-fan, off in open, by turns 20m on and 40m off in changing, on in winter: box-1 power above 20
    drive "and" heater
    drive lamp grow-light, timer 05:30 to 09:00 and 22:00 to 24:00 in winter, timer tolerance 5m
    selector box-switch "switches at the door", starts winter: summer follow exhaust and shutter, on "and";
      winter on loop, off exhaust and shutter, in winter and changing
    selector lamp, told by box-2: "on"; "off" closed

on 2026-10-31
23:00 bench-1 temperature 20, humidity 60
23:59 to 00:02 every 30s bench-1 temperature from 20 to 23, humidity around 60 give or take 2, measured 5s earlier;
    every 1m tray-1 soil 15, retained
    23:59:30 raise long-house/bench/temperature/high: unacknowledged, medium, outer
        "Long House, Bench: something."
on 2026-11-01
00:30 tray-1 unreadable: not a number, "x"
00:31 tick
    00:30:10 noticed 00:31 note watch/restart: normal
00:40 to 00:42 every 1m tick
00:50 grower acknowledges long-house/bench/temperature/high
00:51 "the neighbour" acknowledges everything
00:52 somebody shelves long-house/bench/temperature/high until 2026-11-02 08:00 because the door is open
00:53 grower shelves long-house/bench/temperature/high
00:54 grower unshelves long-house/bench/temperature/high
00:55 grower takes out probe bench-1 because "cleaning, then drying"
00:56 grower takes out alarm long-house/bench/temperature/high
00:57 grower puts back probe bench-1
00:58 grower sets long-house to open
00:59 grower turns box-switch of low-house to summer
00:59 somebody turns lamp of low-house to "off"
01:00-04:00 link lost: no route
01:00-05:00 link back
01:05-05:00 watch restarts
01:06-05:00 trouble watch/disk: no room
01:07-05:00 trouble over watch/disk
01:08-05:00 clock put back by 1h30m
01:09-05:00 clock put forward by 3h
01:10-05:00 watch stood still since 01:07-05:00
01:11-05:00 bench-1 temperature NaN, measured 2026-10-31 12:00
`

func TestParseFull(t *testing.T) {
	s, err := scenario.Parse("full.txt", []byte(full), time.LoadLocation)
	if err != nil {
		t.Fatal(err)
	}
	zone, _ := time.LoadLocation("EST5EDT")
	want := alarms.Plan{
		Words:     alarms.Words{Fahrenheit: true, Zone: zone},
		Chatter:   alarms.ChatterRule{Raises: 5, Within: 20 * time.Minute, Hold: time.Hour},
		Reminders: alarms.Reminders{Low: -1, Medium: 6 * time.Hour, High: 2 * time.Hour},
		Link:      alarms.LinkRule{Delay: 45 * time.Second, Priority: alarms.Medium},
		Houses: []alarms.House{{
			ID: "long-house", Name: "Long House", Latitude: 52.5, Longitude: -2,
			Day: alarms.DayRule{Fixed: true, Start: 6*time.Hour + 30*time.Minute, End: 24 * time.Hour,
				Zone: zone, Settle: -1},
			Season: alarms.SeasonWinter, Priority: alarms.Medium,
			Circuits: []alarms.Circuit{{ID: "north", Name: "north circuit", Priority: alarms.Low}},
			Places: []alarms.Place{{
				ID: "bench", Name: "Bench", Unwatched: alarms.High, NoEarlyWarning: true, LeafBelowAir: alarms.At(1.5),
				Disagree:    map[alarms.Quantity]float64{alarms.Temperature: 3, alarms.Humidity: 12},
				DisagreeFor: 20 * time.Minute,
				Bands: []alarms.Band{
					{Quantity: alarms.Temperature, Limits: alarms.Limits{Low: alarms.At(10), High: alarms.At(30)}},
					{Quantity: alarms.Temperature, When: alarms.Night,
						Seasons: []alarms.Season{alarms.SeasonWinter, alarms.SeasonChanging},
						Limits:  alarms.Limits{LowLow: alarms.At(3), HighHigh: alarms.At(28.5)}, Deadband: 1,
						Delay: 2 * time.Minute, QuickDelay: -1, ClearDelay: 90 * time.Second,
						Priority: alarms.Low, Worst: alarms.Medium, Source: "grower's book"},
					{Quantity: alarms.VPD, Limits: alarms.Limits{High: alarms.At(1.6)}},
				},
				Rates: []alarms.RateLimit{{Quantity: alarms.Temperature, Rise: alarms.At(12), Fall: alarms.At(8),
					Window: 20 * time.Minute, ClearDelay: 4 * time.Minute, Priority: alarms.High}},
				Probes: []alarms.Probe{{ID: "bench-1", Name: "Bench sensor", Kind: alarms.KindCapacitive,
					Circuit: "north", Every: 30 * time.Second, MissesAllowed: 4, Priority: alarms.Low,
					Streams: []alarms.Stream{
						{Quantity: alarms.Temperature, Min: alarms.At(-20), Max: alarms.At(60), Jump: -1, StuckFor: -1, Offset: -0.3},
						{Quantity: alarms.Humidity, Jump: 30, StuckFor: 6 * time.Hour},
						{Quantity: alarms.Battery, Weak: alarms.At(25)},
					}}},
			}},
		}, {
			ID: "low-house", Day: alarms.DayRule{Fixed: true, Start: 6 * time.Hour, End: 20 * time.Hour, Zone: time.UTC},
			Places: []alarms.Place{{ID: "tray",
				Bands:  []alarms.Band{{Quantity: alarms.Soil, Limits: alarms.Limits{Low: alarms.At(12)}}},
				Probes: []alarms.Probe{{ID: "tray-1", Streams: []alarms.Stream{{Quantity: alarms.Soil}}}}},
				{ID: "box", Probes: []alarms.Probe{
					{ID: "box-1", Kind: alarms.KindClamp, Streams: []alarms.Stream{{Quantity: alarms.Power}, {Quantity: alarms.Current}, {Quantity: alarms.Contact}}},
					{ID: "box-2", Kind: alarms.KindSwitch, Streams: []alarms.Stream{{Quantity: alarms.Contact}}}}}},
			Controls: fullControls, Drives: fullDrives, Selectors: fullSelectors,
		}},
	}
	if !reflect.DeepEqual(s.Plan, want) {
		t.Errorf("plan:\ngot  %+v\nwant %+v", s.Plan, want)
	}
	if s.Title != "A file with everything" || s.Story != "The plan uses each word of the language once,\nand so do the lines." {
		t.Errorf("title %q, story %q", s.Title, s.Story)
	}
	checkInputs(t, s, zone)
}

func checkInputs(t *testing.T, s *scenario.Scenario, zone *time.Location) {
	at := func(day, hour, minute, second int) time.Time {
		month := time.October
		if day < 31 {
			month = time.November
		}
		return time.Date(2026, month, day, hour, minute, second, 0, zone)
	}
	const high = alarms.AlarmID("long-house/bench/temperature/high")
	want := []alarms.Input{
		{At: at(31, 23, 0, 0), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: 20},
		{At: at(31, 23, 0, 0), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Humidity, Value: 60},
	}
	for i, v := range []float64{20, 20.5, 21, 21.5, 22, 22.5, 23} {
		when := at(31, 23, 59, 0).Add(time.Duration(i) * 30 * time.Second)
		rh := []float64{62, 60, 58, 60, 62, 60, 58}[i]
		want = append(want,
			alarms.Input{At: when, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: v, Measured: when.Add(-5 * time.Second)},
			alarms.Input{At: when, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Humidity, Value: rh, Measured: when.Add(-5 * time.Second)})
		if i%2 == 0 {
			want = append(want, alarms.Input{At: when, Kind: alarms.ReadingIn, Probe: "tray-1", Quantity: alarms.Soil, Value: 15, Retained: true})
		}
	}
	one := time.Date(2026, 11, 1, 5, 0, 0, 0, time.UTC) // 01:00 summer time
	want = append(want,
		alarms.Input{At: at(1, 0, 30, 0), Kind: alarms.GarbledIn, Probe: "tray-1", Note: `not a number, "x"`},
		alarms.Input{At: at(1, 0, 31, 0)},
		alarms.Input{At: at(1, 0, 40, 0)}, alarms.Input{At: at(1, 0, 41, 0)}, alarms.Input{At: at(1, 0, 42, 0)},
		alarms.Input{At: at(1, 0, 50, 0), Kind: alarms.Acknowledge, Alarm: high, By: "grower"},
		alarms.Input{At: at(1, 0, 51, 0), Kind: alarms.Acknowledge, By: "the neighbour"},
		alarms.Input{At: at(1, 0, 52, 0), Kind: alarms.Shelve, Alarm: high, Until: at(2, 8, 0, 0), Note: "the door is open"},
		alarms.Input{At: at(1, 0, 53, 0), Kind: alarms.Shelve, Alarm: high, By: "grower"},
		alarms.Input{At: at(1, 0, 54, 0), Kind: alarms.Unshelve, Alarm: high, By: "grower"},
		alarms.Input{At: at(1, 0, 55, 0), Kind: alarms.TakeOut, Probe: "bench-1", By: "grower", Note: "cleaning, then drying"},
		alarms.Input{At: at(1, 0, 56, 0), Kind: alarms.TakeOut, Alarm: high, By: "grower"},
		alarms.Input{At: at(1, 0, 57, 0), Kind: alarms.PutBack, Probe: "bench-1", By: "grower"},
		alarms.Input{At: at(1, 0, 58, 0), Kind: alarms.SetSeason, House: "long-house", Season: alarms.SeasonOpen, By: "grower"},
		alarms.Input{At: at(1, 0, 59, 0), Kind: alarms.SetSelector, House: "low-house", Selector: "box-switch", Position: "summer", By: "grower"},
		alarms.Input{At: at(1, 0, 59, 0), Kind: alarms.SetSelector, House: "low-house", Selector: "lamp", Position: "off"},
		alarms.Input{At: one, Kind: alarms.LinkDown, Note: "no route"},
		alarms.Input{At: one.Add(time.Hour), Kind: alarms.LinkUp},
		alarms.Input{At: one.Add(65 * time.Minute), Kind: alarms.RestartMarker},
		alarms.Input{At: one.Add(66 * time.Minute), Kind: alarms.TroubleOn, Alarm: alarms.TroubleDisk, Note: "no room"},
		alarms.Input{At: one.Add(67 * time.Minute), Kind: alarms.TroubleOff, Alarm: alarms.TroubleDisk},
		alarms.Input{At: one.Add(68 * time.Minute), Kind: alarms.ClockStep, Shift: -90 * time.Minute},
		alarms.Input{At: one.Add(69 * time.Minute), Kind: alarms.ClockStep, Shift: 3 * time.Hour},
		alarms.Input{At: one.Add(70 * time.Minute), Kind: alarms.StoodStill, Since: one.Add(67 * time.Minute)},
		alarms.Input{At: one.Add(71 * time.Minute), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature,
			Value: math.NaN(), Measured: time.Date(2026, 10, 31, 16, 0, 0, 0, time.UTC)},
	)
	got := s.Inputs()
	if len(got) != len(want) {
		t.Fatalf("got %d inputs, want %d: %v", len(got), len(want), got)
	}
	for i := range got {
		if g, w := fmt.Sprint(utc(got[i])), fmt.Sprint(utc(want[i])); g != w {
			t.Errorf("input %d:\ngot  %s\nwant %s", i, g, w)
		}
	}
	if w := s.Steps[1].Want; len(w) != 1 || w[0].Sentence != "Long House, Bench: something." ||
		!w[0].Due.Equal(at(31, 23, 59, 30)) || w[0].To != alarms.Unacknowledged {
		t.Errorf("first expectation: %+v", w)
	}
	if w := s.Steps[3].Want; len(w) != 1 || w[0].Move != alarms.Note || w[0].Noticed.Sub(w[0].Due) != 50*time.Second {
		t.Errorf("second expectation: %+v", w)
	}
}

func utc(in alarms.Input) alarms.Input {
	in.At, in.Measured, in.Until, in.Since = in.At.UTC(), in.Measured.UTC(), in.Until.UTC(), in.Since.UTC()
	return in
}

func TestPrintIsStable(t *testing.T) {
	texts := map[string][]byte{"full.txt": []byte(full)}
	files, _ := filepath.Glob(files)
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		texts[f] = text
	}
	for name, text := range texts {
		if s, err := scenario.Parse(name, text, time.LoadLocation); err != nil {
			t.Error(err)
		} else {
			stable(t, s)
		}
	}
}

// stable demands that printing loses nothing: what is printed reads back as
// the same inputs and expectations and prints as the same text.
func stable(t *testing.T, s *scenario.Scenario) {
	t.Helper()
	printed := s.Print()
	back, err := scenario.Parse("printed", printed, time.LoadLocation)
	if err != nil {
		t.Fatalf("printed text is not read: %v\n%s", err, printed)
	}
	if again := back.Print(); !bytes.Equal(printed, again) {
		t.Fatalf("printed:\n%s\nand printed again:\n%s", printed, again)
	}
	a, b := s.Inputs(), back.Inputs()
	if len(a) != len(b) {
		t.Fatalf("%d inputs became %d:\n%s", len(a), len(b), printed)
	}
	for i := range a {
		if x, y := fmt.Sprint(utc(a[i])), fmt.Sprint(utc(b[i])); x != y {
			t.Fatalf("input %d became another:\n%s\n%s", i, x, y)
		}
	}
	if x, y := wants(s), wants(back); x != y {
		t.Fatalf("expectations became others:\n%s\n%s\n%s", x, y, printed)
	}
}

func wants(s *scenario.Scenario) string {
	var b strings.Builder
	for _, step := range s.Steps {
		for _, t := range step.Want {
			fmt.Fprintln(&b, t.Due.UTC(), t.Noticed.UTC(), t.Move, t.Alarm, t.To, t.Priority, t.Level, t.Sentence)
		}
	}
	return b.String()
}

// FuzzParse begins with all scenarios there are, and so tries a few a second.
func FuzzParse(f *testing.F) {
	f.Add([]byte(full))
	names, _ := filepath.Glob(files)
	for _, n := range names {
		text, err := os.ReadFile(n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if s := wellParsed(t, text); s != nil {
			stable(t, s)
		}
	})
}

// wellParsed returns the scenario in text, nil if it is none; then each error
// says where.
func wellParsed(t *testing.T, text []byte) *scenario.Scenario {
	s, err := scenario.Parse("fuzz.txt", text, time.LoadLocation)
	if err == nil {
		return s
	}
	for _, l := range strings.Split(err.Error(), "\n") {
		if !strings.HasPrefix(l, "fuzz.txt:") {
			t.Fatalf("an error without its place: %q", l)
		}
	}
	return nil
}

// FuzzSmall keeps to a plan of a few words and a few inputs, which it also runs,
// and tries thousands a second.
func FuzzSmall(f *testing.F) {
	const plan = "T\n\nS\n\nplan\n  house a\n    place b\n      temperature: low 5, high 30, delay 1m\n      probe p, every 1m: temperature\n\non 2026-07-01\n"
	for _, lines := range []string{"12:00 p temperature 20\n12:01 p temperature 35\n12:03 p temperature 36\n", "12:00 p temperature 20\n12:01 link down: x\n12:09 link back\n",
		"12:00 watch restarts\n12:01 g acknowledges everything\n", "12:00 to 12:05 every 1m p temperature around 20 give or take 3\n", "12:00 clock put back by 3h\n12:30 tick\n"} {
		f.Add([]byte(plan + lines))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if len(text) > 600 {
			return
		}
		s := wellParsed(t, text)
		if s == nil || len(s.Inputs()) > 50 {
			return
		}
		stable(t, s)
		if _, err := s.Run(); err != nil && !strings.HasPrefix(err.Error(), "fuzz.txt: the plan: ") {
			t.Fatalf("it does not run: %v", err)
		}
	})
}
