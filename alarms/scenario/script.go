package scenario

import (
	"strings"
	"time"

	"telltale/alarms"
)

const (
	mostInLine = 100_000 // inputs of one series
	mostInFile = 500_000
)

// script reads the days, the timed lines and the expectations.
func (p *parser) script(ls []line) {
	for _, l := range ls {
		c := newCursor(l.text)
		switch {
		case l.indented:
			p.expectation(c, l)
		case c.take("on"):
			p.times.day = c.name("a day such as 2026-06-21")
			if _, err := time.Parse(dayForm, p.times.day); c.err == nil && err != nil {
				c.fail("want a day such as 2026-06-21, got %q", p.times.day)
			}
			c.end()
		default:
			p.timed(c, l)
		}
		if c.err != nil {
			p.add(l.first, "%v", c.err)
		}
	}
}

// span is when a line happens: once, or every so often until To.
type span struct {
	from, to time.Time
	every    time.Duration // 0: once
}

func (p *parser) span(c *cursor) span {
	s := span{from: c.moment(p.times, "the start of the line")}
	if c.take("to") {
		s.to = c.moment(p.times, "the end of the series")
		if c.err == nil && !s.to.After(s.from) {
			s.to = s.to.AddDate(0, 0, 1)
		}
		if c.err == nil && !s.to.After(s.from) {
			c.fail("want the end of the series after its start %s", p.times.write(s.from))
		}
		c.need("every")
		s.every = c.duration("the series")
	}
	return s
}

// moments lists when the span's inputs are due, the start included, and the
// end too if the steps meet it.
func (s span) moments(c *cursor) []time.Time {
	if c.err != nil {
		return nil
	}
	if s.every == 0 {
		return []time.Time{s.from}
	}
	n := s.to.Sub(s.from)/s.every + 1
	if n > mostInLine {
		c.fail("want at most %d readings in a line, got %d", mostInLine, n)
		return nil
	}
	out := make([]time.Time, 0, n)
	for t := s.from; !t.After(s.to); t = t.Add(s.every) {
		out = append(out, t)
	}
	return out
}

// timed reads one line that happens at a time.
func (p *parser) timed(c *cursor, l line) {
	sp := p.span(c)
	step := Step{Line: l.first, last: l.last}
	switch {
	case c.take("tick"):
		c.end()
		for _, t := range sp.moments(c) {
			step.Inputs = append(step.Inputs, alarms.Input{At: t, Kind: alarms.Tick})
		}
	case p.isEvent(c):
		in := p.event(c)
		in.At = sp.from
		if sp.every != 0 {
			c.fail("want a single time here: only readings and ticks come in series")
		}
		step.Inputs = []alarms.Input{in}
	default:
		step.Inputs = p.readings(c, sp)
	}
	p.keep(c, step)
}

// keep takes the step into the scenario if it fits behind what came before.
func (p *parser) keep(c *cursor, step Step) {
	if c.err != nil {
		return
	}
	p.count += len(step.Inputs)
	if p.count > mostInFile {
		c.fail("want at most %d inputs in a file", mostInFile)
		return
	}
	if at := step.Inputs[0].At; at.Before(p.times.last) {
		c.fail("want a time not before %s, got %s", p.times.write(p.times.last), p.times.write(at))
		return
	}
	step.day = p.times.day
	p.times.last = step.Inputs[len(step.Inputs)-1].At
	p.s.Steps = append(p.s.Steps, step)
}

// isEvent looks at what comes after the time, without taking it.
func (p *parser) isEvent(c *cursor) bool {
	if c.is("link", "watch", "somebody", "trouble", "clock") {
		return true
	}
	second := *c
	second.next++
	return second.is("acknowledges", "shelves", "unshelves", "tries", "takes", "puts", "sets", "turns", "calibrates", "goes", "comes")
}

// event reads what happens to the watch or what a person does.
func (p *parser) event(c *cursor) alarms.Input {
	switch {
	case c.take("link", "lost"):
		return alarms.Input{Kind: alarms.LinkDown, Note: c.after(":")}
	case c.take("link", "back"):
		return alarms.Input{Kind: alarms.LinkUp, Note: c.after(":")}
	case c.take("watch", "restarts"):
		return alarms.Input{Kind: alarms.RestartMarker, Note: c.after(":")}
	case c.take("watch", "stood", "still", "since"):
		in := alarms.Input{Kind: alarms.StoodStill, Since: c.moment(p.times, "when the watch came to stand still")}
		c.end()
		return in
	case c.take("clock", "put", "forward", "by"):
		return p.clockStep(c, +1)
	case c.take("clock", "put", "back", "by"):
		return p.clockStep(c, -1)
	case c.take("trouble", "over"):
		in := alarms.Input{Kind: alarms.TroubleOff, Alarm: alarms.AlarmID(c.name("a trouble"))}
		c.end()
		return in
	case c.take("trouble"):
		in := alarms.Input{Kind: alarms.TroubleOn, Alarm: alarms.AlarmID(c.name("a trouble"))}
		in.Note = c.after(":")
		return in
	case c.is("link", "watch", "clock"):
		c.fail(`want "link lost", "link back", "watch restarts", "watch stood still since", "clock put forward by" or "clock put back by", got %q`, strings.TrimSpace(c.rest()))
		return alarms.Input{}
	}
	return p.person(c)
}

func (p *parser) clockStep(c *cursor, sign time.Duration) alarms.Input {
	in := alarms.Input{Kind: alarms.ClockStep, Shift: sign * c.duration("how far the clock was put")}
	c.end()
	return in
}

// person reads what a person does.
func (p *parser) person(c *cursor) alarms.Input {
	in := alarms.Input{}
	if !c.take("somebody") {
		in.By = c.name("a person")
	}
	switch {
	case c.take("acknowledges", "everything"):
		in.Kind = alarms.Acknowledge
		p.until(c, &in, "the end of the way")
		c.end()
	case c.take("acknowledges"):
		in.Kind, in.Alarm = alarms.Acknowledge, alarms.AlarmID(c.name("an alarm"))
		p.until(c, &in, "the end of the way")
		c.end()
	case c.take("shelves"):
		in.Kind, in.Alarm = alarms.Shelve, alarms.AlarmID(c.name("an alarm"))
		p.until(c, &in, "the end of shelving")
		in.Note = c.after("because")
	case c.take("tries"):
		in.Kind = alarms.Shelve
		drive := c.name("a drive")
		c.need("of")
		in.Alarm = alarms.AlarmID(c.name("a house") + "/" + drive + "/switching")
		p.until(c, &in, "the end of trying")
		in.Note = c.after("because")
	case c.take("unshelves"):
		in.Kind, in.Alarm = alarms.Unshelve, alarms.AlarmID(c.name("an alarm"))
		c.end()
	case c.take("takes", "out"):
		in.Kind = alarms.TakeOut
		p.subject(c, &in)
	case c.take("puts", "back"):
		in.Kind = alarms.PutBack
		p.subject(c, &in)
	default:
		p.setting(c, &in)
	}
	return in
}

// until reads until when a person acknowledges or shelves, where it is given.
func (p *parser) until(c *cursor, in *alarms.Input, what string) {
	if c.take("until") {
		in.Until = c.moment(p.times, what)
	}
}

// setting reads what a person sets.
func (p *parser) setting(c *cursor, in *alarms.Input) {
	switch {
	case c.take("sets"):
		in.Kind, in.House = alarms.SetSeason, alarms.HouseID(c.name("a house"))
		c.need("to")
		in.Season = alarms.Season(c.name("a season"))
		c.end()
	case c.take("turns"):
		in.Kind, in.Selector = alarms.SetSelector, alarms.SelectorID(c.name("a selector"))
		c.need("of")
		in.House = alarms.HouseID(c.name("a house"))
		c.need("to")
		in.Position = c.name("a position")
		c.end()
	case c.take("calibrates"):
		p.calibration(c, in)
	case c.take("goes", "away"):
		in.Kind, in.Person = alarms.GoAway, in.By
		p.until(c, in, "the end of the leave")
		if c.take("with") {
			in.StandIn = c.name("who is told first")
			c.need("first")
		}
		in.Spared = c.take("and", "spared")
		c.end()
	case c.take("comes", "back"):
		in.Kind, in.Person = alarms.ComeBack, in.By
		c.end()
	default:
		c.fail("want what the person does (acknowledges, shelves, unshelves, tries, takes out, puts back, sets, turns, calibrates, goes away, comes back), got %s", c.got())
	}
}

// subject reads "probe P" or "alarm A" and the reason.
func (p *parser) subject(c *cursor, in *alarms.Input) {
	switch {
	case c.take("probe"):
		in.Probe = alarms.ProbeID(c.name("a probe"))
	case c.take("alarm"):
		in.Alarm = alarms.AlarmID(c.name("an alarm"))
	default:
		c.fail("want \"probe NAME\" or \"alarm NAME\", got %s", c.got())
	}
	in.Note = c.after("because")
}

// calibration reads "bench-1 temperature by -0.6" and the reason.
func (p *parser) calibration(c *cursor, in *alarms.Input) {
	in.Kind, in.Probe = alarms.Calibrate, alarms.ProbeID(c.name("a probe"))
	in.Quantity = alarms.Quantity(c.name("a quantity"))
	if c.err == nil && !in.Quantity.Known() {
		c.fail("want one of the quantities %v, got %q", alarms.Quantities, in.Quantity)
	}
	c.need("by")
	in.Value = c.number("what is added to each reading")
	in.Note = c.after("because")
}

// after reads the free words behind a mark or word, if it comes.
func (c *cursor) after(intro string) string {
	if c.take(intro) {
		return c.rest()
	}
	c.end()
	return ""
}
