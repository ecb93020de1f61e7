package dayahead_test

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"telltale/alarms/dayahead"
	"telltale/alarms/sun"
)

var begin = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

const (
	latitude  = 52
	longitude = -2
)

type reading struct {
	at time.Time
	v  float64
}

// summer is an invented house: days of unlike sun, which comes after others of its
// kind, and nights that are the colder the clearer they are.
func summer(days int, every time.Duration, seed uint64) (out []reading) {
	r := rand.New(rand.NewPCG(seed, 1))
	clear, t := 0.5, 18.0
	for at := begin; at.Before(begin.Add(time.Duration(days) * 24 * time.Hour)); at = at.Add(every) {
		h := at.Sub(at.Truncate(24 * time.Hour)).Hours()
		if h == 0 {
			clear = min(max(0.6*clear+0.4*r.Float64()+0.1*r.NormFloat64(), 0), 1)
		}
		height := max(0, math.Sin(sun.At(latitude, longitude, at).Elevation*math.Pi/180))
		aim := 14 - 5*clear + 26*height*(0.3+0.7*clear)
		t += (aim - t) * (1 - math.Exp(-every.Minutes()/60))
		out = append(out, reading{at, t + 0.05*r.NormFloat64()})
	}
	return out
}

func course() *dayahead.Course { return dayahead.New(latitude, longitude, time.UTC) }

// feed gives a Course readings by a core that is behind the wall clock.
func feed(c *dayahead.Course, all []reading, behind time.Duration) (said []dayahead.Ahead) {
	for _, r := range all {
		at := r.at.Add(-behind)
		c.Reading(at, behind, r.v)
		said = append(said, c.Look(at))
	}
	return said
}

// What is said at a moment is the same whatever comes after, and the same after it
// was saved and brought back at any point, with a silence and a step of the clock in it.
func TestOnlyThePastCounts(t *testing.T) {
	all := summer(14, 10*time.Minute, 1)
	all = append(all[:700], all[760:]...)
	step := func(c *dayahead.Course, i int) dayahead.Ahead {
		ahead := time.Duration(0)
		if i > 1200 {
			ahead = 90 * time.Minute
		}
		c.Reading(all[i].at, ahead, all[i].v)
		return c.Look(all[i].at)
	}
	var whole []dayahead.Ahead
	c := course()
	for i := range all {
		whole = append(whole, step(c, i))
	}
	r := rand.New(rand.NewPCG(2, 2))
	for _, cut := range []int{0, 1, 699, 700, 1200, 1201, r.IntN(len(all)), r.IntN(len(all)), r.IntN(len(all))} {
		c := course()
		for i := range all {
			if i == cut {
				saved := c.Save()
				if c = course(); len(saved) > 640 || c.Load(saved) != nil {
					t.Fatalf("saved in %d bytes, want 640 at most", len(saved))
				}
			}
			if got := step(c, i); got != whole[i] {
				t.Fatalf("brought back at %d, it says otherwise at %d: %+v, was %+v", cut, i, got, whole[i])
			}
		}
	}
}

func TestWhatCannotBeReadChangesNothing(t *testing.T) {
	c := course()
	feed(c, summer(6, 10*time.Minute, 1), 0)
	data := c.Save()
	other, longer, nan := append([]byte{9}, data[1:]...), append(data[:len(data):len(data)], 0), append([]byte(nil), data...)
	for i := range 4 {
		nan[len(nan)-1-i] = 0xff
	}
	for name, bad := range map[string][]byte{"empty": {}, "cut": data[:len(data)-1], "another form": other, "more": longer, "no number": nan} {
		if err := c.Load(bad); err == nil {
			t.Errorf("%s: it was taken", name)
		}
		if !bytes.Equal(c.Save(), data) {
			t.Errorf("%s: it has changed the course", name)
		}
	}
}

func TestSmallAndWithoutAllocation(t *testing.T) {
	if size := reflect.TypeFor[dayahead.Course]().Size(); size > 800 {
		t.Errorf("a course takes %d bytes, want 800 at most", size)
	}
	c, all := course(), summer(8, time.Minute, 1)
	n := 5 * 1440
	feed(c, all[:n], 0)
	if got := testing.AllocsPerRun(2*1440, func() { // over sunrise and sunset
		c.Reading(all[n].at, 0, all[n].v)
		if a := c.Look(all[n].at); a.Lacks != dayahead.Nothing {
			t.Error(a.Lacks)
		}
		n++
	}); got != 0 {
		t.Errorf("%v allocations a reading", got)
	}
}

// Nothing is said before three days were seen, while the place is not heard, and
// after silences until two of three days are known again at these hours.
func TestSaysWhatItLacks(t *testing.T) {
	c := course()
	if got := c.Look(begin); got.Lacks != dayahead.Now {
		t.Errorf("before anything was heard it lacks %v", got.Lacks)
	}
	const hour = time.Hour
	want := []struct {
		from, to time.Duration
		lacks    dayahead.Lack
	}{{0, 71 * hour, dayahead.Days}, {78 * hour, 240 * hour, dayahead.Nothing},
		{290*hour + 10*time.Minute, 313 * hour, dayahead.Past}, {340 * hour, 360 * hour, dayahead.Nothing}}
	for _, r := range summer(15, 5*time.Minute, 3) {
		gone := r.at.Sub(begin)
		if gone > 240*hour && gone < 290*hour { // two days and two hours of silence
			if got := c.Look(r.at); gone > 242*hour && got.Lacks != dayahead.Now {
				t.Fatalf("%v in: it lacks %v, want to be heard", gone, got.Lacks)
			}
			continue
		}
		c.Reading(r.at, 0, r.v)
		for _, w := range want {
			if got := c.Look(r.at); gone >= w.from && gone < w.to && got.Lacks != w.lacks {
				t.Fatalf("%v in: it lacks %v, want %v", gone, got.Lacks, w.lacks)
			}
		}
	}
	before := c.Save()
	last := begin.Add(15 * 24 * time.Hour)
	c.Reading(begin, 0, 50)
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		c.Reading(last, 0, v)
	}
	if !bytes.Equal(c.Save(), before) {
		t.Error("an old reading, or no number, has changed what is known")
	}
}

// skill is how well it was said what comes.
type skill struct{ off, yesterday, inside, n float64 }

// skillOf holds what was said from 08:00 to 10:00 and from 21:00 to 23:00 against
// what came, by a core that was behind the wall clock.
func skillOf(all []reading, said []dayahead.Ahead, from, behind time.Duration) (s skill) {
	for i, a := range said {
		h := all[i].at.Hour()
		if a.Lacks != dayahead.Nothing || all[i].at.Sub(begin) < from || h != 8 && h != 9 && h != 21 && h != 22 || a.Night != (h > 12) {
			continue
		}
		came, until := all[i].v, a.Until.Add(behind)
		if until.After(all[len(all)-1].at) {
			break
		}
		for _, r := range all[i:] {
			if !r.at.Before(until) {
				break
			}
			if a.Night {
				came = min(came, r.v)
			} else {
				came = max(came, r.v)
			}
		}
		s.n++
		s.off += math.Abs(a.Value - came)
		s.yesterday += math.Abs(a.Rules[dayahead.Yesterday] - came)
		if came >= a.From && came <= a.To {
			s.inside++
		}
	}
	return skill{s.off / s.n, s.yesterday / s.n, s.inside / s.n, s.n}
}

// Over 150 days it is nearer than "as yesterday", and eight of ten lie in the
// interval, with readings every 5 to 30 minutes.
func TestNearerThanYesterdayAndHonest(t *testing.T) {
	for _, every := range []time.Duration{5 * time.Minute, 10 * time.Minute, 30 * time.Minute} {
		all := summer(150, every, 5)
		got := skillOf(all, feed(course(), all, 0), 0, 0)
		t.Logf("%v: %+v", every, got)
		if got.n < 150*2*2*float64(30*time.Minute/every)*0.9 {
			t.Errorf("every %v: it said something at %v moments", every, got.n)
		}
		if got.off > 0.9*got.yesterday || math.Abs(got.inside-0.8) > 0.07 {
			t.Errorf("every %v: mean error %.2f K, as yesterday %.2f K, %.0f %% in the interval of 80 %%", every, got.off, got.yesterday, 100*got.inside)
		}
	}
}

// A core that is years behind the wall clock says the same; a wall clock that was
// wrong and is put right leaves what is said a week later, when the weights still
// remember other hours, nearly as good as if it had always been right.
func TestTheWallClockMayStep(t *testing.T) {
	all := summer(60, 10*time.Minute, 6)
	right := feed(course(), all, 0)
	const decades = 56 * 365 * 24 * time.Hour
	for i, a := range feed(course(), all, decades) {
		if a.Value != right[i].Value || a.Lacks != right[i].Lacks || !a.Until.Add(decades).Equal(right[i].Until) {
			t.Fatalf("at %v: %+v, by a core at the wall clock's time %+v", all[i].at, a, right[i])
		}
	}
	const put = 20 * 24 * time.Hour
	want := skillOf(all, right, put+7*24*time.Hour, 0)
	for _, wrong := range []time.Duration{time.Hour, -9 * time.Hour, 100 * 24 * time.Hour, -decades, 70 * 365 * 24 * time.Hour} {
		c, said := course(), []dayahead.Ahead(nil)
		for i, r := range all {
			ahead := time.Duration(0)
			if r.at.Sub(begin) < put {
				ahead = wrong
			}
			c.Reading(r.at, ahead, r.v)
			a := c.Look(r.at)
			said = append(said, a)
			if r.at.Sub(begin) >= put && (a.Until != right[i].Until || a.Night != right[i].Night) {
				t.Fatalf("wrong by %v until then: at %v a night (%v) until %v, want %v, %v", wrong, r.at, a.Night, a.Until, right[i].Night, right[i].Until)
			}
		}
		if got := skillOf(all, said, put+7*24*time.Hour, 0); got.n != want.n || got.off > 1.3*want.off {
			t.Errorf("wrong by %v until then: a week later %+v, want about %+v", wrong, got, want)
		}
	}
}

// Days and nights are the sun's; where it does not rise or set every day, or nobody
// knows where the place is, those of the clocks of the zone, from seven to seven.
func TestDaysAndNights(t *testing.T) {
	zone := time.FixedZone("there", -5*3600)
	clock := func(at time.Time) (bool, time.Time) {
		here := at.In(zone)
		date := time.Date(here.Year(), here.Month(), here.Day(), 0, 0, 0, 0, zone)
		for _, h := range []int{7, 19, 31} {
			if until := date.Add(time.Duration(h) * time.Hour); until.After(at) {
				return h != 19, until
			}
		}
		panic("no such hour")
	}
	bySun := func(at time.Time) (bool, time.Time) {
		until, _ := sun.NextChange(latitude, longitude, at)
		return !sun.IsDay(latitude, longitude, at), until
	}
	for _, p := range []struct {
		latitude, longitude float64
		want                func(time.Time) (bool, time.Time)
	}{{latitude, longitude, bySun}, {0, 0, clock}, {85, 20, clock}, {-85, 20, clock}, {65.5, 20, clock}} {
		c := dayahead.New(p.latitude, p.longitude, zone)
		for _, r := range summer(8, 10*time.Minute, 7) {
			c.Reading(r.at, 0, r.v)
			a := c.Look(r.at)
			if night, until := p.want(r.at); a.Night != night || !a.Until.Equal(until) {
				t.Fatalf("at %v° north, %v: a night (%v) until %v, want %v, %v", p.latitude, r.at, a.Night, a.Until, night, until)
			}
			if a.Lacks == dayahead.Nothing && !(a.From <= a.Value && a.Value <= a.To && !a.At.Before(r.at) && !a.At.After(a.Until)) {
				t.Fatalf("at %v it says %+v", r.at, a)
			}
		}
		if a := c.Look(begin.Add(8*24*time.Hour - 10*time.Minute)); a.Lacks != dayahead.Nothing {
			t.Errorf("at %v° north it lacks %v", p.latitude, a.Lacks)
		}
	}
}

// Half come beyond the middle, one in ten beyond each end of the interval, and the
// likelihood falls the farther away the limit is, by day and by night.
func TestReach(t *testing.T) {
	for _, a := range []dayahead.Ahead{{Value: 30, From: 28, To: 34}, {Night: true, Value: 30, From: 28, To: 34}, {Value: 30, From: 30, To: 30}} {
		before := 2.0
		for limit := 20.0; limit <= 40; limit += 0.25 {
			p := a.Reach(limit)
			if a.Night {
				p = 1 - p // of going lower
			}
			if p > before || p < 0 || p > 1 {
				t.Fatalf("%+v: %v is reached with %v, a nearer one with %v", a, limit, p, before)
			}
			before = p
			for _, w := range []struct{ at, p float64 }{{a.From, 0.9}, {a.To, 0.1}, {a.Value, 0.5}} {
				if limit == w.at && a.To > a.From && math.Abs(p-w.p) > 0.001 {
					t.Errorf("%+v: beyond %v come %.3f, want %v", a, limit, p, w.p)
				}
			}
		}
	}
}

func BenchmarkReadingAndLook(b *testing.B) {
	for name, north := range map[string]float64{"with a sun": latitude, "at the pole": 89} {
		b.Run(name, func(b *testing.B) {
			c, at := dayahead.New(north, longitude, time.UTC), begin
			b.ReportAllocs()
			for b.Loop() {
				at = at.Add(time.Minute)
				c.Reading(at, 0, 20+5*math.Sin(float64(at.Unix())/13750))
				c.Look(at)
			}
		})
	}
}
