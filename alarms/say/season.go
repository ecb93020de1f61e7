package say

import (
	"fmt"

	"telltale/alarms"
)

func (n *telling) seasonDue(ended bool) string {
	r, f := n.r, n.f.Season
	if ended {
		return fmt.Sprintf("%s: no other season is due any more%s.", n.where(n.o), n.after())
	}
	if f == nil {
		return n.title(n.o) + "."
	}
	what := dueWords(alarms.Season(r.Verdict), f.Covers)
	if r.Value != nil && r.Peak != nil {
		what += fmt.Sprintf(". Outside it was %s on average in the last %d days, and %s at the least",
			n.Value(alarms.Temperature, *r.Value), f.Days, n.Value(alarms.Temperature, *r.Peak))
	}
	switch in := r.Inside; {
	case in == nil:
	case r.Verdict == string(alarms.SeasonOpen) && in.Hottest != nil:
		the := "The "
		if f.Covers.In(alarms.SeasonWinter) {
			the = "With the vents covered the "
		}
		what += fmt.Sprintf(". %s%s was above %s, where the exhaust fan is to run, on %d of the last %d days, up to %s", the,
			in.Place, n.Value(alarms.Temperature, in.SetPoint), in.Hot, f.Within, n.Value(alarms.Temperature, *in.Hottest))
	case r.Verdict == string(alarms.SeasonWinter):
		what += fmt.Sprintf(". The exhaust fan has not been needed for %d days", in.Quiet)
	}
	return fmt.Sprintf("%s: %s.", n.where(n.o), what)
}

// dueWords says what is to be done for a season, and nothing of what is done already.
func dueWords(s alarms.Season, c alarms.Covers) string {
	switch {
	case s == alarms.SeasonOpen && c.Known && !c.On:
		return "the vents are uncovered, and the season on the page is not set to \"open\" yet"
	case s == alarms.SeasonOpen:
		return "it is time to uncover the vents"
	case c.Known && c.On:
		return "the vents are covered, and the season on the page is not set to \"winter\" yet"
	}
	return "it is time to cover the vents for winter"
}

// dueCheck says what to do first for the season that is due.
func dueCheck(s alarms.Season, c alarms.Covers) string {
	if c.Known && c.On == (s != alarms.SeasonOpen) {
		return "set the season on the page"
	}
	return "the vents; then set the season on the page"
}
