package page

import (
	"net/http"
	"time"

	"telltale/alarms"
)

type loopPage struct {
	frame
	Houses []loopCard
}

// loopCard is the ground loop of one house.
type loopCard struct {
	Name  string
	Says  []string
	Pipes []loopPipe
	Sums  []fact
	Days  []fact
}

// loopPipe is what one depth brings now.
type loopPipe struct {
	Name   string
	Place  string // at its outlet
	Better bool
	Says   string
	Facts  []fact
}

// loopSpans are the spans of the sums, in whole days.
var loopSpans = []struct {
	days  int
	words string
}{{7, "the last 7 days"}, {30, "the last 30 days"}}

// loopPage shows what the ground loops bring.
func (s *Server) loopPage(w http.ResponseWriter, r *http.Request) error {
	words, now := s.wordsOf(r), s.watch.Now()
	v := loopPage{frame: s.frame(w, r, "Ground loop")}
	for _, h := range s.picture(words).Houses {
		if h.Loop == nil {
			continue
		}
		days, err := s.options.Tending.LoopDays(r.Context(), h.ID, now.AddDate(0, 0, -31))
		if err != nil {
			return err
		}
		v.Houses = append(v.Houses, words.loopCard(h, days, now))
	}
	if len(v.Houses) == 0 {
		return faultf(kindAbsent, "No house has a ground loop.")
	}
	return s.render(w, http.StatusOK, "loop", v)
}

func (w words) loopCard(h alarms.HousePicture, days []LoopDay, now time.Time) loopCard {
	l := h.Loop
	c := loopCard{Name: h.Name, Says: []string{l.Sentence, l.Depths}}
	for _, p := range l.Pipes {
		c.Pipes = append(c.Pipes, w.loopPipe(*l, p))
	}
	c.Sums = []fact{w.loopSum("today", l.Today), w.loopSum("yesterday", l.Yesterday)}
	for _, span := range loopSpans {
		since, sum := now.AddDate(0, 0, -span.days), l.Today
		for _, d := range days {
			if d.To.After(since) {
				sum = sum.Plus(d.LoopEnergy)
			}
		}
		c.Sums = append(c.Sums, w.loopSum(span.words, sum))
	}
	c.Sums = append(c.Sums, w.loopSum("since the watch counts", l.Total))
	for i := len(days) - 1; i >= 0; i-- {
		d := days[i]
		one := fact{Name: w.day(d.From.Add(d.To.Sub(d.From) / 2)), Words: capital(w.brought(d.LoopEnergy)) + " in " + alarms.Span(d.Run) + "."}
		for _, p := range d.Pipes {
			one.Words += " " + w.depth(p.Depth) + ": " + w.brought(p.LoopEnergy) + "."
		}
		c.Days = append(c.Days, one)
	}
	return c
}

func (w words) loopPipe(l alarms.LoopPicture, p alarms.PipePicture) loopPipe {
	v := loopPipe{Name: "At " + w.depth(p.Depth), Place: p.Name, Says: p.Sentence, Better: l.Better != nil && *l.Better == p.Depth}
	add := func(name string, known *float64, write func(float64) string) {
		words := "not known now"
		if known != nil {
			words = write(*known)
		}
		v.Facts = append(v.Facts, fact{Name: name, Words: words})
	}
	celsius := func(x float64) string { return w.value(alarms.Temperature, x) }
	share := func(x float64) string { return w.number(100*x, 0) + noBreak + "%" }
	add("Air at its outlet", p.Temperature, celsius)
	add("Ground there, undisturbed", p.Ground, celsius)
	add("Brings now", p.Watts, w.watts)
	if p.Moisture != nil && p.Moving {
		add("Carried by its moisture, which warms nothing", p.Moisture, func(x float64) string { return w.number(x, 0) + noBreak + "W" })
	}
	add("Of the difference between house and ground, now", p.Effectiveness, share)
	if p.Learned != nil {
		add("The same, as it usually is", p.Learned, share)
	}
	if p.Drift != nil {
		add("Against the season", p.Drift, func(x float64) string {
			word := " warmer"
			if x < 0 {
				word = " colder"
			}
			return w.difference(alarms.Temperature, x) + word
		})
	}
	v.Facts = append(v.Facts, fact{Name: "Today", Words: w.brought(p.Today)}, fact{Name: "Yesterday", Words: w.brought(p.Yesterday)})
	return v
}

// watts says which way power goes.
func (w words) watts(v float64) string {
	switch {
	case v >= 0.5:
		return w.number(v, 0) + noBreak + "W of heat"
	case v <= -0.5:
		return w.number(-v, 0) + noBreak + "W of cold"
	}
	return "nothing"
}

func (w words) loopSum(over string, e alarms.LoopEnergy) fact {
	says := capital(w.brought(e))
	if each, ok := e.EachFanKWh(); ok {
		says += "; the fan drew " + w.kwh(e.Fan) + ", so that is " + w.number(each, 1) + noBreak + "kWh for each kWh of the fan"
	}
	if e.Run > 0 {
		says += "; air moved for " + alarms.Span(e.Run)
	}
	return fact{Name: capital(over), Words: says + "." + w.manner.text(e.Moisture())}
}

// kwh writes an energy; small ones with one decimal more.
func (w words) kwh(v float64) string {
	digits := 1
	if v < 1 {
		digits = 2
	}
	return w.number(v, digits) + noBreak + "kWh"
}

// depth writes a depth in the unit of the visitor's degrees.
func (w words) depth(m float64) string {
	if w.manner.fahrenheit {
		return w.number(m/0.3048, 1) + noBreak + "ft"
	}
	return w.number(m, 1) + noBreak + "m"
}

func (w words) brought(e alarms.LoopEnergy) string { return w.manner.text(e.Brought()) }

// day names a day.
func (w words) day(t time.Time) string { return t.In(w.zone).Format("Mon 2 January") }
