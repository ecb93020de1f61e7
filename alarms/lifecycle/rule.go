package lifecycle

import (
	"telltale/alarms"
	"telltale/alarms/timing"
)

// Rule is what stands behind an alarm, where it has more to say of it than why it was
// raised. A rule embeds Plain and says what it has to say.
type Rule interface {
	// Title fills in what the alarm is about, for its title.
	Title(a *Alarm, s *alarms.Subject)
	// Names fills in what it is about, as that is called now.
	Names(a *Alarm, o *alarms.Names)
	// Facts fills in what the sentence of t needs beside its reason.
	Facts(a *Alarm, t *alarms.Transition, f *alarms.Background)
	// First fills in what to look at first, with the reason r.
	First(a *Alarm, r *alarms.Reason, f *alarms.First)
	// Directions are the plan's for what it is about, more specific than those of its place.
	Directions(a *Alarm) []string
	// Present is what holds now of what it tells of.
	Present(a *Alarm) alarms.Present
	// Show brings the facts of what holds now to this moment.
	Show(a *Alarm, f *alarms.Background)
	// Rests reports whether that does not go on just now, though it is not over.
	Rests(a *Alarm, now timing.Instant) bool
	// InHand is the time in hand of a, if what it tells of goes on.
	InHand(a *Alarm, now timing.Instant) Hand
	// Aside lets be looked at again what it speaks for: it was put aside, or is so no longer.
	Aside(a *Alarm, now timing.Instant)
	// Act takes what a person does to it, and reports whether that was its own to take.
	Act(a *Alarm, in alarms.Input, now timing.Instant) bool
}

// Hand is the time in hand: at its lower quantile, a limit in °C is not reached until
// then. Until 0: nothing is known of that, or none is likely to be reached.
type Hand struct {
	Until timing.Instant
	Limit float64
}

// Plain says nothing more of an alarm.
type Plain struct{}

func (Plain) Title(*Alarm, *alarms.Subject)                        {}
func (Plain) Names(*Alarm, *alarms.Names)                          {}
func (Plain) Facts(*Alarm, *alarms.Transition, *alarms.Background) {}
func (Plain) First(*Alarm, *alarms.Reason, *alarms.First)          {}
func (Plain) Directions(*Alarm) []string                           { return nil }
func (Plain) Present(*Alarm) (p alarms.Present)                    { return p }
func (Plain) Show(*Alarm, *alarms.Background)                      {}
func (Plain) Rests(*Alarm, timing.Instant) bool                    { return false }
func (Plain) InHand(*Alarm, timing.Instant) (h Hand)               { return h }
func (Plain) Aside(*Alarm, timing.Instant)                         {}
func (Plain) Act(*Alarm, alarms.Input, timing.Instant) bool        { return false }

// Log is the rule of what is a log and no alarm: nobody acknowledges or shelves it.
type Log struct{ Plain }

func (Log) Act(*Alarm, alarms.Input, timing.Instant) bool { return true }
