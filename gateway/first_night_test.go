package gateway

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

const nightsText = `
[nobody-told]
because = "it is only read"
[house.long-house]
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench]
crop = %q
[probe.bench-1]
place = "long-house/bench"
topic = "probe"
form = "json"
every = "1m"
temperature = { from = "/t" }
humidity = { from = "/h" }
`

// tellOf lets a house with one crop live through some days, of which air gives
// temperature and humidity minute by minute, and returns what people are told.
func tellOf(t *testing.T, crop string, from time.Time, length time.Duration, air func(time.Time) (celsius, percent float64)) []alarms.Transition {
	t.Helper()
	c, problems := config.ParseToSetUp("crop.toml", fmt.Appendf(nil, nightsText, crop), func(string) (string, bool) { return "", false })
	if c == nil {
		t.Fatal(problems.Err())
	}
	e, err := engine.New(c.Plan)
	if err != nil {
		t.Fatal(err)
	}
	var told []alarms.Transition
	for at := from; !at.After(from.Add(length)); at = at.Add(time.Minute) {
		celsius, percent := air(at)
		for _, r := range []struct {
			q alarms.Quantity
			v float64
		}{{alarms.Temperature, celsius}, {alarms.Humidity, percent}} {
			for _, tr := range say.Step(e, alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: r.q, Value: r.v}) {
				if tr.Told() {
					told = append(told, tr)
				}
			}
		}
	}
	return told
}

// july is noon of the first of a fortnight.
var july = time.Date(2026, time.July, 1, 12, 0, 0, 0, time.UTC)

const fortnight = 14 * 24 * time.Hour

// A fortnight of July in a tomato house whose fan, shutter and shading work is
// no reason to call anybody: as the simulated garden has it, and as an aired
// house of the trade is, 27 °C and 55 % at noon, 16 °C and 91 % before dawn, with
// warm evenings of 25 °C (common practice, no source).
func TestNoHealthyHouseCallsAnybodyForDamp(t *testing.T) {
	sim := model.ThimbleGarth(july, 7)
	for name, air := range map[string]func(time.Time) (float64, float64){
		"simulated": func(at time.Time) (float64, float64) {
			sim.Advance(at)
			h := sim.Truth().House("long-house")
			return h.Temperature, h.Humidity
		},
		"aired": func(at time.Time) (float64, float64) {
			wave := math.Cos(2 * math.Pi * (at.Sub(july).Hours() - 3) / 24)
			return 21.5 + 6.5*wave, 73 - 18*wave
		},
	} {
		told := tellOf(t, "tomato", july, fortnight, air)
		if len(told) > 5 {
			t.Errorf("%s: %d messages", name, len(told))
		}
		for _, tr := range told {
			t.Logf("%s: %s %s", name, tr.Due.Format("02 15:04"), tr.Sentence)
			if tr.Priority != alarms.Low {
				t.Errorf("%s: at %v: %s", name, tr.Priority, tr.Sentence)
			}
		}
	}
}

// Nights that are really wet are told, of every crop: at most once a night, when
// it is day, and quietly.
func TestAWetFortnightIsToldInTheMorning(t *testing.T) {
	for _, crop := range []string{"tomato", "lettuce", "lemon"} {
		told := tellOf(t, crop, july, fortnight, func(at time.Time) (float64, float64) {
			if h := at.Hour(); h >= 10 && h < 18 {
				return 21, 75
			}
			return 16, 97
		})
		if len(told) < 13 || len(told) > 14 {
			t.Errorf("%s: %d messages of 14 wet nights", crop, len(told))
		}
		days := map[int]bool{}
		for _, tr := range told {
			if h := tr.Due.Hour(); h < 3 || h > 6 || days[tr.Due.YearDay()] || tr.Priority != alarms.Low {
				t.Errorf("%s: %s at %v: %s", crop, tr.Due.Format("02 15:04"), tr.Priority, tr.Sentence)
			}
			days[tr.Due.YearDay()] = true
		}
		all := fmt.Sprint(told)
		for word, want := range map[string]bool{"grey mould": true, "late blight": crop == "tomato", "downy mildew": crop == "lettuce"} {
			if strings.Contains(all, word) != want {
				t.Errorf("%s: %q is %v in:\n%s", crop, word, !want, all)
			}
		}
	}
}
