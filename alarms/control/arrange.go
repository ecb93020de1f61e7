package control

import "time"

// Wish is what season, selector switches and people want of a drive.
type Wish uint8

// Wishes.
const (
	Free    Wish = iota // nothing: it may run or stand
	Follow              // follow the stages that drive it, or the fan it opens for
	Run                 // run always
	ByTurns             // run and stand in turn, by a cycle timer
	Rest                // stand: a selector switched it off
	Barred              // never run: the vents are covered for winter
	ByHours             // run at hours of the day, by a timer of its own
)

// Want is a wish, with how long it runs and stands when in turn, and when it runs
// when by hours.
type Want struct {
	Wish          Wish
	OnFor, OffFor time.Duration
	Hours         Hours `json:"Hours,omitzero"`
}

// call is what w says of itself; what a drive that follows is asked for, its stages say.
func (w Want) call() Call {
	switch {
	case w.Wish == Run, w.Wish == ByHours && w.Hours.On:
		return Called
	case w.Wish == Rest, w.Wish == Barred, w.Wish == ByHours:
		return NotCalled
	}
	return Between
}

// share is the part of the time that a cycle timer runs its drive, 0 without one.
func (w Want) share() float64 {
	if w.OnFor+w.OffFor == 0 {
		return 0
	}
	return float64(w.OnFor) / float64(w.OnFor+w.OffFor)
}

// Arrangement is what depends on the season and on the selector switches. Its
// slices are as long as those of the Spec; a nil Acts means that every stage
// acts, a nil Wants that every drive follows.
type Arrangement struct {
	Acts  []bool // per stage
	Wants []Want // per drive
}

func (a Arrangement) want(drive int) Want {
	if a.Wants == nil {
		return Want{Wish: Follow}
	}
	return a.Wants[drive]
}
