// Package letter decides when people get the letter of the week, who gets a trial instead,
// and of whom it was not confirmed that it arrived.
//
// A letter is the trial of the way that it takes: whoever gets one says that it arrived. It
// promises that
//
//   - a letter is due on its day at Hour by the clocks of the garden, and once. A watch that
//     was away then sends it when it is back. However the clock is set, within leastLetter
//     of the core's time there is one: what comes due sooner after one is left out;
//   - the first one comes on the next such day, not as soon as it is asked for;
//   - whoever is away when it is due gets none, and whoever is away is not missed;
//   - it is missed where nobody confirmed it within Patience, until a later one is
//     confirmed;
//   - a trial comes once a month, is never missed, and is not repeated.
//
// It knows no clock, disk or network. What is on its way is named before it is sent, and
// named the same until Sent was called: who sends it again after a crash sends the same.
package letter

import "time"

// Hour is when a letter is due on its day: there is light to look and to mend by. Common
// practice, no source.
const Hour = 10

// Patience is how long a letter may go unconfirmed. Who gets it on a Sunday and reads it
// after the first working day has confirmed it by then; and no way that is dead stays
// unnoticed for longer than that and the week before. Common practice, no source.
const Patience = 48 * time.Hour

// Least times of the core between two letters, or trials, to one person, whatever the
// clocks show: half of what usually lies between, so that one that came late does not
// take the place of the next.
const (
	leastLetter = 7 * 24 * time.Hour / 2
	leastTrial  = 28 * 24 * time.Hour / 2
)

// Reader is somebody who gets letters or trials.
type Reader struct {
	Name    string
	Day     time.Weekday
	Trial   bool // a trial on the first such day of the month, instead of letters
	Answers bool // there is a way to confirm; else nothing is missed
}

// Letter is a letter, or trial, that is due.
type Letter struct {
	Reader
	Of     time.Time // when it was due, by the wall clock
	Number int       // of those of this person, from 1
}

// State is what is kept: what each person was sent last, by name.
type State map[string]Sent

// Sent is what a person was sent last.
type Sent struct {
	Of     time.Time `json:"of"`              // wall: when it was due; of one that did not come too
	Number int       `json:"number"`          // so many have been sent
	Trial  bool      `json:"trial,omitempty"` // it is a trial
	From   time.Time `json:"from,omitzero"`   // core: when it could be read; zero: none was sent yet
	Asks   bool      `json:"asks,omitempty"`  // it is missed if it is not confirmed
	Taken  time.Time `json:"taken,omitzero"`  // wall: when it was confirmed
	Missed time.Time `json:"missed,omitzero"` // Of of the first that was not confirmed since the last that was
}
