package service

import "context"

// Letters are the letters of the week, and trials, as those who get them confirm them by a
// link. All methods are called from many goroutines at once.
type Letters interface {
	// IsLetter reports whether a transition is the name of one.
	IsLetter(transition string) bool
	// Letter says how it stands with one that was sent to a person.
	Letter(person, transition string) LetterStand
	// Confirm notes that it arrived, if it waits for that, and returns how it stood.
	Confirm(ctx context.Context, person, transition string) LetterStand
}

// LetterStand is how it stands with a letter.
type LetterStand string

// Stands of a letter.
const (
	LetterWaits     LetterStand = "waits" // to be confirmed
	LetterConfirmed LetterStand = "confirmed"
	LetterOlder     LetterStand = "older"   // than the newest
	LetterUnknown   LetterStand = "unknown" // it was never sent to that person
)
