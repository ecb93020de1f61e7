package say

import (
	"cmp"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

func (n *telling) seasonDue(ended bool) string {
	r, f := n.r, n.f.Season
	if ended {
		return n.say("%s: no other season is due any more%s.", n.where(n.o), n.after())
	}
	if f == nil {
		return n.title(n.o) + "."
	}
	what := n.dueWords(alarms.Season(r.Verdict), f.Covers)
	if r.Value != nil && r.Peak != nil {
		what += n.say(". Outside it was %s on average in the last %d days, and %s at the least",
			n.Value(alarms.Temperature, *r.Value), f.Days, n.Value(alarms.Temperature, *r.Peak))
	}
	switch in := r.Inside; {
	case in == nil:
	case r.Verdict == string(alarms.SeasonOpen) && in.Hottest != nil:
		the := n.say("The ")
		if f.Covers.In(alarms.SeasonWinter) {
			the = n.say("With the vents covered the ")
		}
		what += n.say(". %s%s was above %s, where the exhaust fan is to run, on %d of the last %d days, up to %s", the,
			in.Place, n.Value(alarms.Temperature, in.SetPoint), in.Hot, f.Within, n.Value(alarms.Temperature, *in.Hottest))
	case r.Verdict == string(alarms.SeasonWinter):
		what += n.say(". The exhaust fan has not been needed for %d days", in.Quiet)
	}
	return n.say("%s: %s.", n.where(n.o), what)
}

// seasons are called so.
var seasons = map[alarms.Season]tongue.Text{alarms.SeasonOpen: "open|season", alarms.SeasonChanging: "changing|season", alarms.SeasonWinter: "winter|season"}

// Season names a season.
func (m Locale) Season(s alarms.Season) string { return m.say(cmp.Or(seasons[s], tongue.Text(s))) }

// KeptSeason names a season as tongue.Keep does.
func KeptSeason(s alarms.Season) string { return tongue.Keep(cmp.Or(seasons[s], tongue.Text(s))) }

// dueWords says what is to be done for a season, and nothing of what is done already.
func (s *speaker) dueWords(of alarms.Season, c alarms.Covers) string {
	switch {
	case of == alarms.SeasonOpen && c.Known && !c.On:
		return s.say("the vents are uncovered, and the season on the page is not set to %q yet", s.Season(alarms.SeasonOpen))
	case of == alarms.SeasonOpen:
		return s.say("it is time to uncover the vents")
	case c.Known && c.On:
		return s.say("the vents are covered, and the season on the page is not set to %q yet", s.Season(alarms.SeasonWinter))
	}
	return s.say("it is time to cover the vents for winter")
}

// dueCheck says what to do first for the season that is due.
func (s *speaker) dueCheck(of alarms.Season, c alarms.Covers) string {
	if c.Known && c.On == (of != alarms.SeasonOpen) {
		return s.say("set the season on the page")
	}
	return s.say("the vents; then set the season on the page")
}
