package engine_test

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

// sunny is the air of a house in clear days, with a fan under a thermostat.
type sunny struct {
	air, mass float64
	runs      bool
	dead      bool
}

// go20 lets 20 s pass.
func (s *sunny) go20(at time.Time) {
	hour := float64(at.Hour()) + float64(at.Minute())/60
	light, outside := max(0, math.Sin((hour-5)/14*math.Pi)), 16+4*math.Sin((hour-9)/12*math.Pi)
	s.runs = !s.dead && (s.air >= 28 || s.runs && s.air > 25.2)
	k := 3.0
	if s.runs {
		k += 12
	}
	for range 2 {
		s.air += (k*(outside-s.air) + 4*(s.mass-s.air) + 100*light) / 360
		s.mass += (0.1*(s.air-s.mass) + light) / 360
	}
}

// work lets a minute pass until at.
func (s *sunny) work(e *engine.Engine, at time.Time) {
	tell := func(at time.Time, id alarms.ProbeID, q alarms.Quantity, v float64) {
		e.Step(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: id, Quantity: q, Value: v})
	}
	for i := range 3 {
		now := at.Add(time.Duration(20*i-40) * time.Second)
		s.go20(now)
		amperes, open := 0.0, 0.0
		if s.runs {
			amperes, open = 0.33, 1
		}
		tell(now, "fan-clamp", alarms.Current, amperes)
		tell(now, "end-switch", alarms.Contact, open)
	}
	tell(at, "bench-1", alarms.Temperature, math.Round(10*s.air)/10)
	tell(at, "bench-1", alarms.Humidity, 60)
}

func handed(e *engine.Engine) *alarms.OutlookPicture {
	plan := e.Plan()
	return say.Picture(plan, e.Picture(), say.Of(plan)).Houses[0].Places[0].Outlook
}

// How long there is if the fan fails is said once it was seen running and standing, is
// what then comes, and is the same after a restart in the middle.
func TestTimeInHandIsSaid(t *testing.T) {
	p := fanned()
	p.Houses[0].Places[0].Bands = []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(35)}}}
	e, err := engine.New(p)
	if err != nil {
		t.Fatal(err)
	}
	s, begin := sunny{air: 18, mass: 18}, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	at := begin
	for day := range 4 {
		for ; at.Before(begin.AddDate(0, 0, day+1)); at = at.Add(time.Minute) {
			s.work(e, at)
		}
		saved, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		again, err := engine.Restore(p, saved)
		if err != nil {
			t.Fatal(err)
		}
		if a, b := handed(e), handed(again); !reflect.DeepEqual(a.Drives, b.Drives) || !reflect.DeepEqual(a.Figure, b.Figure) {
			t.Errorf("day %d: after a restart\n%+v %+v\nwas\n%+v %+v", day, b.Drives, b.Figure, a.Drives, a.Figure)
		}
		if d := handed(e).Drives; len(d) != 1 || d[0].Drive != "exhaust-fan" || day == 0 && (d[0].Known || !strings.Contains(d[0].Sentence, "is not known yet")) {
			t.Fatalf("day %d: %+v", day, d)
		}
		if day == 1 {
			e = again
		}
	}
	for ; at.Before(begin.AddDate(0, 0, 4).Add(12*time.Hour)) || !s.runs; at = at.Add(time.Minute) {
		s.work(e, at)
	}
	o, failed := handed(e), at
	d := o.Drives[0]
	t.Log(d.Sentence)
	for _, f := range o.Figure {
		t.Log(f.Sentence)
	}
	if len(o.Figure) < 3 || !strings.HasPrefix(d.Sentence, "If the exhaust fan fails now: ") {
		t.Errorf("%+v %+v", d, o.Figure)
	}
	for s.dead = true; s.air < 35; at = at.Add(time.Minute) {
		if at.Sub(failed) > 4*time.Hour {
			t.Fatal("it never came to 35 °C: this tests nothing")
		}
		s.work(e, at)
	}
	came := at.Sub(failed)
	t.Log(came)
	if !d.Known || d.Limit != 35 || d.Soon > d.Middle || came < d.Soon || d.Late != 0 && came > d.Late {
		t.Errorf("it came after %v; said was %+v", came, d)
	}
}

// An acknowledgement of a fan that did not start ends with the time in hand at its lower
// figure, says so, and is told again then with the reason; and the same after a restart in
// between. With two fans of which one does its work nothing is known, and nothing changes.
func TestAcknowledgedOfADeadFanEndsWithTheTimeInHand(t *testing.T) {
	p := fanned()
	p.Houses[0].Places[0].Bands = []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(35)}}}
	e, err := engine.New(p)
	if err != nil {
		t.Fatal(err)
	}
	s, at := sunny{air: 18, mass: 18}, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	for until := at.AddDate(0, 0, 4).Add(12 * time.Hour); at.Before(until) || !s.runs; at = at.Add(time.Minute) {
		s.work(e, at)
	}
	const id = "long-house/exhaust-fan/did-not-start"
	of := func(e *engine.Engine) (a alarms.AlarmPicture) {
		plan := e.Plan()
		for _, a := range say.Picture(plan, e.Picture(), say.Of(plan)).Alarms {
			if a.ID == id {
				return a
			}
		}
		return a
	}
	for s.dead = true; of(e).State != alarms.Unacknowledged; at = at.Add(time.Minute) {
		if s.air >= 34 {
			t.Fatalf("the fan is dead, and nobody says so: %+v", e.Picture().Alarms)
		}
		s.work(e, at)
	}
	taken := at.Add(-time.Minute)
	soon := handed(e).Drives[0].Soon
	told := e.Step(alarms.Input{At: taken, Kind: alarms.Acknowledge, Alarm: id, By: "Ann", Until: taken.Add(3 * time.Hour)})
	a := of(e)
	if soon <= 0 || a.State != alarms.Acknowledged || a.Until.After(taken.Add(max(soon, time.Minute))) || a.Reaches == nil || *a.Reaches != 35 {
		t.Fatalf("acknowledged at %s with %v in hand, it holds until %s: %+v", taken, soon, a.Until, a)
	}
	if len(told) != 1 || told[0].Reason.InHand == nil || !told[0].Reason.Until.Equal(a.Until) {
		t.Errorf("told %+v", told)
	}
	saved, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	again, err := engine.Restore(p, saved)
	if err != nil {
		t.Fatal(err)
	}
	two, last := s, at
	ends := a.Until
	var first []alarms.Transition
	for i, e := range []*engine.Engine{e, again} {
		s, at = two, last
		for ; of(e).State == alarms.Acknowledged; at = at.Add(time.Minute) {
			if at.After(ends.Add(time.Minute)) {
				t.Fatalf("at %s it still holds", at)
			}
			if until := of(e).Until; until.After(ends) {
				t.Fatalf("it holds until %s, which is later than %s", until, ends)
			}
			s.work(e, at)
		}
		a := of(e)
		t.Log(ends, a.Since, a.Sentence)
		if i == 0 {
			first = append(first, *a.Now)
		} else if !reflect.DeepEqual(first[0].Reason, a.Now.Reason) || !at.Equal(first[0].Noticed.Add(time.Minute)) {
			t.Errorf("after a restart %+v at %s, else %+v", a.Now.Reason, at, first[0])
		}
	}
}

// Of two fans it is said what comes if both fail, as that was seen; that one of them fails
// is bounded by nothing while the other does its work.
func TestOfTwoFansTheTimeInHandIsOfBoth(t *testing.T) {
	p := fanned()
	h := &p.Houses[0]
	h.Places[0].Bands = []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(35)}}}
	h.Places[1].Probes = append(h.Places[1].Probes, alarms.Probe{ID: "north-clamp", Every: 30 * time.Second, Streams: []alarms.Stream{{Quantity: alarms.Current}}})
	h.Drives = append(h.Drives, alarms.Drive{ID: "north-fan", Name: "north fan", Kind: alarms.ExhaustFan, Priority: alarms.High,
		Evidence: []alarms.Evidence{{Probe: "north-clamp", Quantity: alarms.Current, Above: alarms.At(0.1)}}})
	h.Controls[0].Stages[0].Drives = []alarms.DriveID{"exhaust-fan", "north-fan"}
	e, err := engine.New(p)
	if err != nil {
		t.Fatal(err)
	}
	s, at := sunny{air: 18, mass: 18}, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	tell := func(id alarms.ProbeID, q alarms.Quantity, v float64) {
		e.Step(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: id, Quantity: q, Value: v})
	}
	north := func(on bool) {
		if on {
			tell("north-clamp", alarms.Current, 0.33)
		} else {
			tell("north-clamp", alarms.Current, 0)
		}
	}
	for until := at.AddDate(0, 0, 4).Add(11 * time.Hour); at.Before(until) || !s.runs; at = at.Add(time.Minute) {
		s.work(e, at)
		north(s.runs)
	}
	all := handed(e).Drives
	if len(all) != 2 || all[0].Drive != "exhaust-fan" || !reflect.DeepEqual(all[0].With, []alarms.DriveID{"north-fan"}) || all[1].Drive != "north-fan" || !all[0].Known {
		t.Fatalf("%+v", all)
	}
	t.Log(all[1].Sentence)
	if !strings.HasPrefix(all[1].Sentence, "If the north fan and the exhaust-fan fail together now: ") || !strings.Contains(all[1].Sentence, "What comes if only one of them fails is not known.") {
		t.Errorf("%q", all[1].Sentence)
	}
	of := func(id alarms.AlarmID) (a alarms.AlarmPicture) {
		for _, a := range e.Picture().Alarms {
			if a.ID == id {
				return a
			}
		}
		return a
	}
	const one = "long-house/north-fan/stopped-early"
	for i := 0; of(one).State != alarms.Unacknowledged; i++ {
		if i > 60 {
			t.Fatalf("one fan is dead, and nobody says so: %+v", e.Picture().Alarms)
		}
		tell("bench-1", alarms.Temperature, 30+float64(i%3)/10)
		tell("fan-clamp", alarms.Current, 0.33)
		tell("end-switch", alarms.Contact, 1)
		north(false)
		at = at.Add(time.Minute)
	}
	at = at.Add(-time.Minute)
	e.Step(alarms.Input{At: at, Kind: alarms.Acknowledge, Alarm: one, By: "Ann"})
	if a := of(one); a.State != alarms.Acknowledged || a.Until.IsZero() || a.Reaches != nil {
		t.Errorf("of one of two fans it holds until %s: %+v", a.Until, a)
	}
}
