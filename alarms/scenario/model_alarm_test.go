package scenario_test

import (
	"math"
	"strings"
	"time"

	"telltale/alarms"
)

// The naive model knows houses of one place with one probe. It lives second
// by second: at every second it looks whether something is due, then takes
// the inputs of that second. It shares nothing with the core but its words.

// noted is one transition as the model sees it; due in seconds from the start.
type noted struct {
	due      int
	alarm    alarms.AlarmID
	move     alarms.Move
	from, to alarms.State
	level    alarms.Level
}

// card is the card of one alarm in the model's box.
type card struct {
	id        alarms.AlarmID
	priority  func(alarms.Level) alarms.Priority
	state     alarms.State
	condition alarms.Level // what is wrong
	told      alarms.Level // what was told of it
	spoken    bool         // another alarm says it
	taken     bool         // was acknowledged when another began to say it
	shelvedAt alarms.Level
	until     int                                  // end of the shelf
	remind    int                                  // asks again, or nobody is on the way any more
	again     int                                  // times it asked again
	asked     int                                  // when it asked last
	hold      int                                  // of whoever took it, seconds
	late      bool                                 // the time to ask again came in a quiet moment
	how       func() (worse, step, better float64) // how bad it is, what is worth telling; nil: it is or it is not
	mark      float64                              // how bad it was when told or taken; NaN: not known
	quiet     int                                  // end of holding
	held      bool
	passes    []passing
	inside    int // when it was last over, told or not
	began     int // its condition
	every     int // of the probe by which a value swings about a limit, seconds; 0: it is none
}

// passing is one time that a card got worse by a level; told is how bad it was
// when it was told last, while that went on.
type passing struct {
	at       int
	from, to alarms.Level
	told     float64
}

// box holds the cards and the log.
type box struct {
	plan  alarms.Plan
	cards []*card
	log   []noted

	awayTo int // until this second the watch does not run
}

func (b *box) add(id alarms.AlarmID, p func(alarms.Level) alarms.Priority) *card {
	c := &card{id: id, priority: p, mark: math.NaN()}
	b.cards = append(b.cards, c)
	return c
}

func fixed(p alarms.Priority) func(alarms.Level) alarms.Priority {
	return func(alarms.Level) alarms.Priority { return p }
}

// note moves c and writes it down.
func (b *box) note(c *card, t int, m alarms.Move, to alarms.State) {
	from := c.state
	b.log = append(b.log, noted{t, c.id, m, from, to, c.told})
	c.state = to
	switch {
	case to == alarms.Acknowledged && m == alarms.Ease:
	case to == alarms.Acknowledged:
		if m != alarms.Ack {
			c.hold = b.usual(c)
		}
		c.remind, c.late = t+c.hold, false
		c.measure()
	case to == alarms.Unacknowledged:
		again := m == alarms.Realarm && from == alarms.Unacknowledged
		switch {
		case m == alarms.Ease, m == alarms.Chatter:
		case again:
			c.again++
		default:
			c.again = 0
		}
		if m != alarms.Ease && m != alarms.Chatter {
			c.asked = t
		}
		switch {
		case m == alarms.Ease, m == alarms.Chatter, again && c.held:
		case again:
			c.measure()
		default:
			c.measure()
			for _, p := range c.passes {
				if c.held && !math.IsNaN(p.told) && !(c.mark >= p.told) {
					c.mark = p.told
				}
			}
		}
		c.remind, c.late = 0, false
		if b.graveness(c) > alarms.Low {
			c.remind = max(t, c.asked+b.pause(c))
		}
	default:
		c.quiet, c.held, c.late, c.remind, c.mark = 0, false, false, 0, math.NaN()
	}
}

func (c *card) measure() {
	if c.how != nil {
		c.mark, _, _ = c.how()
	}
}

// aside reports whether somebody put c aside: it says nothing, for nobody.
func (c *card) aside() bool { return c.state == alarms.Shelved || c.state == alarms.OutOfService }

// worse reports whether c is so much worse than when it was told or taken that
// it must be told.
func (c *card) worse() bool {
	if c.how == nil {
		return false
	}
	now, step, _ := c.how()
	return now-c.mark >= step
}

func (b *box) graveness(c *card) alarms.Priority { return c.priority(max(c.told, alarms.Outer)) }

// usual is for how long whoever takes c is on the way unless they say.
func (b *box) usual(c *card) int {
	r := b.plan.Reminders
	return int(map[alarms.Priority]time.Duration{alarms.Low: r.Low, alarms.Medium: r.Medium, alarms.High: r.High}[b.graveness(c)].Seconds())
}

// pause is how long c waits until it asks once more.
func (b *box) pause(c *card) int {
	if b.graveness(c) == alarms.Medium {
		return int(b.plan.Reminders.RepeatMedium.Seconds())
	}
	every := int(b.plan.Reminders.RepeatHigh.Seconds())
	switch {
	case c.again == 0:
		return every / 3
	case c.again <= 8:
		return every
	}
	return 2 * every
}

// askAgain does what is due when c waited for long enough.
func (b *box) askAgain(c *card, t int) {
	now, better := math.NaN(), 0.0
	if c.how != nil {
		now, _, better = c.how()
	}
	switch {
	case c.condition == alarms.Within:
		c.late, c.remind = true, 0
	case c.state == alarms.Unacknowledged && t < b.awayTo:
		c.remind = b.awayTo
	case c.state == alarms.Acknowledged && c.mark-now >= better && c.how != nil:
		b.refuse(c, t) // a note
		c.remind, c.mark, c.late = t+c.hold, now, false
	default:
		b.note(c, t, alarms.Realarm, alarms.Unacknowledged)
	}
}

// due does what the clock alone brings about for c at second t.
func (b *box) due(c *card, t int) {
	if c.state == alarms.Shelved && c.until == t {
		b.unshelve(c, t)
	}
	if c.quiet != 0 && c.quiet == t {
		c.quiet = 0
		b.rest(c, t)
	}
	if c.remind == t && c.state.Active() {
		b.askAgain(c, t)
	}
}

// rest does what is due when a held card has not changed for long enough.
func (b *box) rest(c *card, t int) {
	over := c.inside + b.calm(c)
	switch {
	case !c.state.Active():
		c.held = false
	case c.condition == alarms.Within && t >= over:
		c.held = false
		b.end(c, t)
	case c.condition == alarms.Within:
		c.quiet = over
	case c.condition < c.told:
		c.told = c.condition
		b.note(c, t, alarms.Ease, c.state)
	}
}

// calm is for how long a held card must be quiet, in seconds.
func (b *box) calm(c *card) int {
	hold := int(b.plan.Chatter.Hold.Seconds())
	if c.every == 0 {
		return hold
	}
	longest, last := 0, -1
	for _, p := range c.passes {
		if p.from == alarms.Within {
			if last >= 0 {
				longest = max(longest, p.at-last)
			}
			last = p.at
		}
	}
	return max(hold, min(longest*3/2, 5400)+1, 3*c.every+1)
}

// pass notes that c got worse, and reports whether it is held from now on.
func (b *box) pass(c *card, t int, from alarms.Level) bool {
	back, least := int(b.plan.Chatter.Within.Seconds()), b.plan.Chatter.Raises
	if c.every > 0 {
		back, least = max(back, 7200, 4*c.every), 2
	}
	var recent []passing
	for _, p := range c.passes {
		if t-p.at < back {
			recent = append(recent, p)
		}
	}
	recent = append(recent[max(0, len(recent)-63):], passing{t, from, c.condition, math.NaN()})
	c.passes = recent
	came, worse := 0, 0
	for _, p := range recent {
		if p.from == alarms.Within {
			came++
		}
		if p.to > alarms.Outer {
			worse++
		}
	}
	starts := !c.held && (came >= least || c.every > 0 && worse >= least)
	c.held = c.held || starts
	return starts
}

// now says how bad c's condition is, and whether another alarm says it.
func (b *box) now(c *card, t int, level alarms.Level, spoken bool) {
	before := c.condition
	c.condition, c.spoken = level, spoken
	if before == alarms.Within {
		c.began = t
	}
	switch c.state {
	case alarms.OutOfService:
	case alarms.Shelved:
		limit := strings.HasSuffix(string(c.id), "/low") || strings.HasSuffix(string(c.id), "/high")
		if limit && level == alarms.Inner && c.shelvedAt != alarms.Inner {
			b.unshelve(c, t)
		}
	case alarms.SuppressedByDesign:
		if level == alarms.Within {
			c.told = alarms.Within
			b.note(c, t, alarms.Release, alarms.Normal)
		} else if !spoken {
			b.wake(c, t, alarms.Release, c.taken && level <= c.told)
		}
	default:
		if level != alarms.Within && spoken {
			c.taken = c.state == alarms.Acknowledged
			c.told = level
			b.note(c, t, alarms.Suppress, alarms.SuppressedByDesign)
			return
		}
		starts := level > before && b.pass(c, t, before)
		if level == alarms.Within && before != alarms.Within {
			c.inside = t
			for i := len(c.passes) - 1; i >= 0; i-- {
				if c.passes[i].from == alarms.Within {
					c.passes[i].told = c.mark
					break
				}
			}
		}
		b.follow(c, t)
		if starts {
			b.note(c, t, alarms.Chatter, c.state)
		}
	}
}

func (b *box) follow(c *card, t int) {
	before := c.told
	switch {
	case c.condition == alarms.Within:
		if before == alarms.Within {
			return
		}
		if !c.held || t-c.began > b.calm(c) {
			c.held = false
			b.end(c, t)
		} else if c.quiet == 0 {
			c.quiet = t + b.calm(c)
		}
	case before == alarms.Within:
		c.told = c.condition
		for _, p := range c.passes {
			if c.held && c.every > 0 {
				c.told = max(c.told, p.to)
			}
		}
		b.note(c, t, alarms.Raise, alarms.Unacknowledged)
		if c.condition < c.told {
			c.quiet = t + b.calm(c)
		}
	default:
		if c.condition >= before {
			c.quiet = 0
		} else if c.held && c.quiet == 0 {
			c.quiet = t + b.calm(c)
		}
		if c.condition > before {
			c.told = c.condition
			b.note(c, t, alarms.Worsen, alarms.Unacknowledged)
		} else if c.condition < before && !c.held { // while held the worst stays
			c.told = c.condition
			b.note(c, t, alarms.Ease, c.state)
		} else if c.worse() {
			b.note(c, t, alarms.Worsen, alarms.Unacknowledged)
		} else if c.late {
			b.askAgain(c, t)
		}
	}
}

func (b *box) end(c *card, t int) {
	c.told = alarms.Within
	to := alarms.Normal
	if c.state == alarms.Unacknowledged {
		to = alarms.ReturnedUnack
	}
	b.note(c, t, alarms.Return, to)
}

// wake brings a hidden card to where its condition puts it.
func (b *box) wake(c *card, t int, m alarms.Move, taken bool) {
	c.told = c.condition
	to := alarms.Unacknowledged
	switch {
	case c.condition == alarms.Within:
		to = alarms.Normal
	case c.spoken:
		to, c.taken = alarms.SuppressedByDesign, false
	case taken:
		to = alarms.Acknowledged
	}
	b.note(c, t, m, to)
}

func (b *box) unshelve(c *card, t int) { b.wake(c, t, alarms.ShelveOff, false) }

// person does what a person did to one card.
func (b *box) person(c *card, t int, kind alarms.InputKind, until int) {
	switch kind {
	case alarms.Acknowledge:
		if c.state == alarms.Unacknowledged || c.state == alarms.Acknowledged && until > t {
			c.hold = b.usual(c)
			if until > t {
				c.hold = min(until-t, 24*3600)
			}
			b.note(c, t, alarms.Ack, alarms.Acknowledged)
		} else if c.state == alarms.ReturnedUnack {
			b.note(c, t, alarms.Ack, alarms.Normal)
		}
	case alarms.Shelve:
		switch {
		case c.state == alarms.OutOfService:
		case until <= t || until > t+7*24*3600:
			b.refuse(c, t)
		default:
			c.until, c.shelvedAt, c.told = until, c.condition, c.condition
			b.note(c, t, alarms.ShelveOn, alarms.Shelved)
		}
	case alarms.Unshelve:
		if c.state == alarms.Shelved {
			b.unshelve(c, t)
		}
	case alarms.TakeOut:
		if c.state != alarms.OutOfService {
			b.note(c, t, alarms.Out, alarms.OutOfService)
		}
	case alarms.PutBack:
		if c.state == alarms.OutOfService {
			b.wake(c, t, alarms.Back, false)
		}
	}
}

// refuse writes down a refusal, which changes nothing.
func (b *box) refuse(c *card, t int) {
	b.log = append(b.log, noted{t, c.id, alarms.Note, c.state, c.state, c.told})
}
