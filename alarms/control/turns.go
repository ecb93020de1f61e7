package control

import (
	"math"
	"time"

	"telltale/alarms/timing"
)

const (
	turnsKept  = 4
	turnsSlack = 1.5
	shareSlack = 0.25 // of the wanted share
	shareLeast = 0.05
	shareBack  = 0.7 // of the slack, to end
)

func scaled(d time.Duration) time.Duration { return time.Duration(float64(d) * turnsSlack) }

// turns are the last whole turns of a drive on a cycle timer, from start to
// start.
type turns struct {
	Began timing.Instant           `json:"began,omitempty"` // of the turn that goes on
	Run   time.Duration            `json:"run,omitempty"`   // in it
	N     int                      `json:"n,omitempty"`
	On    [turnsKept]time.Duration `json:"on"`
	Whole [turnsKept]time.Duration `json:"whole"`
}

func (t *turns) start(now timing.Instant) {
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

func (t *turns) stop(now timing.Instant) {
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

// against holds the share of the last turns against the wanted one: it may be good,
// or wrong, or neither as long as too few are known or it is in between.
func (t *turns) against(wanted float64) (good, wrong bool) {
	if t.N < turnsKept {
		return false, false
	}
	slack, off := math.Max(shareLeast, shareSlack*wanted), math.Abs(t.share()-wanted)
	return off < shareBack*slack, off > slack
}

// starts are those of the last hour.
type starts []timing.Instant

func (s starts) lastHour(now timing.Instant) starts {
	old := 0
	for old < len(s) && now.Since(s[old]) >= time.Hour {
		old++
	}
	return append(s[:0], s[old:]...)
}

// add counts a start, and keeps as many as it takes to say how long more than most go
// on.
func (s starts) add(now timing.Instant, most int) starts {
	s = s.lastHour(now)
	if len(s) > 2*most {
		s = append(s[:0], s[1:]...)
	}
	return append(s, now)
}
