package gateway

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
)

// atHand are the rules with the leaves that run.
func (w *watch) atHand() reach.Rules {
	r := w.rules
	r.Leaves = w.Picture().Leaves
	return r
}

// Line implements service.Line.
func (w *watch) Line() service.Hands {
	r, now := w.atHand(), w.Now()
	h := service.Hands{AtHand: r.AtHand(now), People: r.Line()}
	for _, l := range r.Leaves {
		if h.Known(l.Person) {
			l.StandIn = r.StandIn(l.Person, now)
			h.Away = append(h.Away, l)
		}
	}
	return h
}

// Refusals of a leave.
const (
	refusedEnd    = service.Refusal("The end must be in the future and within 31 days, so nothing was set.")
	refusedPerson = service.Refusal("Nobody of that name is told of alarms, so nothing was set.")
)

// GoAway implements service.Line. Who is to stand in and is away is taken for who stands
// in for them.
func (w *watch) GoAway(ctx context.Context, l alarms.Leave, by string) (said string, err error) {
	r, now := w.atHand(), w.Now()
	h := service.Hands{People: r.Line()}
	switch {
	case !h.Known(l.Person), l.StandIn != "" && !h.Known(l.StandIn):
		return "", refusedPerson
	case !l.Until.After(now) || l.Until.Sub(now) > alarms.LongestLeave:
		return "", refusedEnd
	}
	r.Leaves = append(r.Leaves[:len(r.Leaves):len(r.Leaves)], alarms.Leave{Person: l.Person, StandIn: l.StandIn, Since: now, Until: l.Until})
	return w.leave(ctx, alarms.Input{Kind: alarms.GoAway, Person: l.Person, StandIn: r.StandIn(l.Person, now), Spared: l.Spared, Until: l.Until, By: by})
}

// Back implements service.Line.
func (w *watch) Back(ctx context.Context, person, by string) (said string, err error) {
	return w.leave(ctx, alarms.Input{Kind: alarms.ComeBack, Person: person, By: by})
}

// leave has the core take a leave, and returns its sentence of it; "" where nothing
// changed.
func (w *watch) leave(ctx context.Context, in alarms.Input) (said string, err error) {
	made, err := w.perform(ctx, in)
	for _, t := range made {
		if l := t.Reason.Leave; l != nil && t.Reason.Rule == alarms.RuleLeave && l.Person == in.Person {
			said = t.Sentence
		}
	}
	return said, err
}

// away takes that a person is not at hand, by text message: the next in line is told
// too, and the person as before.
func (ph *phones) away(ctx context.Context, person, text string) (string, error) {
	w := ph.p.watch
	until, ok := leaveEnd(text, w.Now().In(ph.p.zone()))
	if !ok {
		return reach.AnswerGone(), nil
	}
	said, err := w.GoAway(ctx, alarms.Leave{Person: person, Until: until}, person)
	var refused service.Refusal
	switch {
	case errors.As(err, &refused):
		return reach.AnswerLong(), nil
	case err != nil:
		return "", err
	}
	return reach.AnswerLeave(said), nil
}

func (ph *phones) back(ctx context.Context, person string) (string, error) {
	said, err := ph.p.watch.Back(ctx, person, person)
	if said == "" {
		said = reach.AnswerBack()
	}
	return reach.AnswerLeave(said), err
}

func (p *parts) zone() *time.Location {
	if z := p.cfg.Plan.Words.Zone; z != nil {
		return z
	}
	return time.UTC
}

// usualLeave is the length of a leave whose end is not given. Common practice, no source.
const usualLeave = 24 * time.Hour

// leaveEnd reads when somebody will be back, as people write it in a text: "SUN 18:00",
// "18:00", "tomorrow", "24 Dec 18:00", "36 h", "3 days", or nothing. A day without a
// clock time is meant with all of it. now is in the zone of the garden's clocks.
func leaveEnd(text string, now time.Time) (time.Time, bool) {
	words := strings.Fields(strings.ToLower(strings.NewReplacer(",", " ", "!", " ", "?", " ").Replace(text)))
	for len(words) > 0 && (words[0] == "until" || words[0] == "till" || words[0] == "for" || words[0] == "to") {
		words = words[1:]
	}
	if len(words) == 0 {
		return now.Add(usualLeave), true
	}
	if d, ok := leaveLength(strings.Join(words, "")); ok {
		return now.Add(d), true
	}
	clock, timed := clockTime(words[len(words)-1])
	if timed {
		words = words[:len(words)-1]
	}
	day, ok := leaveDay(words, now)
	switch {
	case !ok || len(words) == 0 && !timed:
		return time.Time{}, false
	case !timed:
		return onDay(day.AddDate(0, 0, 1), 0), true
	}
	until := onDay(day, clock)
	switch {
	case until.After(now):
	case len(words) == 0:
		until = onDay(day.AddDate(0, 0, 1), clock)
	case len(words) == 1 && words[0] != "today": // this day of the week
		until = onDay(day.AddDate(0, 0, 7), clock)
	}
	return until, true
}

// onDay is when clocks show a time on a day.
func onDay(day time.Time, clock time.Duration) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, int(clock/time.Hour), int(clock/time.Minute)%60, 0, 0, day.Location())
}

// leaveLength reads "36h" and "3days".
func leaveLength(text string) (time.Duration, bool) {
	digits := strings.TrimRight(text, "abcdefghijklmnopqrstuvwxyz.")
	n, err := strconv.Atoi(digits)
	if err != nil || n < 1 || n > 1000 {
		return 0, false
	}
	switch strings.TrimSuffix(text[len(digits):], ".") {
	case "h", "hr", "hrs", "hour", "hours":
		return time.Duration(n) * time.Hour, true
	case "d", "day", "days":
		return time.Duration(n) * 24 * time.Hour, true
	case "w", "week", "weeks":
		return time.Duration(n) * 7 * 24 * time.Hour, true
	}
	return 0, false
}

// clockTime reads "18:00", "18.00" and "1800".
func clockTime(text string) (time.Duration, bool) {
	h, m, found := strings.Cut(strings.Replace(text, ".", ":", 1), ":")
	if !found && len(text) == 4 {
		h, m = text[:2], text[2:]
	}
	hours, err1 := strconv.Atoi(h)
	minutes, err2 := strconv.Atoi(m)
	if err1 != nil || err2 != nil || len(m) != 2 || hours < 0 || hours > 23 || minutes < 0 || minutes > 59 {
		return 0, false
	}
	return time.Duration(hours)*time.Hour + time.Duration(minutes)*time.Minute, true
}

// leaveDay reads a day: today where there is no word, "tomorrow", "sun", "24 dec".
func leaveDay(words []string, now time.Time) (time.Time, bool) {
	today := onDay(now, 0)
	switch len(words) {
	case 0:
		return today, true
	case 1:
		switch words[0] {
		case "today", "tonight":
			return today, true
		case "tomorrow":
			return today.AddDate(0, 0, 1), true
		}
		for i := range 7 {
			if day := today.AddDate(0, 0, i); begins(day.Weekday().String(), words[0]) {
				return day, true
			}
		}
	case 2:
		for _, two := range [][2]string{{words[0], words[1]}, {words[1], words[0]}} {
			date, err := strconv.Atoi(strings.TrimRight(two[0], "sthndr."))
			for m := time.January; err == nil && date > 0 && date <= 31 && m <= time.December; m++ {
				if !begins(m.String(), two[1]) {
					continue
				}
				day := time.Date(now.Year(), m, date, 0, 0, 0, 0, now.Location())
				if day.Before(today) {
					day = day.AddDate(1, 0, 0)
				}
				return day, day.Day() == date
			}
		}
	}
	return time.Time{}, false
}

// begins reports whether a word is a name, or its beginning of three letters or more.
func begins(name, word string) bool {
	return len(word) >= 3 && strings.HasPrefix(strings.ToLower(name), word)
}
