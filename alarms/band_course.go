package alarms

import (
	"slices"
	"time"
)

// SeasonFrom is a season of a house and since when it holds.
type SeasonFrom struct {
	From   time.Time
	Season Season
}

// Held is a stretch of time over which season and daypart of a house were the
// same, and so were its bands.
type Held struct {
	From, To time.Time
	Season   Season
	Daypart  Daypart
	// Settling: the change before is so fresh that the looser limit holds.
	Settling bool
	before   struct {
		season  Season
		daypart Daypart
	}
}

// BandStep is one stretch of time and the limits that were in force over it.
type BandStep struct {
	From, To time.Time
	Limits
}

// Course lists what held in h from..to, by the days of its plan and by seasons,
// which are sorted and of which the first holds before its own time too. The
// plan must be a filled one.
func (h *House) Course(seasons []SeasonFrom, from, to time.Time) []Held {
	if !from.Before(to) {
		return nil
	}
	settle := max(h.Day.Settle, 0)
	begin := from.Add(-settle) // a change just before from may be settling yet
	run := h.DaysOf()
	now := Held{From: begin, Season: seasonAt(seasons, h.Season, begin), Daypart: run.PartAt(begin)}
	settled := begin
	var out []Held
	for now.From.Before(to) {
		next, ok := run.NextChange(now.From)
		if !ok || next.After(to) {
			next = to
		}
		for _, s := range seasons {
			if s.From.After(now.From) && s.From.Before(next) {
				next = s.From
			}
		}
		if now.Settling = settled.After(now.From); now.Settling && settled.Before(next) {
			next = settled
		}
		now.To = next
		out = append(out, now)
		was := now
		now = Held{From: next, Season: seasonAt(seasons, h.Season, next), Daypart: run.PartAt(next), before: was.before}
		if now.Season != was.Season || now.Daypart != was.Daypart {
			now.before.season, now.before.daypart = was.Season, was.Daypart
			settled = next.Add(settle)
		}
	}
	return cutHeld(out, from)
}

// cutHeld drops what ended by from.
func cutHeld(all []Held, from time.Time) []Held {
	all = slices.DeleteFunc(all, func(x Held) bool { return !x.To.After(from) })
	if len(all) > 0 && all[0].From.Before(from) {
		all[0].From = from
	}
	return all
}

func seasonAt(seasons []SeasonFrom, first Season, at time.Time) Season {
	s := first
	for i, c := range seasons {
		if i == 0 || !c.From.After(at) {
			s = c.Season
		}
	}
	return s
}

// Steps are the limits of q at p over a course of its house, as the core judged
// by them; equal ones that follow each other are one step.
func (p *Place) Steps(q Quantity, course []Held) []BandStep {
	var out []BandStep
	for _, c := range course {
		band, ok := p.InForce(q, c.Season, c.Daypart)
		old, had := p.InForce(q, c.before.season, c.before.daypart)
		if ok && had && c.Settling {
			band.Limits = Looser(band.Limits, old.Limits)
		}
		if n := len(out); n > 0 && out[n-1].Limits == band.Limits && out[n-1].To.Equal(c.From) {
			out[n-1].To = c.To
			continue
		}
		out = append(out, BandStep{From: c.From, To: c.To, Limits: band.Limits})
	}
	return out
}
