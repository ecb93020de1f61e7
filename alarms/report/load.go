package report

import (
	"slices"
	"time"

	"telltale/alarms"
)

// Figures that ANSI/ISA-18.2 and EEMUA 191 recommend for the load on one
// operator, from memory: about 150 alarms a day are very likely acceptable and
// 300 the most that can be managed, which is one and two in 10 minutes; no
// more than 10 in the 10 minutes after an upset, and more than that in less
// than 1 % of all such periods; fewer than five standing for more than a day;
// none that chatters.
const (
	AcceptablePerDay  = 150
	ManageablePerDay  = 300
	FloodPerTen       = 10
	FewStale          = 5
	chatterTimes      = 3 // within chatterWithin
	chatterWithin     = time.Minute
	staleAfter        = 24 * time.Hour
	takenWithin       = 10 * time.Minute
	tenMinutes        = 10 * time.Minute
	mostFrequentShown = 10
)

// Load is what the alarms asked of people.
type Load struct {
	Alarms       int     // that asked for somebody
	ByPriority   [4]int  // by alarms.Priority
	PerDay       float64 // mean
	PerHalfDay   float64 // mean of 12 h
	PerTen       float64 // mean of 10 min
	Peak         int     // most in one period of 10 min; periods begin with the span
	PeakAt       time.Time
	Floods       int // periods with more than FloodPerTen
	Periods      int
	Frequent     []Frequent   // most frequent first
	Chattering   []Frequent   // with how often they did
	Stale        []StaleAlarm // longest first
	Judged       int          // alarms that came long enough ago to say whether they were taken
	Taken        int          // of them, acknowledged within takenWithin
	WentByItself int          // of them, neither, but over within takenWithin
	MedianTaken  time.Duration
}

// Untaken is the share of Judged that was not acknowledged in time.
func (l Load) Untaken() float64 {
	if l.Judged == 0 {
		return 0
	}
	return 1 - float64(l.Taken)/float64(l.Judged)
}

// Frequent is an alarm and how often it came.
type Frequent struct {
	Alarm alarms.AlarmID
	Times int
	Last  alarms.Transition // the newest
}

// StaleAlarm is one that stood for more than staleAfter.
type StaleAlarm struct {
	Alarm alarms.AlarmID
	Span
	Open  bool // it still stands
	First alarms.Transition
}

// asks reports whether t asks for somebody who was not asked before. What is
// told again asks for nothing new, so it is no further alarm.
func asks(t alarms.Transition) bool {
	if t.To != alarms.Unacknowledged {
		return false
	}
	return t.From != alarms.Unacknowledged || t.Move == alarms.Worsen
}

// asking are the transitions of a log within s that ask.
func asking(log []alarms.Transition, s Span) (came []alarms.Transition) {
	for _, t := range log {
		if s.has(t.Due) && asks(t) {
			came = append(came, t)
		}
	}
	return came
}

// loadOf counts what the log, oldest first and beginning before the span, asked
// of people: came within it.
func loadOf(log, came []alarms.Transition, s Span, until time.Time) Load {
	l := Load{Periods: int((s.Len() + tenMinutes - 1) / tenMinutes), Alarms: len(came), Frequent: mostFrequent(came)}
	l.Frequent = l.Frequent[:min(len(l.Frequent), mostFrequentShown)]
	for _, t := range came {
		l.ByPriority[min(int(t.Priority), 3)]++
	}
	if days := s.Len().Hours() / 24; days > 0 {
		l.PerDay = float64(len(came)) / days
		l.PerHalfDay, l.PerTen = l.PerDay/2, l.PerDay/144
	}
	l.periods(came, s)
	l.chattering(came)
	l.stale(log, s, until)
	l.taken(log, came, until)
	return l
}

func (l *Load) periods(came []alarms.Transition, s Span) {
	n, period := 0, -1
	for _, t := range came {
		p := int(t.Due.Sub(s.From) / tenMinutes)
		if p != period {
			n, period = 0, p
		}
		n++
		if n > l.Peak {
			l.Peak, l.PeakAt = n, s.From.Add(time.Duration(p)*tenMinutes)
		}
		if n == FloodPerTen+1 {
			l.Floods++
		}
	}
}

// mostFrequent are the alarms of came, most frequent first.
func mostFrequent(came []alarms.Transition) (out []Frequent) {
	for _, ts := range byAlarm(came) {
		out = append(out, Frequent{ts[0].Alarm, len(ts), ts[len(ts)-1]})
	}
	slices.SortStableFunc(out, byTimes)
	return out
}

func byTimes(a, b Frequent) int { return b.Times - a.Times }

func (l *Load) chattering(came []alarms.Transition) {
	for _, ts := range byAlarm(came) {
		times := 0
		for i := 0; i+chatterTimes <= len(ts); i++ {
			if ts[i+chatterTimes-1].Due.Sub(ts[i].Due) <= chatterWithin {
				times++
				i += chatterTimes - 1
			}
		}
		if times > 0 {
			l.Chattering = append(l.Chattering, Frequent{ts[0].Alarm, times, ts[len(ts)-1]})
		}
	}
	slices.SortStableFunc(l.Chattering, byTimes)
}

func (l *Load) stale(log []alarms.Transition, s Span, until time.Time) {
	for _, one := range standings(log, until, alarms.State.Active) {
		if one.Len() <= staleAfter || !one.To.After(s.From) || !one.From.Before(s.To) {
			continue
		}
		l.Stale = append(l.Stale, StaleAlarm{one.AlarmID, one.Span, one.open, one.first})
	}
	slices.SortStableFunc(l.Stale, func(a, b StaleAlarm) int { return int(b.Len()/time.Second - a.Len()/time.Second) })
}

// taken says how soon people acknowledged.
func (l *Load) taken(log, came []alarms.Transition, until time.Time) {
	var after []time.Duration
	at := map[alarms.AlarmID][]alarms.Transition{}
	for _, ts := range byAlarm(log) {
		at[ts[0].Alarm] = ts
	}
	for _, t := range came {
		ack, over := answered(at[t.Alarm], t)
		if ack >= 0 {
			after = append(after, ack)
		}
		if t.Due.Add(takenWithin).After(until) && (ack < 0 || ack > takenWithin) {
			continue // too early to say
		}
		l.Judged++
		switch {
		case ack >= 0 && ack <= takenWithin:
			l.Taken++
		case over >= 0 && over <= takenWithin:
			l.WentByItself++
		}
	}
	if len(after) > 0 {
		slices.Sort(after)
		l.MedianTaken = after[len(after)/2]
	}
}

// answered says how long after t somebody took the alarm, and how long after it
// was over; negative where that did not come before the next time it asked.
func answered(ts []alarms.Transition, t alarms.Transition) (ack, over time.Duration) {
	ack, over = -1, -1
	seen := false
	for _, x := range ts {
		switch {
		case x.ID == t.ID:
			seen = true
		case !seen:
		case x.Move == alarms.Ack:
			return x.Due.Sub(t.Due), over
		case x.Move == alarms.Return && over < 0:
			over = x.Due.Sub(t.Due)
		case asks(x):
			return ack, over
		}
	}
	return ack, over
}
