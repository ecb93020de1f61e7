package config

import (
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

func exposureOf(t *testing.T, p alarms.Place, id alarms.ExposureID) alarms.Exposure {
	t.Helper()
	for _, x := range p.Exposures {
		if x.ID == id {
			return x
		}
	}
	t.Fatalf("no exposure %q among %+v", id, p.Exposures)
	return alarms.Exposure{}
}

// What the file says goes before what the crop says, key by key.
func TestExposures(t *testing.T) {
	p := load(t, "every-key.toml").Plan.Houses[0].Places[0]
	for _, x := range []alarms.Exposure{
		{ID: "fruit-set", Says: "fruit set of the early tomatoes is failing", Quantity: alarms.Temperature, Above: alarms.At(36),
			When: alarms.Day, Seasons: []alarms.Season{"open", "changing"}, Time: 2 * time.Hour, Window: 36 * time.Hour,
			Hold: 20 * time.Minute, Priority: alarms.High, Source: "the grower's own book"},
		{ID: "heat-load", Says: "leaves scorch", Quantity: alarms.Temperature, Above: alarms.At(35), DegreeHours: 15, Days: 2,
			Source: "set in the configuration"},
		{ID: "cold-nights", Says: "growth has stopped", Quantity: alarms.Temperature, AtMost: alarms.At(9.5),
			Time: 5 * time.Hour, Nights: 3, Source: "set in the configuration"},
	} {
		if got := exposureOf(t, p, x.ID); !reflect.DeepEqual(got, x) {
			t.Errorf("got\n%+v\nwant\n%+v", got, x)
		}
	}
	mould := exposureOf(t, p, "grey-mould")
	if mould.AtLeast != alarms.At(93) || mould.WhileLow != alarms.At(12) || mould.Time != 8*time.Hour || mould.Gap != 3*time.Hour ||
		mould.Says != "grey mould can infect" || !strings.HasPrefix(mould.Source, "changed in the configuration; before that, limit: UK growers") {
		t.Errorf("got %+v", mould)
	}
	if cold := exposureOf(t, p, "chilling"); cold.Below != alarms.At(7) || cold.Nights != 2 || cold.When != alarms.Night {
		t.Errorf("got %+v", cold)
	}
	for _, x := range p.Exposures {
		if x.ID == "late-blight" {
			t.Error("late-blight is switched off")
		}
	}
	if _, err := engine.New(load(t, "every-key.toml").Plan); err != nil {
		t.Error(err)
	}
}

// A crop brings its exposures to whatever its place measures.
func TestCropBringsExposures(t *testing.T) {
	for _, p := range load(t, "own-broker.toml").Plan.Houses[0].Places {
		for _, x := range p.Exposures {
			if x.Source == "" || x.Priority == alarms.NoPriority || x.Says == "" {
				t.Errorf("%s: got %+v", p.ID, x)
			}
		}
	}
	bench := load(t, "own-broker.toml").Plan.Houses[0].Places[0]
	if x := exposureOf(t, bench, "fruit-set-lost"); x.Above != alarms.At(39.4) || x.Days != 2 || x.Priority != alarms.High ||
		!strings.Contains(x.Source, "Maryland") {
		t.Errorf("got %+v", x)
	}
	if x := exposureOf(t, bench, "fruit-set"); !strings.Contains(x.Source, "; window: worked out from Univ. of Maryland") {
		t.Errorf("got the source %q", x.Source)
	}
	if x := exposureOf(t, bench, "frost"); !strings.Contains(x.Source, "limit: General extension guidance (from memory); time: Common practice, no source") {
		t.Errorf("got the source %q", x.Source)
	}
}

// 95 °F are 35 °C, and 27 degree-hours of °F are 15 K h.
func TestExposureInFahrenheit(t *testing.T) {
	good, err := os.ReadFile(goodFolder + "fahrenheit.toml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(good), "[channel.", `[house.long-house.place.bench.exposure.heat-load]
quantity = "temperature"
above = 95
degree-hours = 27
gap = "12h"
harm = "leaves scorch"

[channel.`, 1)
	c, problems := Parse("fahrenheit.toml", []byte(text), fixedEnv)
	if c == nil {
		t.Fatal(problems)
	}
	x := exposureOf(t, c.Plan.Houses[0].Places[0], "heat-load")
	if x.Above != alarms.At(35) || x.DegreeHours != 15 {
		t.Errorf("got %+v", x)
	}
}
