package control

import (
	"math"
	"strings"
	"testing"
	"time"
)

func at(t *testing.T, s string) Moment { return clock(t, s) }

// Two runs of 30 and 40 minutes, one over midnight.
func TestProof(t *testing.T) {
	j := judge(t, oneFan())
	for line := range strings.Lines(`00:00 day
08:00 air 20
08:00 drive 0 evidence 0 is 0
14:00 air 29.4
14:01 drive 0 evidence 0 is 1
14:20 look
14:31 air 26
14:31 drive 0 evidence 0 is 0
18:00 air 20
23:29 air 30
23:30 drive 0 evidence 0 is 1
1+00:00 day
1+00:10 air 26
1+00:10 drive 0 evidence 0 is 0
1+01:00 air 20
`) {
		tell(t, j, line)
	}
	p := j.Proof(0)
	want := Tally{Starts: 2, Ran: time.Hour, Right: 1, First: at(t, "14:01"), FirstTemp: 29.4}
	if p.Yesterday != want {
		t.Errorf("yesterday %+v, want %+v", p.Yesterday, want)
	}
	want = Tally{Ran: 10 * time.Minute, Right: 1, First: at(t, "23:30"), FirstTemp: 30}
	if p.Today != want {
		t.Errorf("today %+v, want %+v", p.Today, want)
	}
	if p.Total.Ran != 70*time.Minute || p.Total.Starts != 2 || p.Total.Right != 2 || p.Last != at(t, "1+00:10") || p.State != Standing || p.Call != NotCalled {
		t.Errorf("%+v", p)
	}
	tell(t, j, "2+00:00 look")
	if _, is := j.Unproven(0, 24*time.Hour); is {
		t.Error("it proved itself 23 h 50 min ago")
	}
	tell(t, j, "2+00:10 look")
	if since, is := j.Unproven(0, 24*time.Hour); !is || since != at(t, "1+00:10") {
		t.Errorf("unproven since %v, %v", since.Time(), is)
	}
	tell(t, j, "2+00:20 test 0 until 2+00:30")
	tell(t, j, "2+00:21 drive 0 evidence 0 is 1")
	if line, runs := j.OpenRun(0); !runs || line.Ran != at(t, "2+00:21") || line.By != ByTest || line.Stopped != 0 {
		t.Errorf("the run that goes on: %+v, %v", line, runs)
	}
	tell(t, j, "2+00:22 drive 0 evidence 0 is 0")
	if _, runs := j.OpenRun(0); runs {
		t.Error("it stands")
	}
	if since, is := j.Unproven(0, 24*time.Hour); is {
		t.Errorf("it was tested by hand a moment ago, not proven since %v", since.Time())
	}
	tell(t, j, "9+00:22 wants barred")
	if _, is := j.Unproven(0, 24*time.Hour); is {
		t.Error("nothing is wanted of a barred drive")
	}
}

// A loop fan that runs all winter proves itself by running.
func TestARunningFanIsProof(t *testing.T) {
	j := judge(t, loop())
	tell(t, j, "00:00 wants run")
	tell(t, j, "00:00 drive 0 evidence 0 is 1")
	tell(t, j, "9+00:00 look")
	if _, is := j.Unproven(0, time.Hour); is || j.Proof(0).Total.Ran != 9*24*time.Hour {
		t.Errorf("%+v", j.Proof(0))
	}
}

func TestSigns(t *testing.T) {
	s := measured()
	s.Drives[0].With = []int{1}
	s.Drives = append(s.Drives, DriveSpec{Kind: IntakeShutter, Evidence: []EvidenceSpec{{What: EndSwitch}}})
	j := judge(t, s)
	for line := range strings.Lines(`08:00 air 31
08:00 outside 3
08:00 drive 0 evidence 0 is 0
08:00 drive 0 evidence 1 is 0
08:00 drive 1 evidence 0 is 0
`) {
		tell(t, j, line)
	}
	if got, want := j.Signs(0), DrawsNothing|ContactOpen|CompanionStill|Frost|NeedsAir|NeedsWarmth; got != want {
		t.Errorf("signs %b, want %b", got, want)
	}
	if got, want := j.Signs(1), DriverStill|Frost|NeedsAir|NeedsWarmth; got != want {
		t.Errorf("signs of the shutter %b, want %b", got, want)
	}
	tell(t, j, "09:00 drive 0 evidence 0 is 1")
	tell(t, j, "09:01 drive 0 evidence 1 is 5")
	if got, want := j.Signs(0), ContactMade|DrawsTooMuch|DrawsFar|CompanionStill|Frost|NeedsAir|NeedsWarmth; got != want {
		t.Errorf("signs %b, want %b", got, want)
	}
}

// Learned in half an hour of running, by median: one wild reading does not
// count. Relearn forgets it.
func TestLearnsWhatADriveDraws(t *testing.T) {
	s := loop()
	s.Drives[0].Evidence = []EvidenceSpec{{What: Power}}
	j := judge(t, s)
	now := at(t, "00:00")
	j.Evidence(now, 0, 0, 0)
	j.Arrange(now, Arrangement{Wants: []Want{{Wish: Run}}})
	for i := range 60 {
		now += Moment(30 * time.Second)
		w := 50 + float64(i%3) - 1
		if i == 7 {
			w = 400
		}
		if told := j.Evidence(now, 0, 0, w); len(told.Findings) > 0 {
			t.Fatalf("while learning: %s", show(told.Findings))
		}
	}
	if got := j.Proof(0).Usual; got != 50 {
		t.Errorf("learned %v W, want 50", got)
	}
	j.Evidence(now+Moment(time.Minute), 0, 0, 34)
	told := j.Evidence(now+Moment(2*time.Minute), 0, 0, 34)
	if len(told.Findings) != 1 || told.Findings[0].Kind != DrawsLess || told.Findings[0].Limit != 35 || told.Findings[0].Value != 34 {
		t.Errorf("a third less: %s", show(told.Findings))
	}
	told = j.Relearn(now+Moment(3*time.Minute), 0)
	if len(told.Findings) != 1 || told.Findings[0].On || j.Proof(0).Usual != 0 {
		t.Errorf("a new motor: %s", show(told.Findings))
	}
}

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
		j := judge(t, oneFan())
		j.Temperature(at(t, "12:00"), c.next)
		j.Temperature(at(t, "12:01"), c.next)
		j.state.Stages[0].On.Temps, j.state.Stages[0].On.Told = c.temps, c.told
		j.drifted(fan, 0, DriftedOn, c.next)
		begin, end := false, false
		for _, f := range j.findings {
			begin, end = begin || f.On, end || !f.On
		}
		if begin != c.begin || end != c.end {
			t.Errorf("%s: %s", c.name, show(j.findings))
		}
	}
}

// While a drift is told, the drive is called where it was found to switch.
func TestADriftIsToldOnce(t *testing.T) {
	j := judge(t, oneFan())
	j.state.Stages[0].On = drift{Told: true, Dial: 29, Found: 33}
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

func TestSpecCheck(t *testing.T) {
	bad := Spec{
		Stages: []StageSpec{{Mode: Cooling, On: 26, Off: 29, Drives: []int{3}}, {Mode: Heating, On: 10, Off: 8, Tolerance: -1}},
		Drives: []DriveSpec{{With: []int{-1}, Start: -1}},
	}
	_, err := NewJudge(bad)
	if err == nil {
		t.Fatal("took an impossible dial")
	}
	for _, want := range []string{"stage 0 names drive 3 of 1", "on at 26 must be above off at 29", "on at 10 must be below off at 8",
		"tolerance -1 K", "drive 0 names drive -1 of 1", "start -1ns"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in\n%v", want, err)
		}
	}
}

// Evidence that is inverted, with its deadband.
func TestInvertedEvidence(t *testing.T) {
	for _, c := range []struct {
		spec   EvidenceSpec
		values []float64
		runs   []bool
	}{
		{EvidenceSpec{What: Contact, Above: 0.5, Inverted: true}, []float64{1, 0, 1}, []bool{false, true, false}},
		{EvidenceSpec{What: Power, Above: 100, Inverted: true}, []float64{120, 100, 99, 105, 111, 105}, []bool{false, false, true, true, false, false}},
		{EvidenceSpec{What: Duct, Above: 30}, []float64{29.9, 30, 29.6, 29.4, 29.9}, []bool{false, true, true, false, false}},
	} {
		var e said
		for i, v := range c.values {
			if e.take(1, &c.spec, v); e.Runs != c.runs[i] {
				t.Errorf("%+v: reading %d, %v: runs %v", c.spec, i, v, e.Runs)
			}
		}
	}
}
