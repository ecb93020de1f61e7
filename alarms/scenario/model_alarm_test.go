package scenario_test

import (
	"strings"

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
	until     int // end of the shelf
	remind    int // asks again
	quiet     int // end of holding
	held      bool
	raises    []int
}

// box holds the cards and the log.
type box struct {
	plan  alarms.Plan
	cards []*card
	log   []noted
}

func (b *box) add(id alarms.AlarmID, p func(alarms.Level) alarms.Priority) *card {
	c := &card{id: id, priority: p}
	b.cards = append(b.cards, c)
	return c
}

func fixed(p alarms.Priority) func(alarms.Level) alarms.Priority {
	return func(alarms.Level) alarms.Priority { return p }
}

// note moves c and writes it down.
func (b *box) note(c *card, t int, m alarms.Move, to alarms.State) {
	b.log = append(b.log, noted{t, c.id, m, c.state, to, c.told})
	c.state = to
	c.remind = 0
	switch to {
	case alarms.Acknowledged:
		after := map[alarms.Priority]int{
			alarms.Low:    int(b.plan.Reminders.Low.Seconds()),
			alarms.Medium: int(b.plan.Reminders.Medium.Seconds()),
			alarms.High:   int(b.plan.Reminders.High.Seconds()),
		}
		c.remind = t + after[c.priority(max(c.told, alarms.Outer))]
	case alarms.Unacknowledged:
	default:
		c.quiet, c.held = 0, false
	}
}

// due does what the clock alone brings about for c at second t.
func (b *box) due(c *card, t int) {
	if c.state == alarms.Shelved && c.until == t {
		b.unshelve(c, t)
	}
	if c.remind == t && c.state == alarms.Acknowledged {
		b.note(c, t, alarms.Realarm, alarms.Unacknowledged)
	}
	if c.quiet != 0 && c.quiet == t {
		c.quiet, c.held, c.raises = 0, false, nil
		if c.state.Active() && c.condition == alarms.Within {
			b.end(c, t)
		}
	}
}

// now says how bad c's condition is, and whether another alarm says it.
func (b *box) now(c *card, t int, level alarms.Level, spoken bool) {
	c.condition, c.spoken = level, spoken
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
		b.follow(c, t)
	}
}

func (b *box) follow(c *card, t int) {
	before := c.told
	switch {
	case c.condition == alarms.Within:
		if before == alarms.Within {
			return
		}
		if !c.held {
			b.end(c, t)
		} else if c.quiet == 0 {
			c.quiet = t + int(b.plan.Chatter.Hold.Seconds())
		}
	case before == alarms.Within:
		c.told = c.condition
		b.note(c, t, alarms.Raise, alarms.Unacknowledged)
		recent := []int{t}
		for _, r := range c.raises {
			if t-r < int(b.plan.Chatter.Within.Seconds()) {
				recent = append(recent, r)
			}
		}
		c.raises = recent
		if len(recent) >= b.plan.Chatter.Raises {
			c.held = true
			b.note(c, t, alarms.Chatter, alarms.Unacknowledged)
		}
	default:
		c.quiet = 0
		if c.condition > before {
			c.told = c.condition
			b.note(c, t, alarms.Worsen, alarms.Unacknowledged)
		} else if c.condition < before && !c.held { // while held the worst stays
			c.told = c.condition
			b.note(c, t, alarms.Ease, c.state)
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
		if c.state == alarms.Unacknowledged {
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
