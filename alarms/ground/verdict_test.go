package ground

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// house is the temperature of an unheated house over a spring day.
func house(at time.Time) float64 {
	return 12 - 8*math.Cos(2*math.Pi*(at.Sub(at.Truncate(24*time.Hour)).Hours()-3)/24)
}

var spring = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

func TestOutletThatFollowsTheHouse(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for name, c := range map[string]struct {
		share float64
		want  Flow
	}{"good pipe": {0.3, Moving}, "poor pipe": {0.6, Moving}, "no flow": {0.97, NotMoving}} {
		var f Follow
		for at := spring; at.Before(spring.Add(48 * time.Hour)); at = at.Add(5 * time.Minute) {
			h := house(at)
			f.Step(at, 7+c.share*(h-7)+0.3*random.NormFloat64(), h+0.2*random.NormFloat64(), 7, true)
			if f.Verdict == Moving && c.want == NotMoving || f.Verdict == NotMoving && c.want == Moving {
				t.Fatalf("%s: %v after %v", name, f.Verdict, at.Sub(spring))
			}
		}
		if share, ok := f.Share(); f.Verdict != c.want || ok && math.Abs(share-c.share) > 0.1 {
			t.Errorf("%s: %v, share %v, want %v", name, f.Verdict, share, c.want)
		}
	}
}

func TestFlowStopsAndComesBack(t *testing.T) {
	var f Follow
	var seen []Flow
	for at := spring; at.Before(spring.Add(72 * time.Hour)); at = at.Add(time.Minute) {
		share := 0.35
		if d := at.Sub(spring); d > 24*time.Hour && d < 40*time.Hour {
			share = 1
		}
		h := house(at)
		v := f.Step(at, 5+share*(h-5), h, 5, true)
		if v != Unsure && (len(seen) == 0 || seen[len(seen)-1] != v) {
			seen = append(seen, v)
		}
	}
	if len(seen) != 3 || seen[0] != Moving || seen[1] != NotMoving || seen[2] != Moving {
		t.Errorf("got %v, want moving, not moving, moving", seen)
	}
}

// A loop fan that runs for half an hour at a time is judged too, and nothing is
// said of it while it stands.
func TestFanThatRunsByTurns(t *testing.T) {
	var f Follow
	judged := 0
	for at := spring; at.Before(spring.Add(24 * time.Hour)); at = at.Add(5 * time.Minute) {
		h, turn := house(at), at.Sub(spring)%time.Hour
		v := f.Step(at, 6+0.4*(h-6), h, 6, turn < 40*time.Minute)
		if v == NotMoving || v != Unsure && turn >= 40*time.Minute {
			t.Fatalf("%v: %v", at, v)
		}
		if v == Moving {
			judged++
		}
	}
	if judged < 30 {
		t.Errorf("judged %d times in a day", judged)
	}
}

func TestFollowSaysNothingWithoutCause(t *testing.T) {
	var alike, off Follow
	for at := spring; at.Before(spring.Add(24 * time.Hour)); at = at.Add(5 * time.Minute) {
		alike.Step(at, 9, 9.5, 8, true)
		off.Step(at, house(at), house(at), 7, false)
	}
	if alike.Verdict != Unsure || off.Verdict != Unsure {
		t.Errorf("house near the ground: %v; fan not running: %v; want unsure of both", alike.Verdict, off.Verdict)
	}
	before := alike
	alike.Step(spring, 30, 30, 7, true)
	alike.Step(alike.Last.Add(time.Minute), math.NaN(), 30, 7, true)
	if alike != before {
		t.Error("late readings and no numbers must change nothing")
	}
}

// A snapshot between any two readings changes nothing.
func TestStatesSurviveARestart(t *testing.T) {
	var f, g Follow
	var w, v Water
	var d, e Decline
	var k, l Energy
	again := func(from, to any) {
		b, err := json.Marshal(from)
		if err == nil {
			err = json.Unmarshal(b, to)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for at := spring; at.Before(spring.AddDate(0, 0, 60)); at = at.Add(time.Hour / 2) {
		h := house(at)
		f.Step(at, h-0.4, h, 7, true)
		g.Step(at, h-0.4, h, 7, true)
		w.Step(at, Air{8, 100}, Air{h, 40}, 0)
		v.Step(at, Air{8, 100}, Air{h, 40}, 0)
		d.Step(at, 8-at.Sub(spring).Hours()/400, 8)
		e.Step(at, 8-at.Sub(spring).Hours()/400, 8)
		k.Step(at, 500-h, 0, 40, true)
		l.Step(at, 500-h, 0, 40, true)
		f2, w2, d2, k2 := f, w, d, k
		f, w, d, k = Follow{}, Water{}, Decline{}, Energy{}
		again(f2, &f)
		again(w2, &w)
		again(d2, &d)
		again(k2, &k)
	}
	if f != g || w != v || d != e || k != l {
		t.Error("a state brought back from its snapshot goes another way")
	}
	if f.Verdict != NotMoving || w.Verdict != Standing {
		t.Errorf("verdicts %v and %v: the test shows too little", f.Verdict, w.Verdict)
	}
}

func TestWaterInThePipe(t *testing.T) {
	for name, c := range map[string]struct {
		outlet, house Air
		hours         int
		want          Wetness
	}{
		"a wet spell is no water":         {Air{8, 100}, Air{5, 80}, 6, Drained},
		"dry house air comes out wet":     {Air{8, 100}, Air{15, 35}, 20, Standing},
		"cold house air comes out wet":    {Air{8, 100}, Air{-5, 90}, 20, Standing},
		"moist summer air must condense":  {Air{13, 100}, Air{28, 75}, 20, Condenses},
		"house humidity not known":        {Air{8, 99.5}, Dry(5), 20, Wet},
		"damp, but not saturated for all": {Air{8, 95}, Air{5, 80}, 40, Drained},
	} {
		var w Water
		for m := 0; m <= c.hours*60; m += 10 {
			w.Step(spring.Add(time.Duration(m)*time.Minute), c.outlet, c.house, 0)
		}
		if w.Verdict != c.want {
			t.Errorf("%s: got %v, want %v", name, w.Verdict, c.want)
		}
	}
}

func TestWaterDrains(t *testing.T) {
	var w Water
	at := spring
	step := func(d time.Duration, rh float64) {
		for end := at.Add(d); at.Before(end); at = at.Add(10 * time.Minute) {
			w.Step(at, Air{8, rh}, Air{15, 35}, 0)
		}
	}
	step(20*time.Hour, 100)
	step(40*time.Minute, 80)
	if w.Verdict != Standing {
		t.Errorf("a short dry spell: %v", w.Verdict)
	}
	step(20*time.Minute, 100)
	step(90*time.Minute, 80)
	if w.Verdict != Drained {
		t.Errorf("after an hour and a half: %v", w.Verdict)
	}
	step(13*time.Hour, 100)
	at = at.Add(3 * time.Hour) // nothing heard
	step(time.Hour, 100)
	if w.Verdict != Drained {
		t.Errorf("after a gap it must begin anew: %v", w.Verdict)
	}
}

// outlets runs a season of outlets with noise that is alike from day to day.
func outlets(seed uint64, perDay float64, days int) Decline {
	random := rand.New(rand.NewPCG(seed, 7))
	var d Decline
	slow := 0.0
	for day := range days {
		slow = 0.6*slow + 0.3*random.NormFloat64()
		for hour := 0; hour < 24; hour += 2 {
			at := spring.AddDate(0, 0, day).Add(time.Duration(hour) * time.Hour)
			expected := Soil{10, 8, 35, 0.05}.At(2.3, Day(at))
			d.Step(at, expected+0.4+perDay*float64(day)+slow+0.3*random.NormFloat64(), expected)
		}
	}
	return d
}

func TestSlowDecline(t *testing.T) {
	found, wrong, covered := 0, 0, 0
	const runs = 300
	for seed := range uint64(runs) {
		d := outlets(seed, -0.06, 60)
		if trend, ok := d.Trend(); ok && trend.Drifted && trend.PerDay < 0 {
			found++
		}
		d = outlets(seed+runs, 0, 60)
		trend, ok := d.Trend()
		if !ok || trend.Days != declineDays {
			t.Fatalf("sixty days must be enough: %+v", trend)
		}
		if trend.Drifted {
			wrong++
		}
		if math.Abs(trend.PerDay) < 1.96*trend.Error {
			covered++
		}
	}
	t.Logf("of %d: decline of 2.5 K in 42 days found %d times, made up %d times, truth within two standard errors %d times", runs, found, wrong, covered)
	if found < runs*95/100 || wrong > runs/50 || covered < runs*88/100 {
		t.Errorf("found %d, made up %d, covered %d of %d", found, wrong, covered, runs)
	}
}

func TestDeclineNeedsDays(t *testing.T) {
	d := outlets(1, -0.2, 15)
	if _, ok := d.Trend(); ok {
		t.Error("two weeks are too few")
	}
	d = outlets(1, -0.2, 40)
	full := d
	d.Step(spring, 90, 8)
	if d != full {
		t.Error("a reading of a day long over must change nothing")
	}
	d.Step(spring.AddDate(1, 0, 0), 8, 8)
	if trend, ok := d.Trend(); ok || trend.Days != 0 {
		t.Errorf("after a year of silence: %+v", trend)
	}
}
