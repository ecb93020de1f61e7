package alarms

import (
	"fmt"
	"math"
	"slices"
)

// outdoors is the weather of the last days, from which it is told when it is
// time to cover the vents for winter, or to open them again.
type outdoors struct {
	Sum  float64    `json:"sum,omitempty"` // of today's readings
	N    int        `json:"n,omitempty"`
	Low  float64    `json:"low,omitempty"`
	Days []outerDay `json:"days,omitempty"` // the last ones, newest last
}

// outerDay is one day outside, °C.
type outerDay struct {
	Mean float64 `json:"mean"`
	Low  float64 `json:"low"`
}

// Bounds of the seasons, in the northern hemisphere; the southern one is half a
// year off. Common practice, no source: vents are covered from about the end
// of November, sooner when nights of frost come.
const (
	outerDays  = 7
	enoughDays = 4   // before anything is proposed
	coldMean   = 6.0 // °C, mean of the days: time to cover
	mildMean   = 9.0 // °C, mean of the days: time to open
	frostNight = 0.0 // °C
	coverFrom  = 274 // day of the year, 1 October
	coverUntil = 60  // 1 March
	openFrom   = 46  // 15 February
	openUntil  = 182 // 1 July
)

// breathe takes a reading of the outside temperature.
func (o *outdoors) breathe(v float64) {
	if math.IsNaN(v) {
		return
	}
	if o.N == 0 || v < o.Low {
		o.Low = v
	}
	o.Sum += v
	o.N++
}

// endDay closes the day. A day without readings makes the oldest forgotten.
func (o *outdoors) endDay() {
	days := append([]outerDay(nil), o.Days...)
	if len(days) == outerDays || o.N == 0 && len(days) > 0 {
		days = days[1:]
	}
	if o.N > 0 {
		days = append(days, outerDay{o.Sum / float64(o.N), o.Low})
	}
	if len(days) == 0 {
		days = nil // as it comes back from a snapshot
	}
	o.Days = days
	o.Sum, o.N, o.Low = 0, 0, 0
}

// means returns the mean and the lowest of the days, and how many nights had
// frost.
func (o *outdoors) means() (mean, low float64, frosts int) {
	for i, d := range o.Days {
		mean += d.Mean / float64(len(o.Days))
		if i == 0 || d.Low < low {
			low = d.Low
		}
		if d.Low <= frostNight {
			frosts++
		}
	}
	return mean, low, frosts
}

// buildSeasonDue makes the alarm that says when a season is over.
func (e *Engine) buildSeasonDue(h *house) {
	h.due = e.newAlarm(&alarm{
		id: h.id("season", "due"), rule: RuleSeason, house: h, quantity: Temperature, priority: always(Low),
		why: func(Move, instant) Reason {
			mean, low, _ := h.Outdoors.means()
			return Reason{Value: &mean, Peak: &low, Verdict: string(h.Proposed)}
		},
	})
}

// proposeSeason looks at the end of a day whether the season should change.
// Only a person changes it.
func (e *Engine) proposeSeason(h *house, now instant) {
	h.Outdoors.endDay()
	h.Proposed = h.proposal(now)
	e.showProposal(h, now)
}

func (e *Engine) showProposal(h *house, now instant) {
	level := Within
	if h.Proposed != "" {
		level = Outer
	}
	e.apply(h.due, level, nil, now)
}

// proposal returns the season that date and weather ask for, "" for the one
// that is.
func (h *house) proposal(now instant) Season {
	if len(h.Outdoors.Days) < enoughDays {
		return h.Proposed
	}
	mean, low, frosts := h.Outdoors.means()
	day := h.yearDay(now)
	switch h.Season {
	case SeasonOpen:
		late := day >= coverFrom || day <= coverUntil
		if late && (mean < coldMean || frosts >= 2) {
			return SeasonWinter
		}
		if late && h.Proposed == SeasonWinter && (mean < mildMean || frosts > 0) {
			return SeasonWinter // a mild day does not take it back
		}
	case SeasonWinter, SeasonChanging:
		early := day >= openFrom && day <= openUntil
		if early && mean > mildMean && low > frostNight {
			return SeasonOpen
		}
		if early && h.Proposed == SeasonOpen && mean > coldMean {
			return SeasonOpen
		}
	}
	return ""
}

// yearDay is the day of the year as the northern hemisphere would have it.
func (h *house) yearDay(now instant) int {
	t := now.time().In(h.plan.Day.Zone)
	if h.plan.Latitude < 0 {
		t = t.AddDate(0, 6, 0)
	}
	return t.YearDay()
}

func (e *Engine) seasonSentence(a *alarm, t Transition, ended bool) string {
	w, r := e.plan.Words, t.Reason
	if ended {
		return fmt.Sprintf("%s: no other season is due any more%s.", a.where(), after(r))
	}
	what := "it is time to cover the vents for winter"
	if r.Verdict == string(SeasonOpen) {
		what = "it is time to uncover the vents"
	}
	if r.Value == nil || r.Peak == nil {
		return fmt.Sprintf("%s: %s.", a.where(), what)
	}
	return fmt.Sprintf("%s: %s. Outside it was %s on average in the last %d days, and %s at the least.", a.where(), what,
		w.Value(Temperature, *r.Value), len(a.house.Outdoors.Days), w.Value(Temperature, *r.Peak))
}

// seasonWords says what of h is not expected or not judged in its season, and why.
func (h *house) seasonWords() []string {
	var all []string
	for i := range h.plan.Drives {
		d := &h.plan.Drives[i]
		if slices.Contains(d.Barred, h.Season) {
			all = append(all, fmt.Sprintf("The %s must not run in this season; if it does, that is told.", d.Name))
		}
	}
	for i := range h.plan.Controls {
		for _, s := range h.plan.Controls[i].Stages {
			if len(s.Seasons) > 0 && !slices.Contains(s.Seasons, h.Season) {
				all = append(all, fmt.Sprintf("The stage %s of the %s is not judged: it does not act in this season.", s.Name, h.plan.Controls[i].Name))
			}
		}
	}
	return all
}

// beginOutdoors starts the days of h.
func (e *Engine) beginOutdoors(h *house, now instant) {
	if h.outside != nil {
		e.timers.set(h.midnight, h.midnightAfter(now))
	}
}
