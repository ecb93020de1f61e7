package say

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
	"telltale/alarms/tongue"
)

// expectations says what is expected of a place.
type expectations struct{ Locale }

// draw puts in words what is expected of a place.
func (m expectations) draw(p *alarms.PlacePicture, now time.Time) {
	if p.Outlook == nil {
		return
	}
	o := *p.Outlook
	o.Sentence, o.Record.Sentence = m.expected(p, &o, now), m.record(o.Record)
	o.Days = each(o.Days, func(d *alarms.DayAhead) { d.Sentence = m.dayAhead(d) })
	p.Outlook = &o
}

// drawNear says where no warning could come in time; what is expected is in words already.
func (s *speaker) drawNear(h *alarms.House, hp *alarms.HousePicture, p *alarms.PlacePicture) {
	of := s.place(h, p.ID)
	if p.Outlook == nil || of.NoEarlyWarning {
		return
	}
	for _, near := range h.Near(of, hp.Season, hp.Daypart) {
		p.Outlook.Sentence += " " + s.tooNear(h, &near)
	}
}

// tooNear says that no warning could come in time, and what to do.
func (s *speaker) tooNear(h *alarms.House, n *alarms.Near) string {
	dial, limit := s.say("lower"), s.say("higher")
	if n.Side == alarms.LowSide {
		dial, limit = limit, dial
	}
	by := controls{s, h}.thermostat(&alarms.StageName{Control: n.Control})
	return s.say("No warning could come in time before %s: the %s, with its tolerance, may switch on only at %s. Set it %s, or the limit %s.",
		s.Value(alarms.Temperature, n.Limit), by, s.Value(alarms.Temperature, n.Latest), dial, limit)
}

// lacks says why nothing is said.
var lacks = map[outlook.Lack]tongue.Text{
	outlook.Days:  "Nothing can be said yet of the next two hours: two days of readings are needed first.",
	outlook.Hour:  "Nothing can be said now of the next two hours: the last hour was not heard as a whole.",
	outlook.Often: "Nothing can be said of the next two hours: readings come too seldom. One every 10 minutes is needed.",
}

// expected says between which temperatures a place is expected to stay, and which
// limits it is likely to reach.
func (m expectations) expected(p *alarms.PlacePicture, o *alarms.OutlookPicture, now time.Time) string {
	if s := lacks[o.Lacks]; s != "" {
		return m.say(s)
	}
	if len(o.Ahead) == 0 || o.Lacks != outlook.Nothing {
		return m.say("Nothing can be said yet of the next two hours.")
	}
	last := o.Ahead[len(o.Ahead)-1]
	from, to := m.around(last.Lowest, last.Highest)
	s := m.say("Until %s it is expected to stay between %s and %s (8 in 10).", m.Clock(o.At.Add(last.In), now), from, to)
	said, passed := 0, false
	for i := range o.Limits {
		l := &o.Limits[i]
		switch {
		case l.Passed(p):
			passed = true
		case l.Likelihood() >= alarms.WorthSaying:
			s += " " + m.crossing(l, o.At, now)
			said++
		}
	}
	if said == 0 && !passed && len(o.Limits) > 0 {
		s += m.say(" No limit is likely to be reached.")
	}
	return s
}

// around writes the ends of what is expected in whole degrees, since a tenth would
// say more than is known; ends that would be the same are set apart.
func (m expectations) around(lowest, highest []float64) (from, to string) {
	const tenth, nineTenths = 1, 5 // of the quantiles
	if len(lowest) <= tenth || len(highest) <= nineTenths {
		return m.maybe(nil), m.maybe(nil)
	}
	low, high := m.Shown(alarms.Temperature, lowest[tenth]), m.Shown(alarms.Temperature, highest[nineTenths])
	if low, high = math.Round(low), math.Round(high); low == high {
		low, high = low-1, high+1
	}
	return m.number(low, 0), m.number(high, 0) + " " + m.unit(alarms.Temperature)
}

// crossing says how likely a limit is reached, and when.
func (m expectations) crossing(l *alarms.LimitOutlook, at, now time.Time) string {
	how := m.say("may be reached")
	if l.Likelihood() >= 0.5 {
		how = m.say("is likely to be reached")
	}
	clock := func(in time.Duration) string { return m.Clock(Roughly(at.Add(in)), now) }
	return m.say("%s %s (%s), then at about %s (%s to %s).", m.Value(alarms.Temperature, l.Limit), how, m.InTen(l.Likelihood()),
		clock(l.Middle), clock(l.Soon), clock(l.Late))
}

// Roughly is a time that is only likely, to the 5 minutes: more would say more than
// is known.
func Roughly(t time.Time) time.Time { return t.Round(5 * time.Minute) }

// InTen writes how likely something is: "7 in 10".
func (m Locale) InTen(p float64) string {
	switch {
	case p >= 0.95:
		return m.say("more than 9 in 10")
	case p < 0.05:
		return m.say("less than 1 in 10")
	}
	return m.say("%.0f in 10", math.Round(p*10))
}

// record says what came of the warnings.
func (m expectations) record(r alarms.WarningRecord) string {
	all := r.Right + r.False
	s := ""
	switch {
	case all <= 0:
		return ""
	case all == 1 && r.Right == 0:
		return m.say("The one warning of the last 30 days did not come true.")
	case all == 1:
		s = m.say("The one warning of the last 30 days came true")
	case r.Right == 0:
		return m.say("Of %d warnings in the last 30 days none came true.", all)
	default:
		s = m.say("Of %d warnings in the last 30 days %d came true", all, r.Right)
	}
	return s + m.say(", with %s to spare.", m.Span(r.Spare.Round(time.Minute)))
}
