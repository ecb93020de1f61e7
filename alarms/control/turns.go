package control

import (
	"math"
	"time"
)

const (
	turnsKept  = 4
	shareSlack = 0.25 // of the wanted share
	shareLeast = 0.05
	shareBack  = 0.7 // of the slack, to end
)

// turns are the last whole turns of a drive on a cycle timer, from start to
// start.
type turns struct {
	Began Moment                   `json:"began,omitempty"` // of the turn that goes on
	Run   time.Duration            `json:"run,omitempty"`   // in it
	N     int                      `json:"n,omitempty"`
	On    [turnsKept]time.Duration `json:"on"`
	Whole [turnsKept]time.Duration `json:"whole"`
}

func (t *turns) start(now Moment) {
	if t.Began != 0 && t.Run != 0 {
		if t.N == turnsKept {
			copy(t.On[:], t.On[1:])
			copy(t.Whole[:], t.Whole[1:])
			t.N--
		}
		t.On[t.N], t.Whole[t.N] = t.Run, now.Since(t.Began)
		t.N++
	}
	t.Began, t.Run = now, 0
}

func (t *turns) stop(now Moment) {
	if t.Began != 0 {
		t.Run = now.Since(t.Began)
	}
}

// share is the part of the time it ran.
func (t *turns) share() float64 {
	var on, whole time.Duration
	for i := range t.N {
		on, whole = on+t.On[i], whole+t.Whole[i]
	}
	if whole == 0 {
		return 0
	}
	return float64(on) / float64(whole)
}

func (j *Judge) wantedShare(d int) float64 {
	w := j.want(d)
	if w.OnFor+w.OffFor == 0 {
		return 0
	}
	return float64(w.OnFor) / float64(w.OnFor+w.OffFor)
}

// seesTurns reports whether what shows d is read often enough to tell how long its
// turns are.
func (j *Judge) seesTurns(d int, want Want) bool {
	i := j.state.Drives[d].Source
	return i >= 0 && 2*j.every(d, i) <= min(want.OnFor, want.OffFor)
}

// judgeTurns judges a drive wanted by turns: by a run that lasts too long, and
// with each start by the share of the last turns.
func (j *Judge) judgeTurns(now Moment, d int, want Want) {
	ds := &j.state.Drives[d]
	byTurns := want.Wish == ByTurns && j.seesTurns(d, want)
	good := false
	if byTurns && ds.Turns.N == turnsKept {
		wanted := j.wantedShare(d)
		slack := math.Max(shareLeast, shareSlack*wanted)
		off := math.Abs(ds.Turns.share() - wanted)
		good = off < shareBack*slack
		if off > slack && !ds.Gates[TurnsWrong].On {
			j.raise(now, d, TurnsWrong)
		}
	}
	j.hold(now, d, TurnsWrong, byTurns && ds.State == Running, good || !byTurns, scaled(want.OnFor)+j.spec.Drives[d].Stop)
}

// mostStarts is how many starts an hour are not too many: a cycle timer makes
// starts of its own.
func (j *Judge) mostStarts(d int) int {
	most := j.spec.Drives[d].MaxStarts
	if w := j.want(d); w.Wish == ByTurns && w.OnFor+w.OffFor > 0 {
		most = max(most, int(math.Ceil(turnsSlack*float64(time.Hour)/float64(w.OnFor+w.OffFor))))
	}
	return most
}

// cycled counts a start, and judges how many an hour holds.
func (j *Judge) cycled(now Moment, d int) {
	ds, most := &j.state.Drives[d], j.mostStarts(d)
	old := 0
	for old < len(ds.Starts) && now.Since(ds.Starts[old]) >= time.Hour {
		old++
	}
	ds.Starts = append(ds.Starts[:0], ds.Starts[old:]...)
	if len(ds.Starts) > 2*most { // as many as it takes to say how long it goes on
		ds.Starts = append(ds.Starts[:0], ds.Starts[1:]...)
	}
	ds.Starts = append(ds.Starts, now)
	g := &ds.Gates[ShortCycling]
	if len(ds.Starts) > most && !g.On {
		g.Since = ds.Starts[0]
		j.raise(now, d, ShortCycling)
	}
	if g.On {
		g.Due = j.calmAt(d)
	}
}

// calmAt is when an hour will hold half as many starts as may be, if none comes.
func (j *Judge) calmAt(d int) Moment {
	starts := j.state.Drives[d].Starts
	i := len(starts) - 1 - j.mostStarts(d)/2
	return starts[max(i, 0)].add(time.Hour)
}

func (j *Judge) calmed(due Moment, d int) {
	ds := &j.state.Drives[d]
	old := 0
	for old < len(ds.Starts) && due.Since(ds.Starts[old]) >= time.Hour {
		old++
	}
	ds.Starts = append(ds.Starts[:0], ds.Starts[old:]...)
	j.end(due, d, ShortCycling)
}
