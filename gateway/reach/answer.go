package reach

import (
	"errors"
	"strings"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// Answers are what a person is answered by text message, in their words.
type Answers struct{ say.Locale }

func (a Answers) text(x tongue.Text, args ...any) string { return plainSigns(a.Tongue.Say(x, args...)) }

// Unknown is the answer to a text that means nothing here.
func (a Answers) Unknown() string {
	return a.text("That was not understood. Reply OK to acknowledge what you were told last, STATUS, GONE SUN 18:00 or BACK.")
}

// Gone is the answer to an end of a leave that cannot be read.
func (a Answers) Gone() string {
	return a.text("When you will be back was not understood, so nothing was set. Reply GONE SUN 18:00, GONE 36 H, GONE 3 DAYS, or GONE for 24 h.")
}

// Long is the answer to an end of a leave that is past, or too far away.
func (a Answers) Long() string {
	return a.text("That is longer than 31 days or in the past, so nothing was set. Reply GONE SUN 18:00, GONE 36 H, GONE 3 DAYS, or GONE for 24 h.")
}

// Back is the answer to who comes back and was not away.
func (a Answers) Back() string { return a.text("You were not away. You are told as before.") }

// Letter is the answer to who says that a letter arrived; waited reports whether one waited
// for that.
func (a Answers) Letter(waited bool) string {
	if waited {
		return a.text("Thank you: the watch knows now that it reaches you.")
	}
	return a.text("No letter of the watch waits to be confirmed.")
}

// Sentence writes one of the page, or of the log, for a telephone.
func (a Answers) Sentence(s string) string { return plainSigns(s) }

// Taken confirms what somebody acknowledged by text: the bodies of the
// outbox rows that told of it. more is how many alarms told earlier still
// wait; first is what is told again first if it is no better, its Until zero where
// it is over.
func (a Answers) Taken(bodies [][]byte, first alarms.AlarmPicture, more int) (string, error) {
	var what []string
	var wrong []error
	for _, b := range bodies {
		e, err := readEvent(b)
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		e.Reason.Value, e.Language = nil, a.Tongue // it has changed since
		what = append(what, plainSigns(whereabouts(e)+": "+fact(e, a.Locale)))
	}
	said := []string{a.text("Nothing that you were told by text message waits for an acknowledgement.")}
	if len(what) > 0 {
		said[0] = a.text("Acknowledged: %s.", strings.Join(what, "; "))
		if len(said[0]) > mostAnswered {
			said[0] = a.text("Acknowledged: %s; and %s.", what[0], a.alarms(len(what)-1))
		}
	}
	if until := first.Until; !until.IsZero() && len(what) > 0 {
		if at := a.Clock(until, until); first.Reaches != nil {
			said = append(said, a.text("You are told again at %s%s.", at, a.ByThen(first.Reaches)))
		} else {
			said = append(said, a.text("You are told again at %s if it is no better by then; OK 90 makes that 90 min.", at))
		}
	}
	if more > 0 {
		said = append(said, a.text("Told earlier and still open: %s. Reply OK again for that.", a.alarms(more)))
	}
	return strings.Join(said, " "), errors.Join(wrong...)
}

// mostAnswered bytes may all that was acknowledged take.
const mostAnswered = 300

func (a Answers) alarms(n int) string { return count(a.Tongue, n, "1 alarm", "%d alarms") }
