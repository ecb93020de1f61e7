package engine

import (
	"slices"
	"time"
)

// word says on whose word an alarm rests: of all that was beyond while it was
// on. It ends when these say so, each of them. What one that is lost said last
// stands until the place has been believed again, by another, for long enough.
type word struct {
	by   []*stream
	gone []string // of those, what the plan no longer has: keys of streams
	lost bool     // some of them say nothing any more
	told bool     // and that has been noted
}

// savedWord is a word in a snapshot.
type savedWord struct {
	By   []string `json:"by,omitempty"` // keys of streams
	Lost bool     `json:"lost,omitempty"`
	Told bool     `json:"told,omitempty"`
}

// otherFor is how long another probe must have been believed before an alarm
// ends on its word, or three of its intervals, whichever is longer.
const (
	otherFor       = 30 * time.Minute
	otherIntervals = 3
)

// take notes that v was beyond.
func (w *word) take(v *voice) {
	for _, st := range v.of {
		if st != nil && !slices.Contains(w.by, st) {
			w.by = append(w.by, st)
		}
	}
}

// mute reports whether st, whose word an alarm rests on, can say no more that
// all is well: silent, out of service, sick. What only differs from its
// siblings can: that it agrees with them again.
func (st *stream) mute() bool {
	return !st.present() || st.Faults.sick() && !st.Faults.onlyOutlier()
}

// turned looks whether some of w's streams say nothing any more, as mute finds, and
// reports whether that is new.
func (w *word) turned(mute func(*stream) bool) bool {
	lost := len(w.gone) > 0 || slices.ContainsFunc(w.by, mute)
	if lost == w.lost {
		return false
	}
	w.lost, w.told = lost, false
	return true
}

// speaks reports whether v may say that all is well: it is believed, or what
// raised the alarm itself, and not lost.
func (w *word) speaks(v *voice) bool {
	if v.doubt == "" {
		return true
	}
	for _, st := range v.of {
		if st != nil && (!slices.Contains(w.by, st) || st.mute()) {
			return false
		}
	}
	return v.of[0].Odd == "" // one odd reading changes nothing
}

// awaited reports whether one of w's streams is to be heard first.
func (w *word) awaited() bool {
	return slices.ContainsFunc(w.by, func(st *stream) bool { return !st.mute() && !st.Fresh })
}

// calm reports whether the alarm may end by all that is said: those that raised
// it, or others in place of the lost ones, are inside by what inside says, and
// none is beyond by what beyond says.
func (w *word) calm(vs []voice, beyond func(i int) bool, inside func(v *voice) bool) bool {
	spoken := false
	for i := range vs {
		v := &vs[i]
		switch {
		case beyond(i):
			return false
		case w.speaks(v):
			if !inside(v) {
				return false
			}
			spoken = true
		}
	}
	return spoken && !w.awaited()
}

// wait returns how long all must have been well for the alarm to end, clear in
// the ordinary case; with a lost word also the voice that speaks in its place.
func (w *word) wait(vs []voice, clear time.Duration) (d time.Duration, by *voice) {
	if !w.lost {
		return clear, nil
	}
	for i := range vs {
		v := &vs[i]
		if v.doubt != "" {
			continue
		}
		one := clear
		for _, st := range v.of {
			if st != nil {
				one = max(one, st.probe.speaksAfter())
			}
		}
		if by == nil || one < d {
			d, by = one, v
		}
	}
	return d, by
}

// missed reports whether, of vs, others than the lost ones are to be heard: one
// at least that is believed, and none that is lost and beyond all the same.
func (w *word) missed(vs []voice, beyond func(i int) bool) bool {
	believed := false
	for i := range vs {
		believed = believed || vs[i].doubt == ""
		if vs[i].doubt != "" && beyond(i) {
			return false
		}
	}
	return w.lost && believed
}

// losses are the keys of the streams that say nothing any more.
func (w *word) losses(mute func(*stream) bool) []string {
	all := slices.Clone(w.gone)
	for _, st := range w.by {
		if mute(st) {
			all = append(all, st.key())
		}
	}
	return all
}

// speaksAfter is how long p must have been believed before an alarm that
// another raised ends on its word.
func (p *probe) speaksAfter() time.Duration {
	every := time.Duration(0)
	for _, st := range p.streams {
		if st.leaf {
			every = max(every, st.interval())
		}
	}
	return max(otherFor, otherIntervals*every)
}

// none reports whether w is nobody's.
func (w *word) none() bool { return len(w.by) == 0 && len(w.gone) == 0 && !w.lost && !w.told }

// clear forgets whose word it was.
func (w *word) clear() { *w = word{} }

func (w *word) save() savedWord {
	s := savedWord{Lost: w.lost, Told: w.told, By: slices.Clone(w.gone)}
	for _, st := range w.by {
		s.By = append(s.By, st.key())
	}
	return s
}

// loadWord finds the streams again, under p, whose word it was.
func (p *place) loadWord(s savedWord) word {
	w := word{lost: s.Lost, told: s.Told}
next:
	for _, key := range s.By {
		for _, pr := range p.probes {
			for _, st := range pr.streams {
				if st.key() == key {
					w.by = append(w.by, st)
					continue next
				}
			}
		}
		w.gone = append(w.gone, key)
	}
	return w
}
