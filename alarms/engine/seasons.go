package engine

import (
	"math"
	"math/bits"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// seasons are those of a house: which one holds, and when another is due.
type seasons struct {
	plainPart
	h      *house
	due    *alarm        // says that another season is due
	stage  *alarms.Stage // that calls the exhaust fan; nil: none
	fanned *place        // where the thermostat of it hangs
	season *alarm        // carries the log of season changes
}

// outdoors is the weather of the last days, from which it is told when it is
// time to cover the vents for winter, or to open them again.
type outdoors struct {
	Sum  float64    `json:"sum,omitempty"` // of today's readings
	N    int        `json:"n,omitempty"`
	Low  float64    `json:"low,omitempty"`
	Days []outerDay `json:"days,omitempty"` // the last ones, newest last

	At     alarms.PlaceID `json:"at,omitempty"`     // of what is inside
	Inside []innerDay     `json:"inside,omitempty"` // since the season was set, oldest first; today's among them
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

// exhaustStage is the stage of the house's thermostats that calls the exhaust fan, the
// one of the lowest set point, and where its bulb hangs; nil for none.
func (s *seasons) exhaustStage() (*alarms.Stage, *place) {
	var found *alarms.Stage
	var at *place
	for i := range s.h.plan.Controls {
		c := &s.h.plan.Controls[i]
		for k := range c.Stages {
			st := &c.Stages[k]
			fan := slices.ContainsFunc(st.Drives, func(id alarms.DriveID) bool { d := s.h.plan.Drive(id); return d != nil && d.Kind == alarms.ExhaustFan })
			if st.Mode == alarms.Cooling && fan && (found == nil || st.SetPoint < found.SetPoint) {
				found, at = st, s.h.place(c.Place)
			}
		}
	}
	return found, at
}

// date is the local date of a moment, as days since 1970.
func (s *seasons) date(now timing.Instant) int {
	y, m, d := s.h.wall.At(now).In(s.h.plan.Day.Zone).Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// warm takes a temperature of where the exhaust fan's thermostat hangs.
func (s *seasons) warm(v float64, now timing.Instant) {
	if math.IsNaN(v) {
		return
	}
	o, today := &s.h.Outdoors, s.date(now)
	if at := s.fanned.plan.ID; o.At != at { // another plan has the thermostat elsewhere
		o.At, o.Inside = at, nil
	}
	n := len(o.Inside)
	if n == 0 || o.Inside[n-1].Day != today {
		days := append([]innerDay(nil), o.Inside[max(0, n-innerDays):]...)
		o.Inside, n = append(days, innerDay{Day: today, Hot: v}), min(n, innerDays)+1
	}
	d := &o.Inside[n-1]
	d.Hot = max(d.Hot, v)
	if s.h.Daypart == alarms.Day {
		d.Hours |= 1 << s.h.wall.At(now).In(s.h.plan.Day.Zone).Hour()
	}
}

// heat is what the days before today say of the exhaust stage. A day on which
// too little was seen counts as neither hot nor quiet.
type heat struct {
	quiet   int     // days without a call since the last one with one
	hot     int     // days beyond the set point of the last hotWithin
	hottest float64 // °C, of those
}

func (s *seasons) heat(now timing.Instant) (t heat) {
	today, quiet := s.date(now), true
	if s.stage == nil || s.h.Outdoors.At != s.fanned.plan.ID {
		return t
	}
	for i := len(s.h.Outdoors.Inside) - 1; i >= 0; i-- {
		d := s.h.Outdoors.Inside[i]
		switch ago := today - d.Day; {
		case ago < 1 || ago > innerDays:
		case d.Hot > s.stage.SetPoint:
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

// seasonDue says when a season is over.
type seasonDue struct {
	lifecycle.Plain
	h *house
}

// Facts are what is known of covers, and of how many days.
func (d seasonDue) Facts(_ *lifecycle.Alarm, _ *alarms.Transition, f *alarms.Background) {
	f.Season = &alarms.SeasonFacts{Covers: d.h.allCovers(), Days: len(d.h.Outdoors.Days), Within: hotWithin}
}

// First is what is known of covers.
func (d seasonDue) First(_ *lifecycle.Alarm, _ *alarms.Reason, f *alarms.First) {
	f.Covers = d.h.allCovers()
}

// buildSeasonDue makes the alarm that says when a season is over.
func (s *seasons) buildSeasonDue() {
	s.due = s.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: s.h.id("season", "due"), Kind: alarms.RuleSeason, Quantity: alarms.Temperature, Priority: lifecycle.Always(alarms.Low),
		Because: func(_ alarms.Move, due timing.Instant) alarms.Reason { return s.whySeason(due) },
	}, of: seasonDue{h: s.h}, house: s.h})
}

func (s *seasons) whySeason(due timing.Instant) alarms.Reason {
	r := alarms.Reason{Verdict: string(s.h.Proposed)}
	if len(s.h.Outdoors.Days) > 0 {
		mean, low, _ := s.h.Outdoors.means()
		r.Value, r.Peak = &mean, &low
	}
	if s.stage != nil {
		t := s.heat(due)
		r.Inside = &alarms.SeasonReason{Place: s.fanned.plan.Name, SetPoint: s.stage.SetPoint, Quiet: t.quiet, Hot: t.hot}
		if t.hot > 0 {
			r.Inside.Hottest = &t.hottest
		}
	}
	return r
}

// proposeSeason looks at the end of a day whether the season should change.
// Only a person changes it.
func (s *seasons) proposeSeason(now timing.Instant) {
	s.h.Outdoors.endDay()
	s.h.Proposed = s.proposal(now)
	s.showProposal(now)
}

func (s *seasons) showProposal(now timing.Instant) {
	level := alarms.Within
	if s.h.Proposed != "" {
		level = alarms.Outer
	}
	s.due.Apply(level, "", now)
}

// proposal returns the season that date, weather and the house itself ask for,
// "" for the one that is. Vents are covered when it is cold outside and the
// exhaust fan has not been called for ten days; they are uncovered when it is
// mild outside, or when the covered house is too hot on three days of seven.
func (s *seasons) proposal(now timing.Instant) alarms.Season {
	t, weather := s.heat(now), len(s.h.Outdoors.Days) >= enoughDays
	switch s.h.Season {
	case alarms.SeasonOpen:
		switch {
		case t.quiet == 0 && t.hot > 0, !s.late(now):
			return "" // it was called lately
		case !weather:
			return s.h.Proposed
		case s.cold() && (s.stage == nil || t.quiet >= quietDays || s.h.Proposed == alarms.SeasonWinter):
			return alarms.SeasonWinter
		}
	case alarms.SeasonWinter, alarms.SeasonChanging:
		switch {
		case t.hot >= hotDays, t.hot > 0 && s.h.Proposed == alarms.SeasonOpen:
			return alarms.SeasonOpen
		case s.h.outside == nil:
			return ""
		case !weather:
			return s.h.Proposed
		case s.mild(now):
			return alarms.SeasonOpen
		}
	}
	return ""
}

// late reports whether it is the time of the year to cover vents.
func (s *seasons) late(now timing.Instant) bool {
	day := s.yearDay(now)
	return day >= coverFrom || day <= coverUntil
}

// cold reports whether it is so cold outside that vents are covered; a mild day
// does not take back what was proposed.
func (s *seasons) cold() bool {
	mean, _, frosts := s.h.Outdoors.means()
	return mean < coldMean || frosts >= 2 || s.h.Proposed == alarms.SeasonWinter && (mean < mildMean || frosts > 0)
}

// mild reports whether it is so mild outside that vents are uncovered.
func (s *seasons) mild(now timing.Instant) bool {
	mean, low, _ := s.h.Outdoors.means()
	day := s.yearDay(now)
	return day >= openFrom && day <= openUntil &&
		(mean > mildMean && low > frostNight || s.h.Proposed == alarms.SeasonOpen && mean > coldMean)
}

// yearDay is the day of the year as the northern hemisphere would have it.
func (s *seasons) yearDay(now timing.Instant) int {
	t := s.h.wall.At(now).In(s.h.plan.Day.Zone)
	if s.h.plan.Latitude < 0 {
		t = t.AddDate(0, 6, 0)
	}
	return t.YearDay()
}

// start starts the days of the house.
func (s *seasons) start(now timing.Instant) {
	if s.h.outside != nil {
		s.h.e.panel.Timers.Set(s.h.midnight, s.h.midnightAfter(now))
	}
}

func (s *seasons) replan(due timing.Instant) {
	if s.h.outside == nil {
		s.h.Outdoors = outdoors{At: s.h.Outdoors.At, Inside: s.h.Outdoors.Inside}
	}
	if s.h.outside == nil && s.fanned == nil {
		s.h.Proposed = ""
		s.due.Found(false, due)
	}
}

func (s *seasons) draw(p *alarms.HousePicture) { p.Season, p.Proposed = s.h.Season, s.h.Proposed }
