// Package leave keeps who is not at hand until when, and who stands in for them.
// It promises that a person is away once at a time, that each leave ends by itself,
// and that it says when one begins and when it ends. Who is told what because of it
// is not decided here, and nothing that is judged depends on it.
package leave

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
	"telltale/alarms/walk"
)

// mostKept is how many leaves are kept, so that who had been told of an alarm is known
// when it ends. Those that still run are kept in any case.
const mostKept = 32

// Kept is one leave in a snapshot.
type Kept struct {
	Person  string         `json:"person"`
	StandIn string         `json:"stand_in,omitempty"`
	Spared  bool           `json:"spared,omitempty"`
	Since   timing.Instant `json:"since"`
	Until   timing.Instant `json:"until"`
	Over    bool           `json:"over,omitempty"`
}

// Book is the book of leaves.
type Book struct {
	panel *lifecycle.Panel
	tell  func(l alarms.LeaveReason, due timing.Instant)
	end   *timing.Timer
	all   []Kept // by Since
}

// New returns an empty book. tell hears of each leave that begins or ends.
func New(p *lifecycle.Panel, tell func(l alarms.LeaveReason, due timing.Instant)) *Book {
	b := &Book{panel: p, tell: tell}
	b.end = p.Timers.Build(b.endDue)
	return b
}

// Begin lets a person be away until an end by the wall clock, in the place of a leave
// that runs. One whose end has passed, or that names nobody, begins not at all.
func (b *Book) Begin(in alarms.Input, now timing.Instant) {
	until := min(b.panel.Clock.Core(in.Until), now.Add(alarms.LongestLeave))
	if in.Person == "" || until <= now {
		return
	}
	b.close(in.Person, now)
	k := Kept{Person: in.Person, StandIn: in.StandIn, Spared: in.Spared, Since: now, Until: until}
	b.all = append(b.all, k)
	b.forget()
	b.await()
	b.tell(alarms.LeaveReason{Leave: b.leave(k)}, now)
}

// Back ends the leave of a person.
func (b *Book) Back(person string, now timing.Instant) {
	if k := b.close(person, now); k != nil {
		b.await()
		b.tell(alarms.LeaveReason{Leave: b.leave(*k), Ended: alarms.LeaveBack}, now)
	}
}

// close ends the leave of a person now, if one runs, and returns it.
func (b *Book) close(person string, now timing.Instant) *Kept {
	for i := range b.all {
		if k := &b.all[i]; k.Person == person && !k.Over {
			k.Until, k.Over = now, true
			return k
		}
	}
	return nil
}

// endDue ends what is due.
func (b *Book) endDue(due timing.Instant) {
	for i := range b.all {
		if k := &b.all[i]; !k.Over && k.Until <= due {
			k.Over = true
			b.tell(alarms.LeaveReason{Leave: b.leave(*k), Ended: alarms.LeaveOver}, due)
		}
	}
	b.await()
}

// await sets the time at which the next leave ends.
func (b *Book) await() {
	next := timing.Instant(0)
	for _, k := range b.all {
		if !k.Over && (next == 0 || k.Until < next) {
			next = k.Until
		}
	}
	b.panel.Timers.Set(b.end, next)
}

// forget drops the oldest that are over.
func (b *Book) forget() {
	for i := 0; i < len(b.all) && len(b.all) > mostKept; {
		if b.all[i].Over {
			b.all = slices.Delete(b.all, i, i+1)
		} else {
			i++
		}
	}
}

func (b *Book) leave(k Kept) alarms.Leave {
	return alarms.Leave{Person: k.Person, StandIn: k.StandIn, Spared: k.Spared, Since: b.panel.Clock.At(k.Since), Until: b.panel.Clock.At(k.Until)}
}

// Leaves are those that run, and the newest that are over, by the wall clock as it
// stands now.
func (b *Book) Leaves() []alarms.Leave { return walk.Each(b.all, b.leave) }

// Running are those that run.
func (b *Book) Running() []alarms.Leave {
	var all []alarms.Leave
	for _, k := range b.all {
		if !k.Over {
			all = append(all, b.leave(k))
		}
	}
	return all
}

// Save returns what Load goes on from.
func (b *Book) Save() []Kept { return slices.Clone(b.all) }

// Load lets b go on from what Save returned.
func (b *Book) Load(all []Kept) {
	b.all = slices.Clone(all)
	b.await()
}
