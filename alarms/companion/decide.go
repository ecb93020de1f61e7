// Package companion is how a second watch of the same garden accompanies the first:
// what the first says of itself, when the second tells in its place, and what of what
// people did at one of them the other takes over.
//
// One rule makes that nobody is left untold: the companion judges everything itself,
// and each of its messages waits a little, then goes out unless the first has
// confirmed that it told somebody the same, or that somebody has it in hand. So it
// does not matter why the first is quiet: it may be gone, deaf, cut off, or without a
// way to people. Without a confirmation the companion tells. Telling twice is allowed;
// both times it is the same alarm, by the same ID.
//
// Times are of the companion's own core. A confirmation counts from when it was asked
// for, and says how long ago something was, so clocks that differ do not matter.
package companion

import (
	"strings"
	"time"

	"telltale/alarms"
)

// How long a message waits at the companion for the first to confirm the same. The
// first must have told, which takes a try or two, and have been asked since.
// Common practice, no source.
const (
	waitHigh = 75 * time.Second
	waitElse = 2 * time.Minute
)

const (
	// AskEvery is how often the first is asked.
	AskEvery = 5 * time.Second
	// GoneAfter is how long nothing is heard of the first, or of the companion,
	// before that is told.
	GoneAfter = time.Minute
	// deafAfter is how much longer ago the first's newest reading may be than the
	// companion's own.
	deafAfter = 3 * time.Minute
	// slack is how much sooner than here the first may have told the same: a reading
	// came to it sooner.
	slack = time.Minute
	// settled is how long after a message was due the first must have been asked for
	// its state to count: by then it has judged the same.
	settled = 30 * time.Second
)

// Wait is for how long a message of priority p waits for the first.
func Wait(p alarms.Priority) time.Duration {
	if p >= alarms.High {
		return waitHigh
	}
	return waitElse
}

// Row is a message of the companion whose wait is over.
type Row struct {
	Alarm    alarms.AlarmID
	Move     alarms.Move
	Level    alarms.Level
	Due      time.Time // when it would have been told
	ToldHere bool      // of a return: the companion told this person that it began
}

// Verdict is what becomes of a message whose wait is over.
type Verdict uint8

// Verdicts.
const (
	Tell      Verdict = iota // nobody has confirmed it
	Confirmed                // the first has told it, or will
	Taken                    // somebody has the alarm in hand
	Moot                     // nobody was told that it began
)

// Heard is a report with the time before which it was not made.
type Heard struct {
	Report
	From time.Time
	Deaf bool // readings reach the companion that do not reach the first
}

// Decide says what becomes of r, while its alarm is in state own here; heard is the
// newest report, nil for none. That somebody has an alarm in hand at the first counts
// once it was taken over here, see Follow: it may have been another time.
func Decide(r Row, own alarms.State, heard *Heard) Verdict {
	switch {
	case Own(r.Alarm):
		return Tell
	case heard == nil:
		heard = &Heard{}
	}
	there := heard.standing(r.Alarm)
	switch {
	case r.Move == alarms.Return:
		return decideEnd(r, there, heard)
	case r.Move == alarms.Note:
		return toldIf(heard.since(r.Due) && heard.Untold == "")
	case own == alarms.Acknowledged || own.Aside():
		return Taken
	case there == nil:
		return Tell
	case !heard.since(r.Due): // what it told before may have been of another time
		return Tell
	case there.ToldLevel >= r.Level && heard.toldSince(there, r.Due.Add(-slack)):
		return Confirmed
	case !heard.since(r.Due.Add(settled)):
		return Tell
	case r.Move == alarms.Realarm || r.Move == alarms.Worsen: // that is to be heard anew
		return Tell
	}
	return toldIf(there.State == alarms.Unacknowledged && there.ToldLevel >= r.Level && heard.Untold == "" && !heard.Deaf)
}

// decideEnd: whoever told that it began tells that it is over. What the first told
// that is gone now is told here.
func decideEnd(r Row, there *Standing, heard *Heard) Verdict {
	switch {
	case r.ToldHere:
		return Tell
	case heard.since(r.Due) && heard.Untold == "":
		return Confirmed
	case there != nil && there.ToldLevel > alarms.Within:
		return Tell
	}
	return Moot
}

func toldIf(told bool) Verdict {
	if told {
		return Confirmed
	}
	return Tell
}

// since reports whether h was made after t.
func (h *Heard) since(t time.Time) bool { return !h.From.IsZero() && !h.From.Before(t) }

// toldSince reports whether the first has told s to somebody after t.
func (h *Heard) toldSince(s *Standing, t time.Time) bool {
	return s.ToldLevel > alarms.Within && !h.From.Add(-seconds(s.ToldAgo)).Before(t)
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// Own reports whether an alarm is about the watch that tells it, and not about the
// garden: then the other watch knows nothing of it.
func Own(a alarms.AlarmID) bool {
	return a == "" || strings.HasPrefix(string(a), "watch/") && a != "watch/leave" && !strings.HasPrefix(string(a), "watch/broker/")
}
