package engine_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// doorPlan is a house with a door, and a bench and the outside by which it is judged.
func doorPlan() alarms.Plan {
	probe := func(id alarms.ProbeID, q alarms.Quantity) []alarms.Probe {
		return []alarms.Probe{{ID: id, Every: 10 * time.Minute, Streams: []alarms.Stream{{Quantity: q, StuckFor: -1}}}}
	}
	return alarms.Plan{Houses: []alarms.House{{
		ID: "long-house", Name: "Long House", Day: alarms.DayRule{Fixed: true, Start: 7 * time.Hour, End: 18 * time.Hour},
		Places: []alarms.Place{
			{ID: "bench", Probes: probe("bench-1", alarms.Temperature), Bands: []alarms.Band{{Quantity: alarms.Temperature,
				Limits: alarms.Limits{Low: alarms.At(6), High: alarms.At(30)}}}},
			{ID: "outside", Probes: probe("outside-1", alarms.Temperature)},
			{ID: "doorway", Probes: probe("door-1", alarms.Contact)},
		},
		Openings: []alarms.HandOpening{{ID: "door", Kind: alarms.KindDoor, Place: "bench", Probe: "door-1"}},
	}}}
}

// open is what a contact says of a door.
const open, shut = 0.0, 1.0

// stands lets the door stand so for a time, in a house and outside of so many °C.
func (r *rig) stands(contact, inside, outside float64, long time.Duration) {
	for end := r.at.Add(long); r.at.Before(end); r.at = r.at.Add(5 * time.Minute) {
		r.read("bench-1", alarms.Temperature, inside+0.01*float64(r.at.Minute()%10))
		r.read("outside-1", alarms.Temperature, outside)
		r.read("door-1", alarms.Contact, contact)
	}
}

func (r *rig) door() alarms.OpeningPicture { return picture(r.engine).Houses[0].Openings[0] }

func (r *rig) told(what string) bool {
	for _, id := range r.raised() {
		if id == what {
			return true
		}
	}
	return false
}

const doorOpen = "long-house/door/open"

func TestADoorIsToldByTheClockOnTheWall(t *testing.T) {
	for name, c := range map[string]struct {
		step time.Duration
		want bool
	}{"as it is": {0, false}, "to the evening": {5 * time.Hour, true}, "years ahead, by day": {730 * 24 * time.Hour, false},
		"years ahead, by night": {730*24*time.Hour + 9*time.Hour, true}, "back to the night": {-8 * time.Hour, true}} {
		r := newRig(t, doorPlan(), time.Date(2026, 10, 12, 13, 0, 0, 0, time.UTC))
		r.stands(open, 12, 8, time.Hour)
		r.step(alarms.Input{Kind: alarms.ClockStep, Shift: c.step})
		if got := r.told(doorOpen); got != c.want {
			t.Errorf("%s: told %t, want %t", name, got, c.want)
		}
	}
}

func TestWhatIsNotHeardOfADoorBeginsAndEndsNothing(t *testing.T) {
	at := time.Date(2026, 10, 12, 16, 0, 0, 0, time.UTC)
	for name, lose := range map[string]func(*rig){
		"the link is lost": func(r *rig) { r.step(alarms.Input{Kind: alarms.LinkDown, Note: "refused"}) },
		"the watch is away": func(r *rig) {
			r.at = r.at.Add(time.Hour)
			r.step(alarms.Input{Kind: alarms.RestartMarker})
		},
		"no number": func(r *rig) {
			for range 3 {
				r.at = r.at.Add(time.Minute)
				r.read("door-1", alarms.Contact, math.NaN())
			}
		},
		"the contact dies": func(r *rig) {
			r.at = r.at.Add(time.Hour)
			r.step(alarms.Input{Kind: alarms.Tick})
		},
	} {
		r := newRig(t, doorPlan(), at)
		r.stands(open, 12, 8, time.Hour)
		lose(r)
		if d := r.door(); d.State != alarms.StateUnknown || !strings.Contains(d.Sentence, "it was open then") {
			t.Errorf("%s: the door is %s: %s", name, d.State, d.Sentence)
		}
		r.at = at.Add(4 * time.Hour)
		r.step(alarms.Input{Kind: alarms.Tick})
		if r.told(doorOpen) {
			t.Errorf("%s: told without being known", name)
		}
		r.step(alarms.Input{Kind: alarms.LinkUp})
		r.stands(open, 12, 8, 10*time.Minute)
		if !r.told(doorOpen) {
			t.Errorf("%s: not told when it is heard again", name)
		}
		lose(r)
		r.at = r.at.Add(3 * time.Hour)
		r.step(alarms.Input{Kind: alarms.Tick})
		if !r.told(doorOpen) {
			t.Errorf("%s: taken for shut", name)
		}
		r.step(alarms.Input{Kind: alarms.LinkUp})
		r.stands(shut, 12, 8, 20*time.Minute)
		if r.told(doorOpen) || r.door().State != alarms.StateShut {
			t.Errorf("%s: still told when it is shut", name)
		}
	}
}

func TestADoorWhoseContactIsTakenOutIsNotTold(t *testing.T) {
	r := newRig(t, doorPlan(), time.Date(2026, 10, 12, 17, 0, 0, 0, time.UTC))
	r.stands(open, 12, 8, 2*time.Hour)
	if !r.told(doorOpen) {
		t.Fatal("not told")
	}
	r.step(alarms.Input{Kind: alarms.TakeOut, Probe: "door-1", By: "Ada"})
	r.stands(open, 12, 8, 10*time.Minute)
	if r.told(doorOpen) {
		t.Error("told by a contact that was taken out of service")
	}
}

// What harms is the cold: a hot house needs the door, and a warm night does nothing.
func TestADoorIsLeftOpenInTheWarmth(t *testing.T) {
	for name, c := range map[string]struct {
		inside, outside float64
		want            bool
	}{"cold": {12, 8, true}, "warm": {18, 12.5, false}, "hot, and cold outside": {31, 8, false}} {
		r := newRig(t, doorPlan(), time.Date(2026, 10, 12, 17, 0, 0, 0, time.UTC))
		r.stands(open, c.inside, c.outside, 2*time.Hour)
		if got := r.told(doorOpen); got != c.want {
			t.Errorf("%s: told %t, want %t", name, got, c.want)
		}
	}
}

func TestOpeningsAreChecked(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*alarms.HandOpening)
		want  string
	}{
		"kind":  {func(o *alarms.HandOpening) { o.Kind = "gate" }, `kind: must be "door", "window" or "lid" (got "gate")`},
		"place": {func(o *alarms.HandOpening) { o.Place = "doorway" }, "place: needs a probe that measures temperature there (got \"doorway\")"},
		"probe": {func(o *alarms.HandOpening) { o.Probe = "bench-1" }, "must measure a contact, which shows whether it is shut"},
		"hour":  {func(o *alarms.HandOpening) { o.ShutBy = 9 * time.Hour }, "must be from 12:00 to 23:59 (got 09:00)"},
		"falls": {func(o *alarms.HandOpening) { o.Falls = math.NaN() }, "fall-per-hour: must be from 0.5 K to 100 K (got NaN K)"},
		"name":  {func(o *alarms.HandOpening) { o.ID = "bench" }, `opening.bench: a place of this house has the same name`},
	} {
		p := doorPlan()
		c.spoil(&p.Houses[0].Openings[0])
		if _, err := engine.New(p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q in it", name, err, c.want)
		}
	}
}

// A year of a door, night by night, against a plain reckoning of the weather: of a
// door that is shut before sunset nothing is told all year; of one that stands open
// always, in each night with frost and in no night that stays warm.
func TestAYearOfADoor(t *testing.T) {
	for _, always := range []bool{false, true} {
		r := newRig(t, doorPlan(), time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC))
		frost, warm, told := map[string]bool{}, map[string]bool{}, map[string]bool{}
		for r.at.Before(time.Date(2027, 1, 1, 12, 0, 0, 0, time.UTC)) {
			day, hour := float64(r.at.YearDay()), float64(r.at.Hour())+float64(r.at.Minute())/60
			outside := 12 - 9*math.Cos(2*math.Pi*(day-20)/365) + 5*math.Cos(2*math.Pi*(hour-14.5)/24) + 3*math.Sin(day*1.7)
			inside := outside + 4 + 8*max(0, math.Sin(math.Pi*(hour-7)/11))
			contact := shut
			if by := r.at.Hour(); always || by >= 9 && by < 17 {
				contact, inside = open, outside+2
			}
			night := r.at.Add(-12 * time.Hour).Format(time.DateOnly)
			if by := r.at.Hour(); by < 7 || by >= 18 {
				if _, ok := warm[night]; !ok {
					warm[night] = true
				}
				warm[night] = warm[night] && outside > 6+6+1
				frost[night] = frost[night] || outside < 0
			}
			r.read("bench-1", alarms.Temperature, inside)
			r.read("outside-1", alarms.Temperature, outside)
			r.read("door-1", alarms.Contact, contact)
			for _, tr := range r.all {
				if tr.Alarm == doorOpen && tr.Told() && tr.Move != alarms.Return {
					told[tr.Due.Add(-12*time.Hour).Format(time.DateOnly)] = true
				}
			}
			r.all = r.all[:0]
			r.at = r.at.Add(10 * time.Minute)
		}
		nights := [2]int{}
		for night := range warm {
			switch {
			case !always && told[night]:
				t.Errorf("night of %s: told of a door that was shut in time", night)
			case always && frost[night] && !told[night]:
				t.Errorf("night of %s: not told in the frost", night)
			case always && warm[night] && told[night]:
				t.Errorf("night of %s: told though it stayed warm", night)
			}
			if frost[night] {
				nights[0]++
			}
			if warm[night] {
				nights[1]++
			}
		}
		if nights[0] < 20 || nights[1] < 20 {
			t.Errorf("%d nights with frost and %d warm ones are too few to try anything", nights[0], nights[1])
		}
	}
}
