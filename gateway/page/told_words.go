package page

import (
	"fmt"
	"strings"
	"time"
)

func (w words) toldLine(t Telling, now time.Time) toldLine {
	l := toldLine{When: w.clockSeconds(t.Planned, now), To: t.Person + " by " + t.Channel, Sentence: w.said(t.Of)}
	if t.Person == "" {
		l.To = "Whoever follows " + t.Channel
	}
	if t.Test {
		l.Sentence = "A test message: nothing was wrong."
	} else if t.Of.Alarm != "" {
		l.Alarm = alarmAddress(t.Of.Alarm)
	}
	l.Outcome, l.Mark = outcomeWords[t.Outcome].words, outcomeWords[t.Outcome].mark
	l.More = w.toldMore(t, now)
	return l
}

// outcomeWords are the outcomes in a few words, with the class of their mark.
var outcomeWords = map[ToldOutcome]struct{ words, mark string }{
	ToldWaiting:     {"waiting", "waits"},
	ToldFailed:      {"failed so far", "failed"},
	ToldHandedOver:  {"sent", "went"},
	ToldDelivered:   {"delivered", "went"},
	ToldUndelivered: {"not delivered", "failed"},
	ToldGivenUp:     {"given up", "failed"},
	ToldNotNeeded:   {"not needed any more", "waits"},
	ToldRehearsed:   {"only rehearsed", "rehearsed"},
}

// toldMore says when it was tried, and why it did not arrive.
func (w words) toldMore(t Telling, now time.Time) string {
	at := w.clockSeconds(t.At, now)
	switch t.Outcome {
	case ToldWaiting:
		return w.waitingMore(t, now)
	case ToldFailed:
		again := "being tried again"
		if t.Next.After(now) {
			again = "tried again at " + w.clockSeconds(t.Next, now)
		}
		return fmt.Sprintf("Tried %s, last at %s; %s.%s", times(t.Tries), at, again, why(t))
	case ToldHandedOver:
		return tookIt(t, at)
	case ToldDelivered:
		return "It arrived at " + at + after(t.Tries) + "."
	case ToldUndelivered:
		return "It was sent, but at " + at + " came word that it did not arrive. It will not be tried again." + why(t)
	case ToldGivenUp:
		return fmt.Sprintf("Tried %s, last at %s. It will not be tried again.%s", times(t.Tries), at, why(t))
	case ToldNotNeeded:
		return "Somebody had taken the alarm, or it was over, before its time came."
	case ToldRehearsed:
		return "Nothing was sent: the channel only rehearses."
	}
	return ""
}

// waitingMore says until when it waits, and what for.
func (w words) waitingMore(t Telling, now time.Time) string {
	until := w.clockSeconds(t.Next, now)
	switch {
	case !t.Next.After(now) && t.Why != "":
		return "It is being tried again. Of the last try: " + strings.TrimSuffix(t.Why, ".") + "."
	case !t.Next.After(now):
		return "It is being sent; no answer has come yet."
	case t.Waits == WaitsQuiet:
		return "It is held until " + until + ", the end of the quiet hours of " + t.Person + "."
	case t.Waits == WaitsAnswer:
		return "It is sent at " + until + ", unless somebody acknowledges before."
	}
	return "It waits until " + until + "." + why(t)
}

func why(t Telling) string {
	if t.Why == "" {
		return ""
	}
	return " Why: " + strings.TrimSuffix(t.Why, ".") + "."
}

// takers say, by kind of channel, who took a message, and what that leaves
// open.
var takers = map[string]struct{ took, open string }{
	"mail":    {"The mail server took it", "Whether it was read is not known."},
	"webhook": {"The receiver took it", "Whether it was read is not known."},
	"push":    {"The push service took it", "Whether it was read is not known."},
	"command": {"The program took it and ended well", "Whether anybody noticed is not known."},
	"text":    {"The telephone network took it", "It has not reported yet whether it arrived."},
	"ring":    {"The telephone rang", "Whether anybody heard it is not known."},
	"mqtt":    {"The broker took it", "Who follows there is not known."},
}

// tookIt says who has it, as far as is known.
func tookIt(t Telling, at string) string {
	by, ok := takers[t.Kind]
	switch {
	case !ok:
		by.took, by.open = "The next party took it", "Whether it was read is not known."
	case t.Why != "": // the network said so later
		return by.took + " and said at " + at + ": " + strings.TrimSuffix(t.Why, ".") + "."
	}
	return by.took + " at " + at + after(t.Tries) + ". " + by.open
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func after(tries int) string {
	if tries < 2 {
		return ""
	}
	return fmt.Sprintf(", at try %d", tries)
}
