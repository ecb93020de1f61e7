package gateway

import (
	"time"

	"telltale/alarms/companion"
	"telltale/alarms/tongue"
	"telltale/gateway/link"
)

// firstState is how the first watch is, seen from here.
type firstState struct {
	heard   time.Time // by the wall clock; zero: never in this run
	since   time.Time // by the wall clock: when it was heard last, or this run began
	gone    bool
	known   bool // it was heard, or had time to be
	fault   string
	deaf    bool
	untold  string
	old     string
	oldPlan bool
	broker  link.State // as a broker keeps it
}

// left notes what a broker keeps of the first.
func (a *accompanying) left(s link.State) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.broker = s
}

// heardFrom is when the first was asked last that has answered, by the core; zero: never.
func (a *accompanying) heardFrom() time.Time {
	if a == nil {
		return time.Time{}
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.heard == nil {
		return time.Time{}
	}
	return a.heard.From
}

func (a *accompanying) state(now time.Time) (s firstState) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.began.IsZero() {
		a.began = now
	}
	last := a.began
	if a.heard != nil {
		last = a.heard.From
		s.heard, s.deaf, s.untold = a.p.clock.Wall(last), a.heard.Deaf, a.heard.Untold
		s.oldPlan = a.heard.Plan != a.p.cfg.Companion.Plan
	}
	s.since, s.fault, s.old = a.p.clock.Wall(last), a.fault, a.old
	s.broker = a.broker
	s.gone = now.Sub(last) > companion.GoneAfter
	s.known = a.heard != nil || s.gone
	return s
}

// trouble says why the first watch does not do its work.
func (a *accompanying) trouble(now time.Time) (why string, known bool) {
	s := a.state(now)
	switch {
	case !s.known:
		return "", false
	case s.gone:
		return unheard(s.since, s.broker, s.fault), true
	case s.deaf:
		return tongue.Keep(firstDeaf), true
	case s.untold != "":
		return tongue.Keep(firstMute, s.untold), true
	}
	return "", true
}

func withFault(why string) string {
	if why == "" {
		return ""
	}
	return " (" + why + ")"
}
