package control

import (
	"math"
	"testing"
	"time"
)

// Ten starts, one of them a test by hand at 20 °C. Reckoned by hand: the median is 31.5,
// the median absolute deviation 0.5 and the standard error 1.2533 x 0.7413 /
// sqrt(10) = 0.294 K.
func TestDriftOfTheOnPoint(t *testing.T) {
	d := drift{Dial: 29}
	for _, v := range []float64{31, 31, 31.5, 31.5, 31.5, 31.5, 32, 32, 33, 20} {
		d.take(v)
	}
	p := d.point()
	if p.Median != 31.5 || math.Abs(p.Spread-0.7413) > 1e-4 || math.Abs(p.Error-0.2938) > 1e-4 || p.Count != 10 {
		t.Errorf("%+v", p)
	}
}

// Drifts of a dial at 29 °C with a tolerance of 1.5 K, from the last starts.
func TestDriftIsTold(t *testing.T) {
	for _, c := range []struct {
		name  string
		told  bool
		temps []float64
		next  float64
		begin bool
		end   bool
	}{
		{"one late start is none", false, nil, 31, false, false},
		{"two late ones at about the same are one", false, []float64{31}, 31.9, true, false},
		{"two late ones far apart are none", false, []float64{31}, 33, false, false},
		{"five early ones are too few", false, []float64{27, 27, 27, 27}, 27, false, false},
		{"six early ones are enough", false, []float64{27, 27, 27, 27, 27}, 27, true, false},
		{"within the tolerance", false, []float64{30.4, 30.4, 30.4, 30.4, 30.4}, 30.4, false, false},
		// Median 31.5, spread 1.4826 x 3.25, standard error 2.5 K: less than twice that off the dial.
		{"too wide apart", false, []float64{28, 36, 28.5, 35, 29}, 34, false, false},
		{"one test by hand among them", false, []float64{27, 27, 27, 15, 27}, 27, true, false},
		{"told, and the last two right", true, []float64{32, 32, 32, 32, 29}, 29.5, false, true},
		{"told, and nearly right", true, []float64{30.3, 30.3, 30.3, 30.3, 30.3}, 30.3, false, false},
		{"told, and right again", true, []float64{30.2, 30.2, 30.2, 30.2, 30.2}, 30.2, false, true},
	} {
		j := judge(oneFan())
		j.Feel(at(t, "12:00"), 0, c.next)
		j.Feel(at(t, "12:01"), 0, c.next)
		j.stages[0].On.Temps, j.stages[0].On.Told = c.temps, c.told
		j.drives[fan].switched(DriftedOn, c.next)
		begin, end := false, false
		for _, f := range j.told.Findings {
			begin, end = begin || f.On, end || !f.On
		}
		if begin != c.begin || end != c.end {
			t.Errorf("%s: %s", c.name, show(j.told.Findings))
		}
	}
}

// While a drift is told, the drive is called where it was found to switch.
func TestADriftIsToldOnce(t *testing.T) {
	j := judge(oneFan())
	j.stages[0].On = drift{Told: true, Dial: 29, Found: 33}
	tell(t, j, "08:00 air 20")
	tell(t, j, "08:00 drive 0 evidence 0 is 0")
	tell(t, j, "12:00 air 33.4")
	if told := tell(t, j, "13:00 look"); len(told.Findings) > 0 {
		t.Errorf("at 33.4 °C: %s", show(told.Findings))
	}
	tell(t, j, "13:00 air 33.6")
	if told := tell(t, j, "13:05 look"); len(told.Findings) != 1 {
		t.Errorf("above 34.5 °C: %s", show(told.Findings))
	}
}

// A fan that two stages drive, each with a bulb of its own, goes on being judged when
// the bulb of the one whose switch points it shows is lost.
func TestADriftNeedsItsOwnBulb(t *testing.T) {
	s := oneFan()
	more := s.Stages[0]
	more.Bulb, more.On, more.Off = 1, more.On+2, more.Off+2
	s.Stages = append(s.Stages, more)
	j := judge(s)
	now := at(t, "12:00")
	j.Evidence(now, 0, 0, 0)
	j.Feel(now, 0, 20)
	j.Feel(now, 1, 20)
	j.Feel(now, 0, math.NaN())
	now = now.Add(time.Minute)
	j.Feel(now, 1, 40)
	j.Evidence(now, 0, 0, 1)
	told := j.Evidence(now.Add(time.Minute), 0, 0, 0)
	if len(told.Switchings) != 1 || told.Switchings[0].Stage != 1 || told.Switchings[0].RanTemp != 40 {
		t.Errorf("the log has %+v", told.Switchings)
	}
	if on := &j.stages[0].On; len(on.Temps) > 0 {
		t.Errorf("a bulb that is lost switched at %v", on.Temps)
	}
}
