package say

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
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
	d := doses{m}
	for i := range p.Bands {
		if b := &p.Bands[i]; anyOf(b.Limits) {
			all = append(all, Holding{d.band(b), b.Source})
		}
	}
	for i := range p.Exposures {
		x := &p.Exposures[i]
		harm := d.harmful(&alarms.ExposureReason{Limit: x.Time, LimitDegreeHours: x.DegreeHours})
		all = append(all, Holding{m.say("%s %s%s: %s", harm, d.within(x), d.inSeasons(x.Seasons), m.Tongue.Known(x.Says)), x.Source})
	}
	for _, r := range p.Rates {
		var parts []string
		if r.Rise.Set {
			parts = append(parts, m.say("rising more than %s an hour", m.Distance(r.Quantity, r.Rise.Value)))
		}
		if r.Fall.Set {
			parts = append(parts, m.say("falling more than %s an hour", m.Distance(r.Quantity, r.Fall.Value)))
		}
		if len(parts) > 0 {
			all = append(all, Holding{Says: m.Word(r.Quantity) + ": " + strings.Join(parts, ", ")})
		}
	}
	return all
}

func anyOf(l alarms.Limits) bool { return l.LowLow.Set || l.Low.Set || l.High.Set || l.HighHigh.Set }

// band writes the limits of b, and for how long they may be passed where that is long.
func (m doses) band(b *alarms.Band) string {
	s := m.Word(b.Quantity)
	if b.When != alarms.Always {
		s += m.by(b.When)
	}
	var parts []string
	for _, one := range []struct {
		said  tongue.Text
		limit alarms.Limit
		delay time.Duration
	}{{"low-low %s", b.LowLow, b.QuickDelay}, {"low %s", b.Low, b.Delay}, {"high %s", b.High, b.Delay}, {"high-high %s", b.HighHigh, b.QuickDelay}} {
		if !one.limit.Set {
			continue
		}
		said := m.say(one.said, m.Value(b.Quantity, one.limit.Value))
		if one.delay >= longDelay {
			said = m.say("%s for %s", said, m.Span(one.delay))
		}
		parts = append(parts, said)
	}
	return s + m.inSeasons(b.Seasons) + ": " + strings.Join(parts, ", ")
}

func (m doses) inSeasons(all []alarms.Season) string {
	if len(all) == 0 || len(all) == len(alarms.Seasons) {
		return ""
	}
	var names []string
	for _, s := range alarms.Seasons {
		if slices.Contains(all, s) {
			names = append(names, m.Season(s))
		}
	}
	return m.say(" in the season %s", m.list(names))
}
