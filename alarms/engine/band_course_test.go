package engine_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
	"time"

	"telltale/alarms"
)

// bandedHouse has a band of each kind: always, by night, by season and by both.
func bandedHouse() alarms.Plan {
	p := longHouse()
	pl := &p.Houses[0].Places[0]
	pl.Bands = append(pl.Bands,
		alarms.Band{Quantity: alarms.Temperature, When: alarms.Night, Limits: alarms.Limits{Low: alarms.At(5), High: alarms.At(24)}},
		alarms.Band{Quantity: alarms.Temperature, Seasons: []alarms.Season{alarms.SeasonWinter}, Limits: alarms.Limits{High: alarms.At(27)}},
		alarms.Band{Quantity: alarms.Temperature, When: alarms.Night, Seasons: []alarms.Season{alarms.SeasonWinter},
			Limits: alarms.Limits{Low: alarms.At(3)}})
	p.Houses[0].Season = alarms.SeasonOpen
	return p
}

// What Course says of the past is what the core judged by then, minute after
// minute, over days, nights and changes of season.
func TestCourseIsWhatTheCoreJudgedBy(t *testing.T) {
	for name, day := range map[string]alarms.DayRule{
		"sun": {}, "no settling": {Settle: -1},
		"clock": {Fixed: true, Start: 6 * time.Hour, End: 22*time.Hour + 30*time.Minute, Settle: 40 * time.Minute},
	} {
		t.Run(name, func(t *testing.T) {
			p := bandedHouse()
			p.Houses[0].Day = day
			seasons := []alarms.SeasonFrom{
				{From: noon.Add(-time.Hour), Season: alarms.SeasonOpen},
				{From: noon.Add(31 * time.Hour), Season: alarms.SeasonWinter},
				{From: noon.Add(31*time.Hour + 20*time.Minute), Season: alarms.SeasonChanging},
				{From: noon.Add(70 * time.Hour), Season: alarms.SeasonWinter},
			}
			r := start(t, p)
			var was []alarms.Limits
			for i := range 4 * 24 * 60 {
				r.now = noon.Add(time.Duration(i) * time.Minute)
				for _, s := range seasons[1:] {
					if s.From.Equal(r.now) {
						r.step(alarms.Input{Kind: alarms.SetSeason, House: "long-house", Season: s.Season})
					}
				}
				r.step(alarms.Input{Kind: alarms.Tick})
				was = append(was, r.e.Picture().Houses[0].Places[0].Points[0].Limits)
			}
			h := &p.Filled().Houses[0]
			from, to := noon.Add(10*time.Hour), noon.Add(90*time.Hour)
			steps := h.Places[0].Steps(alarms.Temperature, h.Course(seasons, from, to))
			if !steps[0].From.Equal(from) || !steps[len(steps)-1].To.Equal(to) || len(steps) < 8 {
				t.Fatalf("got %d steps from %s to %s", len(steps), steps[0].From, steps[len(steps)-1].To)
			}
			at := 0
			for now := from; now.Before(to); now = now.Add(time.Minute) {
				for !steps[at].To.After(now) {
					at++
					if !steps[at].From.Equal(steps[at-1].To) {
						t.Fatalf("a hole before %s", steps[at].From)
					}
				}
				if want := was[int(now.Sub(noon)/time.Minute)]; steps[at].Limits != want {
					t.Fatalf("%s: got %+v, the core had %+v", now, steps[at].Limits, want)
				}
			}
		})
	}
}

// Nights end and begin where sun.csv has sunrise and sunset, made with
// astronomy-engine 2.1.19 and checked against suncalc 2.0.2.
func TestNightsAgainstReference(t *testing.T) {
	f, err := os.Open("../../testdata/reference/sun.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, row := range rows[1:] {
		rise, errRise := time.Parse(time.RFC3339, row[5])
		set, errSet := time.Parse(time.RFC3339, row[7])
		lat, _ := strconv.ParseFloat(row[1], 64)
		lon, _ := strconv.ParseFloat(row[2], 64)
		if errRise != nil || errSet != nil || lat > 60 || lat < -60 {
			continue
		}
		p := longHouse()
		p.Houses[0].Latitude, p.Houses[0].Longitude = lat, lon
		h := &p.Filled().Houses[0]
		var days []alarms.Held
		for _, c := range h.Course(nil, rise.Add(-2*time.Hour), set.Add(2*time.Hour)) {
			if n := len(days); n > 0 && days[n-1].Daypart == c.Daypart {
				days[n-1].To = c.To
				continue
			}
			days = append(days, c)
		}
		if len(days) != 3 || days[0].Daypart != alarms.Night || days[1].Daypart != alarms.Day || days[2].Daypart != alarms.Night {
			t.Errorf("%s %s: got %+v, want night, day, night", row[0], row[3], days)
			continue
		}
		if off := days[1].From.Sub(rise).Abs(); off > 15*time.Second {
			t.Errorf("%s %s: day begins at %s, want %s", row[0], row[3], days[1].From, rise)
		}
		if off := days[1].To.Sub(set).Abs(); off > 15*time.Second {
			t.Errorf("%s %s: day ends at %s, want %s", row[0], row[3], days[1].To, set)
		}
		checked++
	}
	if checked < 20 {
		t.Errorf("only %d days were checked", checked)
	}
}

func BenchmarkCourseOfAYear(b *testing.B) {
	h := &bandedHouse().Filled().Houses[0]
	for b.Loop() {
		h.Places[0].Steps(alarms.Temperature, h.Course(nil, noon, noon.AddDate(1, 0, 0)))
	}
}
