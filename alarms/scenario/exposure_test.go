package scenario_test

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/scenario"
)

const exposurePlan = `Exposures

Every word of an exposure once.

plan
  house long-house
    daylight from 06:00 to 20:00
    place bench
      exposure fruit-set: temperature above 35, for 3h, window 48h, hold 20m, priority high, says "fruit set fails", source "a book"
      exposure cold: temperature below 10.5, for 4h, nights 2, says cold
      exposure mould: humidity at least 85 by night in winter and open while temperature from 12.8 to 23.9, for 8h, gap 4h, says mould
      exposure load: temperature at most -0.6 while humidity to 90, degree-hours 2.5, days 3, says frost
      exposure thirst: vpd above 2 while temperature from 20, for 2h, window 24h, says thirst
      probe bench-1: temperature; humidity

on 2026-10-31
23:00 bench-1 temperature 20, humidity 60
`

func TestParseExposures(t *testing.T) {
	s, err := scenario.Parse("e.txt", []byte(exposurePlan), time.LoadLocation)
	if err != nil {
		t.Fatal(err)
	}
	want := []alarms.Exposure{
		{ID: "fruit-set", Says: "fruit set fails", Quantity: alarms.Temperature, Above: alarms.At(35), Time: 3 * time.Hour,
			Window: 48 * time.Hour, Hold: 20 * time.Minute, Priority: alarms.High, Source: "a book"},
		{ID: "cold", Says: "cold", Quantity: alarms.Temperature, Below: alarms.At(10.5), Time: 4 * time.Hour, Nights: 2},
		{ID: "mould", Says: "mould", Quantity: alarms.Humidity, AtLeast: alarms.At(85), When: alarms.Night,
			Seasons: []alarms.Season{alarms.SeasonWinter, alarms.SeasonOpen}, While: alarms.Temperature,
			WhileLow: alarms.At(12.8), WhileHigh: alarms.At(23.9), Time: 8 * time.Hour, Gap: 4 * time.Hour},
		{ID: "load", Says: "frost", Quantity: alarms.Temperature, AtMost: alarms.At(-0.6), While: alarms.Humidity,
			WhileHigh: alarms.At(90), DegreeHours: 2.5, Days: 3},
		{ID: "thirst", Says: "thirst", Quantity: alarms.VPD, Above: alarms.At(2), While: alarms.Temperature,
			WhileLow: alarms.At(20), Time: 2 * time.Hour, Window: 24 * time.Hour},
	}
	if got := s.Plan.Houses[0].Places[0].Exposures; !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
	printed := s.Print()
	again, err := scenario.Parse("again.txt", printed, time.LoadLocation)
	if err != nil {
		t.Fatalf("%v in\n%s", err, printed)
	}
	if !reflect.DeepEqual(again.Plan, s.Plan) {
		t.Errorf("printed and read again, the plan is another:\n%s", printed)
	}
}

func TestExposureErrors(t *testing.T) {
	for line, want := range map[string]string{
		"exposure x: temperature 35, for 3h":                       "want above, below, at least or at most",
		"exposure x: temperature above 35, lasting 3h":             "want for, degree-hours, window",
		"exposure x: temperature above 35 while, for 3h":           "want a quantity",
		"exposure x: temperature above 35, for 3h, days 0":         "want a whole number from 1 for days",
		"exposure x temperature above 35, for 3h":                  `want ":"`,
		"exposure x: temperature above 35, for 3h, window never":   "want a length of time",
		"exposure x: temperature above 35 by noon, for 3h, gap 1h": "day or night",
	} {
		text := strings.Replace(exposurePlan, "exposure cold: temperature below 10.5, for 4h, nights 2, says cold", line, 1)
		_, err := scenario.Parse("e.txt", []byte(text), time.LoadLocation)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "e.txt:10") {
			t.Errorf("%s: got %v, want it to say %q", line, err, want)
		}
	}
}
