package control

import (
	"time"

	"telltale/alarms/timing"
)

// What a Judge is asked, up to its last event. Asking changes nothing.

// Next returns when the next grace ends, if one runs.
func (j *Judge) Next() (timing.Instant, bool) { return j.next, j.next != 0 }

// Bulb is the bulb of a stage, for -1 that by which a drive is judged where no
// stage is meant: the first one of its stages that feels a temperature.
func (j *Judge) Bulb(drive, stage int) int {
	q := &j.drives[drive].asked
	if s := q.at(stage); s != nil {
		return s.spec.Bulb
	}
	return q.bulb
}

// ReadAt returns when the last reading of a bulb came, 0 for never.
func (j *Judge) ReadAt(bulb int) timing.Instant { return j.around.bulbs[bulb].last() }

// Holding returns every verdict that has begun and not ended, in the order of
// drives and kinds, drifts last.
func (j *Judge) Holding() (on []Finding) {
	for _, d := range j.drives {
		for k := range d.Gates {
			if d.Gates[k].On {
				on = append(on, d.finding(FindingKind(k), true))
			}
		}
	}
	for _, s := range j.stages {
		for _, k := range [...]FindingKind{DriftedOn, DriftedOff} {
			if s.point(k).Told {
				on = append(on, s.drifted(k, true))
			}
		}
	}
	return on
}

// Needs returns what the house needs now, as far as the dials tell: NeedsAir,
// NeedsWarmth.
func (j *Judge) Needs() (s Sign) {
	for _, st := range j.stages {
		s |= st.needs(0)
	}
	if j.around.cold == Called {
		s |= NeedsWarmth
	}
	return s
}

// Signs returns what a Judge knows about a drive now.
func (j *Judge) Signs(drive int) Sign {
	s := j.drives[drive].signs() | j.Needs()
	if j.around.cold == Called {
		s |= Frost
	}
	return s
}

// Proof is what speaks for a drive.
type Proof struct {
	State            Shown
	Call             Call
	Wish             Wish
	Since            timing.Instant // it runs since, if it does
	Today, Yesterday Tally
	Total            Tally
	Last             timing.Instant // it last did what it should; 0: never seen to
	LastByHand       timing.Instant // last test by hand; 0: never
	Usual            float64        // A or W, as learned; 0: not yet
}

// Proof reports what speaks for a drive.
func (j *Judge) Proof(drive int) Proof {
	d := j.drives[drive]
	r := d.accounted()
	p := Proof{State: d.State, Call: d.Call, Wish: d.asked.want.Wish, Since: d.Open.Since, Today: r.Today, Yesterday: r.Yesterday,
		Total: r.Total, Last: r.Proof, LastByHand: r.HandProof, Usual: d.Usual.Level}
	if d.State == Running && (p.Wish == Run || p.Wish == ByTurns || p.Wish == ByHours && d.Call == Called) {
		p.Last = j.around.now
	}
	return p
}

// Unproven reports whether a drive has not been seen to do what it should, nor
// been tested by hand, within the last so long, and since when: the last time
// it was, or when the Judge began. It is no verdict: it may have had no
// occasion. A drive that nothing is wanted of is not unproven.
func (j *Judge) Unproven(drive int, within time.Duration) (since timing.Instant, unproven bool) {
	p := j.Proof(drive)
	since = max(p.Last, p.LastByHand)
	if since == 0 {
		since = j.began
	}
	wanted := p.Wish == Follow || p.Wish == Run || p.Wish == ByTurns || p.Wish == ByHours
	return since, wanted && since != 0 && j.around.now.Since(since) >= within
}

// SwitchesOn is where a stage was found to switch on: the median of its last count
// switchings, at most 20, and their standard deviation about it; count 0: not yet.
func (j *Judge) SwitchesOn(stage int) (at, spread float64, count int) {
	p := j.stages[stage].On.point()
	return p.Median, p.Spread, p.Count
}
