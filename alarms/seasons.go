package alarms

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"time"
)

// outdoors is the weather of the last days, from which it is told when it is
// time to cover the vents for winter, or to open them again.
type outdoors struct {
	Sum  float64    `json:"sum,omitempty"` // of today's readings
	N    int        `json:"n,omitempty"`
	Low  float64    `json:"low,omitempty"`
	Days []outerDay `json:"days,omitempty"` // the last ones, newest last

	At     PlaceID    `json:"at,omitempty"`     // of what is inside
	Inside []innerDay `json:"inside,omitempty"` // since the season was set, oldest first; today's among them
}

// innerDay is one day where the thermostat of the exhaust fan hangs.
type innerDay struct {
	Day   int     `json:"day"`   // its date, as days since 1970
	Hot   float64 `json:"hot"`   // °C, the highest
	Hours uint32  `json:"hours"` // a bit for each hour of daylight in which it was seen
}

// seenWell reports whether enough was seen of the day to say that it was not hot.
func (d innerDay) seenWell() bool { return bits.OnesCount32(d.Hours) >= seenHours }

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

	innerDays = 20 // days looked back on inside
	seenHours = 4  // of daylight, in which a quiet day must have been seen
	quietDays = 10 // without a call of the exhaust stage, before vents are covered
	hotDays   = 3  // of so many days beyond its set point with the vents covered,
	hotWithin = 7  // before they are uncovered
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

// exhaustStage is the stage of h's thermostats that calls the exhaust fan, the
// one of the lowest set point, and where its bulb hangs; nil for none.
func (h *house) exhaustStage() (*Stage, *place) {
	var found *Stage
	var at *place
	for i := range h.plan.Controls {
		c := &h.plan.Controls[i]
		for k := range c.Stages {
			s := &c.Stages[k]
			fan := slices.ContainsFunc(s.Drives, func(id DriveID) bool { d := h.plan.drive(id); return d != nil && d.Kind == ExhaustFan })
			if s.Mode == Cooling && fan && (found == nil || s.SetPoint < found.SetPoint) {
				found, at = s, h.place(c.Place)
			}
		}
	}
	return found, at
}

// date is the local date of a moment, as days since 1970.
func (h *house) date(now instant) int {
	y, m, d := h.wall.at(now).In(h.plan.Day.Zone).Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// warm takes a temperature of where the exhaust fan's thermostat hangs.
func (h *house) warm(v float64, now instant) {
	if math.IsNaN(v) {
		return
	}
	o, today := &h.Outdoors, h.date(now)
	if at := h.fanned.plan.ID; o.At != at { // another plan has the thermostat elsewhere
		o.At, o.Inside = at, nil
	}
	n := len(o.Inside)
	if n == 0 || o.Inside[n-1].Day != today {
		days := append([]innerDay(nil), o.Inside[max(0, n-innerDays):]...)
		o.Inside, n = append(days, innerDay{Day: today, Hot: v}), min(n, innerDays)+1
	}
	d := &o.Inside[n-1]
	d.Hot = max(d.Hot, v)
	if h.Daypart == Day {
		d.Hours |= 1 << h.wall.at(now).In(h.plan.Day.Zone).Hour()
	}
}

// heat is what the days before today say of the exhaust stage. A day on which
// too little was seen counts as neither hot nor quiet.
type heat struct {
	quiet   int     // days without a call since the last one with one
	hot     int     // days beyond the set point of the last hotWithin
	hottest float64 // °C, of those
}

func (h *house) heat(now instant) (t heat) {
	today, quiet := h.date(now), true
	if h.stage == nil || h.Outdoors.At != h.fanned.plan.ID {
		return t
	}
	for i := len(h.Outdoors.Inside) - 1; i >= 0; i-- {
		d := h.Outdoors.Inside[i]
		switch ago := today - d.Day; {
		case ago < 1 || ago > innerDays:
		case d.Hot > h.stage.SetPoint:
			quiet = false
			if ago <= hotWithin {
				t.hot++
				t.hottest = max(t.hottest, d.Hot)
			}
		case quiet && d.seenWell():
			t.quiet++
		}
	}
	return t
}

// SeasonReason is what the house itself says of the season.
type SeasonReason struct {
	Place    string   `json:"place"`
	SetPoint float64  `json:"set_point"`           // °C, of the exhaust stage
	Quiet    int      `json:"quiet_days,omitzero"` // without a call of it
	Hot      int      `json:"hot_days,omitzero"`   // beyond it, of the last seven
	Hottest  *float64 `json:"hottest,omitempty"`   // °C, of those
}

// buildSeasonDue makes the alarm that says when a season is over.
func (e *Engine) buildSeasonDue(h *house) {
	h.due = e.newAlarm(&alarm{
		id: h.id("season", "due"), rule: RuleSeason, house: h, quantity: Temperature, priority: always(Low),
		why: func(_ Move, due instant) Reason { return h.whySeason(due) },
	})
}

func (h *house) whySeason(due instant) Reason {
	r := Reason{Verdict: string(h.Proposed)}
	if len(h.Outdoors.Days) > 0 {
		mean, low, _ := h.Outdoors.means()
		r.Value, r.Peak = &mean, &low
	}
	if h.stage != nil {
		t := h.heat(due)
		r.Inside = &SeasonReason{Place: h.fanned.plan.Name, SetPoint: h.stage.SetPoint, Quiet: t.quiet, Hot: t.hot}
		if t.hot > 0 {
			r.Inside.Hottest = &t.hottest
		}
	}
	return r
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

// proposal returns the season that date, weather and the house itself ask for,
// "" for the one that is. Vents are covered when it is cold outside and the
// exhaust fan has not been called for ten days; they are uncovered when it is
// mild outside, or when the covered house is too hot on three days of seven.
func (h *house) proposal(now instant) Season {
	t, weather := h.heat(now), len(h.Outdoors.Days) >= enoughDays
	switch h.Season {
	case SeasonOpen:
		switch {
		case t.quiet == 0 && t.hot > 0, !h.late(now):
			return "" // it was called lately
		case !weather:
			return h.Proposed
		case h.cold() && (h.stage == nil || t.quiet >= quietDays || h.Proposed == SeasonWinter):
			return SeasonWinter
		}
	case SeasonWinter, SeasonChanging:
		switch {
		case t.hot >= hotDays, t.hot > 0 && h.Proposed == SeasonOpen:
			return SeasonOpen
		case h.outside == nil:
			return ""
		case !weather:
			return h.Proposed
		case h.mild(now):
			return SeasonOpen
		}
	}
	return ""
}

// late reports whether it is the time of the year to cover vents.
func (h *house) late(now instant) bool {
	day := h.yearDay(now)
	return day >= coverFrom || day <= coverUntil
}

// cold reports whether it is so cold outside that vents are covered; a mild day
// does not take back what was proposed.
func (h *house) cold() bool {
	mean, _, frosts := h.Outdoors.means()
	return mean < coldMean || frosts >= 2 || h.Proposed == SeasonWinter && (mean < mildMean || frosts > 0)
}

// mild reports whether it is so mild outside that vents are uncovered.
func (h *house) mild(now instant) bool {
	mean, low, _ := h.Outdoors.means()
	day := h.yearDay(now)
	return day >= openFrom && day <= openUntil &&
		(mean > mildMean && low > frostNight || h.Proposed == SeasonOpen && mean > coldMean)
}

// yearDay is the day of the year as the northern hemisphere would have it.
func (h *house) yearDay(now instant) int {
	t := h.wall.at(now).In(h.plan.Day.Zone)
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
	what := a.house.dueWords(Season(r.Verdict))
	if r.Value != nil && r.Peak != nil {
		what += fmt.Sprintf(". Outside it was %s on average in the last %d days, and %s at the least",
			w.Value(Temperature, *r.Value), len(a.house.Outdoors.Days), w.Value(Temperature, *r.Peak))
	}
	switch in := r.Inside; {
	case in == nil:
	case r.Verdict == string(SeasonOpen) && in.Hottest != nil && !a.house.covered(SeasonWinter):
		what += fmt.Sprintf(". The %s was above %s, where the exhaust fan is to run, on %d of the last %d days, up to %s",
			in.Place, w.Value(Temperature, in.SetPoint), in.Hot, hotWithin, w.Value(Temperature, *in.Hottest))
	case r.Verdict == string(SeasonOpen) && in.Hottest != nil:
		what += fmt.Sprintf(". With the vents covered the %s was above %s, where the exhaust fan is to run, on %d of the last %d days, up to %s",
			in.Place, w.Value(Temperature, in.SetPoint), in.Hot, hotWithin, w.Value(Temperature, *in.Hottest))
	case r.Verdict == string(SeasonWinter):
		what += fmt.Sprintf(". The exhaust fan has not been needed for %d days", in.Quiet)
	}
	return fmt.Sprintf("%s: %s.", a.where(), what)
}

// dueWords says what is to be done for a season, and nothing of what is done already.
func (h *house) dueWords(s Season) string {
	known, on := h.covers()
	switch {
	case s == SeasonOpen && known && !on:
		return "the vents are uncovered, and the season on the page is not set to \"open\" yet"
	case s == SeasonOpen:
		return "it is time to uncover the vents"
	case known && on:
		return "the vents are covered, and the season on the page is not set to \"winter\" yet"
	}
	return "it is time to cover the vents for winter"
}

// dueCheck says what to do first for the season that is due.
func (h *house) dueCheck(s Season) string {
	if known, on := h.covers(); known && on == (s != SeasonOpen) {
		return "set the season on the page"
	}
	return "the vents; then set the season on the page"
}

// seasonWords says what of h is not expected or not judged in its season, and why.
func (h *house) seasonWords() []string {
	var all []string
	for i := range h.plan.Drives {
		d := &h.plan.Drives[i]
		switch known, on := h.coverOf(d.ID); {
		case on:
			all = append(all, fmt.Sprintf("The vent of the %s is covered, so it must not run; if it does, that is told.", d.Name))
		case known:
		case slices.Contains(d.Barred, h.Season):
			all = append(all, fmt.Sprintf("The %s must not run in this season; if it does, that is told.", d.Name))
		}
	}
	for i := range h.plan.Controls {
		for _, s := range h.plan.Controls[i].Stages {
			if len(s.Seasons) > 0 && !slices.Contains(s.Seasons, h.Season) && !h.opened(&s) {
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
