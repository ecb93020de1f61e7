package say

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// Holding is one thing that a plan has told of a place: a band, or how long a
// limit may be passed. It is made of the very plan that is judged by.
type Holding struct {
	Says   string // "temperature by day: low 10.0 °C, high 33.0 °C"
	Source string // where the figures come from; "" where the plan does not say
}

// Holdings lists what p has told, bands before exposures and rates.
func Holdings(p *alarms.Place, m Locale) []Holding {
	var all []Holding
	for i := range p.Bands {
		if b := &p.Bands[i]; anyOf(b.Limits) {
			all = append(all, Holding{m.bandHeld(b), b.Source})
		}
	}
	for i := range p.Exposures {
		x := &p.Exposures[i]
		harm := doses{m}.harmful(&alarms.ExposureReason{Limit: x.Time, LimitDegreeHours: x.DegreeHours})
		all = append(all, Holding{harm + " " + doses{m}.within(x) + inSeasons(x.Seasons) + ": " + x.Says, x.Source})
	}
	for _, r := range p.Rates {
		var parts []string
		if r.Rise.Set {
			parts = append(parts, "rising more than "+m.Distance(r.Quantity, r.Rise.Value)+" an hour")
		}
		if r.Fall.Set {
			parts = append(parts, "falling more than "+m.Distance(r.Quantity, r.Fall.Value)+" an hour")
		}
		if len(parts) > 0 {
			all = append(all, Holding{Says: m.Word(r.Quantity) + ": " + strings.Join(parts, ", ")})
		}
	}
	return all
}

func anyOf(l alarms.Limits) bool { return l.LowLow.Set || l.Low.Set || l.High.Set || l.HighHigh.Set }

// bandHeld writes the limits of b, and for how long they may be passed where
// that is long.
func (m Locale) bandHeld(b *alarms.Band) string {
	s := m.Word(b.Quantity)
	if b.When != alarms.Always {
		s += " by " + b.When.String()
	}
	var parts []string
	for _, one := range []struct {
		name  string
		limit alarms.Limit
		delay time.Duration
	}{{"low-low", b.LowLow, b.QuickDelay}, {"low", b.Low, b.Delay}, {"high", b.High, b.Delay}, {"high-high", b.HighHigh, b.QuickDelay}} {
		if !one.limit.Set {
			continue
		}
		said := one.name + " " + m.Value(b.Quantity, one.limit.Value)
		if one.delay >= longDelay {
			said += " for " + m.Span(one.delay)
		}
		parts = append(parts, said)
	}
	return s + inSeasons(b.Seasons) + ": " + strings.Join(parts, ", ")
}

func inSeasons(all []alarms.Season) string {
	if len(all) == 0 || len(all) == len(alarms.Seasons) {
		return ""
	}
	var names []string
	for _, s := range alarms.Seasons {
		if slices.Contains(all, s) {
			names = append(names, string(s))
		}
	}
	return " in the season " + alarms.List(names)
}
