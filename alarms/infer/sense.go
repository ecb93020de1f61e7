package infer

import (
	"math"
	"time"
)

// Rise is by how many kelvin a house is usually warmer than the air outside.
type Rise struct {
	Night float64 `json:"night"` // without sun
	Sun   float64 `json:"sun"`   // that a sun in the zenith would add
}

// Options are what is known of a house before anything was heard. The zero
// Options hold for a small glass or film house in temperate summers.
type Options struct {
	Latitude    float64 `json:"latitude,omitempty"` // degrees, north positive; 0: 45
	Still       Rise    `json:"still,omitzero"`     // without the fan; zero: 1.75 and 12 K
	Driven      Rise    `json:"driven,omitzero"`    // with the fan; zero: 0 and 3 K
	FalsePerDay float64 `json:"false,omitempty"`    // see Breaks; 0: one in two days
}

// Sense is the state of an inference about one house. It is plain data: saved
// and brought back at any point it goes on as if nothing had happened. Begin
// with New.
type Sense struct {
	// Ahead is how far the wall clock is ahead of the times given to Step; the
	// height of the sun goes by the date on the wall.
	Ahead    time.Duration `json:",omitempty"`
	Options  Options       `json:"options"`
	First    time.Time     `json:"first,omitzero"` // reading
	Last     time.Time     `json:"last,omitzero"`  // reading
	Inside   float64       `json:"inside"`         // °C, the last
	Outside  float64       `json:"outside"`        // °C, the last
	Heard    time.Time     `json:"heard,omitzero"` // when Outside was heard
	Odds     float64       `json:"odds"`           // logarithm, of running
	Usual    float64       `json:"usual"`          // °C, mean of the last two weeks
	Smooth   float64       `json:"smooth"`         // °C, mean of the last minutes
	Pace     float64       `json:"pace"`           // K/h, usual slope of a day
	Noon     Noon          `json:"noon"`
	Breaks   Breaks        `json:"breaks"`
	Running  bool          `json:"running"`  // as last said by a Change
	Sharply  bool          `json:"sharply"`  // the last Change was sharp
	Interval time.Duration `json:"interval"` // usual, between readings
}

const (
	forget   = time.Hour        // with which a likelihood goes back to even: fans start and stop
	together = 15 * time.Minute // of readings that count as one independent observation
	spread   = 2.0              // K, of the rise about the usual one
	atMost   = 3.0              // bound of the log odds of one observation of the rise
	perK     = 0.2              // log odds for each K above the usual level
	perKOnly = 0.5              // the same with nothing known of outside
	levelMax = 2.0              // bound of the log odds of the level
	perPace  = 0.2              // log odds in 5 minutes of falling at the usual pace, by day
	ofBreak  = 2.0              // log odds of a break
	stale    = 45 * time.Minute // from which an outside reading no longer counts
	longest  = time.Hour        // that a reading may stand for
	level    = 14 * 24 * time.Hour
	minutes  = 8 * time.Minute // over which the slope is taken
	settled  = 48 * time.Hour
	day      = 24 * time.Hour
	surer    = 0.7 // from which a likelihood without a break makes a change
)

// New begins with nothing heard.
func New(o Options) Sense {
	if o.Latitude == 0 {
		o.Latitude = 45
	}
	if o.Still == (Rise{}) {
		o.Still = Rise{1.75, 12}
	}
	if o.Driven == (Rise{}) {
		o.Driven = Rise{0, 3}
	}
	if o.FalsePerDay == 0 {
		o.FalsePerDay = 0.5
	}
	return Sense{Options: o, Pace: 3, Breaks: newBreaks(), Interval: 5 * time.Minute}
}

// Step takes one reading of the house and a fresh one of outside, in °C. Outside
// is NaN where none came since the last Step; the last one then counts for 45
// minutes. It returns how likely the drive runs now, and a change
// if this reading showed one. A reading that is no number, or not after the
// last one, changes nothing.
func (s *Sense) Step(at time.Time, inside, outside float64) (Belief, Change) {
	if !finite(inside) || !s.Last.IsZero() && !at.After(s.Last) {
		return s.belief(s.Last), Change{}
	}
	if s.Last.IsZero() {
		s.First, s.Last = at, at
		s.Inside, s.Usual, s.Smooth = inside, inside, inside
	}
	passed := s.pass(at)
	if finite(outside) {
		s.Outside, s.Heard = outside, at
	}
	height := s.sun(at, inside, passed)
	s.learn(at, inside, height, passed)
	s.weigh(at, inside, height, passed)
	broke := s.Breaks.step(at, inside, s.outsideAt(at), s.Interval)
	rest := logistic(s.Odds) // without the break
	s.Odds = clip(s.Odds+ofBreak*float64(broke.sign), math.Log(most/(1-most)))
	s.Last, s.Inside = at, inside
	s.Breaks.judge(broke, rest, s.Options.FalsePerDay, passed)
	b := s.belief(at)
	if !b.Outside {
		return b, s.lose(at)
	}
	return b, s.change(at, broke, b.Running)
}

// Belief returns what is believed at a time, with the odds fading from the
// last reading on.
func (s *Sense) Belief(at time.Time) Belief {
	b := s.belief(at)
	if !s.Last.IsZero() && at.After(s.Last) {
		b.Running = fade(b.Running, at.Sub(s.Last))
	}
	return b
}

func (s *Sense) belief(at time.Time) Belief {
	b := Belief{
		Running: logistic(s.Odds),
		Outside: finite(s.outsideAt(at)),
		Settled: !s.First.IsZero() && at.Sub(s.First) >= settled,
	}
	if !b.Outside {
		b.Running = 0.5
	}
	return b
}

// Shift moves what was heard of the inside temperature by so many K, when its
// probe was found to have been off by so much: no step is to be seen there.
func (s *Sense) Shift(by float64) {
	s.Inside += by
	s.Usual += by
	s.Smooth += by
	for i := range s.Breaks.N {
		s.Breaks.In[i] += by
	}
}

// lose forgets what was told of a drive of which nothing can be told any more.
func (s *Sense) lose(at time.Time) Change {
	if !s.Running {
		return Change{}
	}
	s.Running, s.Sharply = false, false
	return Change{Kind: Lost, At: at, Noticed: at}
}

// pass returns for how long the new reading stands, and learns the interval.
func (s *Sense) pass(at time.Time) time.Duration {
	passed := at.Sub(s.Last)
	if passed <= 0 {
		return s.Interval
	}
	if passed > longest {
		s.Breaks.clear()
	}
	passed = min(passed, longest)
	s.Interval += time.Duration(clip(float64(passed-s.Interval), float64(s.Interval)) / 20)
	return passed
}

// outsideAt is the outside temperature, NaN where the last is too old.
func (s *Sense) outsideAt(at time.Time) float64 {
	if s.Heard.IsZero() || at.Sub(s.Heard) > stale {
		return math.NaN()
	}
	return s.Outside
}

// sun learns from one reading and returns the sine of the sun's height, never
// below 0.
func (s *Sense) sun(at time.Time, inside float64, passed time.Duration) float64 {
	v, late := inside, insideLate
	if out := s.outsideAt(at); finite(out) {
		v, late = out, outsideLate
	}
	s.Noon.learn(at, v, passed)
	return height(s.Options.Latitude, at.Add(s.Ahead), hourOf(at)-s.Noon.hour(at, late))
}

// learn takes the level and the pace of the house.
func (s *Sense) learn(at time.Time, inside, height float64, passed time.Duration) {
	known := min(level, at.Sub(s.First)+day) // a mean of all that was heard, until it is two weeks
	s.Usual += (inside - s.Usual) * float64(passed) / float64(known)
	was := s.Smooth
	s.Smooth += (inside - s.Smooth) * lapse(passed, minutes)
	if height > 0.1 {
		pace := math.Abs(s.Smooth-was) / passed.Hours()
		s.Pace += (pace - s.Pace) * float64(passed) / float64(settled)
	}
	s.slope(s.Smooth-was, height, passed)
}

// slope counts falling by day for the fan, and rising against it.
func (s *Sense) slope(by, height float64, passed time.Duration) {
	steep := clip(by/passed.Hours()/math.Max(s.Pace, 1), 2)
	s.Odds -= perPace * steep * math.Min(1, height/0.2) * passed.Minutes() / 5
}

// weigh adds what the rise and the level say.
func (s *Sense) weigh(at time.Time, inside, height float64, passed time.Duration) {
	p := fade(logistic(s.Odds), passed)
	outside := s.outsideAt(at)
	k, say := perKOnly, 0.0
	if finite(outside) {
		o := s.Options
		still, driven := o.Still.Night+o.Still.Sun*height, o.Driven.Night+o.Driven.Sun*height
		k, say = perK, clip((still-driven)*((still+driven)/2-(inside-outside))/(spread*spread), atMost)
	}
	say += clip(k*(inside-s.Usual), levelMax)
	s.Odds = math.Log(p/(1-p)) + say*lapse(passed, together)
}

// change reports what a reading showed. A break on the likely side is a change
// at the time of the break. It also corrects the time of a change of the same
// kind that was seen without a break.
func (s *Sense) change(at time.Time, broke broken, after float64) Change {
	kind := NoChange
	sharp := broke.sign > 0 && after >= 0.5 || broke.sign < 0 && after < 0.5
	switch {
	case sharp && broke.sign > 0 && !(s.Running && s.Sharply):
		kind = Start
	case sharp && broke.sign < 0 && (s.Running || !s.Sharply):
		kind = Stop
	case after >= surer && !s.Running:
		kind, sharp = Start, false
	case after <= 1-surer && s.Running:
		kind, sharp = Stop, false
	}
	if kind == NoChange {
		return Change{}
	}
	c := Change{Kind: kind, At: at, Noticed: at, Sharp: sharp}
	if sharp {
		c.At = broke.at
	}
	s.Running, s.Sharply = kind == Start, sharp
	return c
}
