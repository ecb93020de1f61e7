package page

import (
	"net/http"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
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
	words tongue.Text
}{{7, "The last 7 days"}, {30, "The last 30 days"}}

// loopPage shows what the ground loops bring.
func (s records) loopPage(w http.ResponseWriter, r *http.Request) error {
	say, now := s.wordsOf(r), s.watch.Now()
	v := loopPage{frame: s.frame(r, "Ground loop")}
	for _, h := range s.picture(say).Houses {
		if h.Loop == nil {
			continue
		}
		days, err := s.options.Tending.LoopDays(r.Context(), h.ID, now.AddDate(0, 0, -31))
		if err != nil {
			return err
		}
		v.Houses = append(v.Houses, loopCardOf(say, h, days, now))
	}
	if len(v.Houses) == 0 {
		return answer.Say(answer.Absent, "No house has a ground loop.")
	}
	return s.render(w, r, http.StatusOK, "loop", v)
}

func loopCardOf(w words.Words, h alarms.HousePicture, days []service.LoopDay, now time.Time) loopCard {
	l := h.Loop
	c := loopCard{Name: h.Name, Says: []string{l.Sentence, l.Depths}}
	for _, p := range l.Pipes {
		c.Pipes = append(c.Pipes, loopPipeOf(w, *l, p))
	}
	c.Sums = []fact{loopSum(w, "Today", l.Today), loopSum(w, "Yesterday", l.Yesterday)}
	for _, span := range loopSpans {
		since, sum := now.AddDate(0, 0, -span.days), l.Today
		for _, d := range days {
			if d.To.After(since) {
				sum = sum.Plus(d.LoopEnergy)
			}
		}
		c.Sums = append(c.Sums, loopSum(w, span.words, sum))
	}
	c.Sums = append(c.Sums, loopSum(w, "Since the watch counts", l.Total))
	for i := len(days) - 1; i >= 0; i-- {
		d := days[i]
		one := fact{Name: dayWords(w, d.From.Add(d.To.Sub(d.From)/2)), Words: w.Say("%s in %s.|what a loop brought", words.Capital(broughtWords(w, d.LoopEnergy)), w.Core.Span(d.Run))}
		for _, p := range d.Pipes {
			one.Words += " " + w.Depth(p.Depth) + ": " + broughtWords(w, p.LoopEnergy) + "."
		}
		c.Days = append(c.Days, one)
	}
	return c
}

func loopPipeOf(w words.Words, l alarms.LoopPicture, p alarms.PipePicture) loopPipe {
	v := loopPipe{Name: w.Say("At %s", w.Depth(p.Depth)), Place: p.Name, Says: p.Sentence, Better: l.Better != nil && *l.Better == p.Depth}
	add := func(name tongue.Text, known *float64, write func(float64) string) {
		say := w.Say("not known now")
		if known != nil {
			say = write(*known)
		}
		v.Facts = append(v.Facts, fact{Name: w.Say(name), Words: say})
	}
	celsius := func(x float64) string { return w.Value(alarms.Temperature, x) }
	share := func(x float64) string { return w.Number(100*x, 0) + words.NoBreak + "%" }
	add("Air at its outlet", p.Temperature, celsius)
	add("Ground there, undisturbed", p.Ground, celsius)
	add("Brings now", p.Watts, w.Watts)
	if p.Moisture != nil && p.Moving {
		add("Carried by its moisture, which warms nothing", p.Moisture, func(x float64) string { return w.Number(x, 0) + words.NoBreak + "W" })
	}
	add("Of the difference between house and ground, now", p.Effectiveness, share)
	if p.Learned != nil {
		add("The same, as it usually is", p.Learned, share)
	}
	if p.Drift != nil {
		add("Against the season", p.Drift, func(x float64) string {
			if x < 0 {
				return w.Say("%s colder", w.Difference(alarms.Temperature, x))
			}
			return w.Say("%s warmer", w.Difference(alarms.Temperature, x))
		})
	}
	v.Facts = append(v.Facts, fact{Name: w.Say("Today"), Words: broughtWords(w, p.Today)}, fact{Name: w.Say("Yesterday"), Words: broughtWords(w, p.Yesterday)})
	return v
}

func loopSum(w words.Words, over tongue.Text, e alarms.LoopEnergy) fact {
	says := words.Capital(broughtWords(w, e))
	if each, ok := e.EachFanKWh(); ok {
		says += w.Say("; the fan drew %s, so that is %s for each kWh of the fan", w.KWh(e.Fan), w.Number(each, 1)+words.NoBreak+"kWh")
	}
	if e.Run > 0 {
		says += w.Say("; air moved for %s", w.Core.Span(e.Run))
	}
	return fact{Name: w.Say(over), Words: says + "." + w.Core.Moisture(e)}
}

func broughtWords(w words.Words, e alarms.LoopEnergy) string { return w.Core.Brought(e) }

// dayWords names a day.
func dayWords(w words.Words, t time.Time) string { return w.Date(t.In(w.Zone), "Mon 2 January") }

// loopView is the ground loop of a house, in the core's words.
type loopView struct {
	Anchor string
	Says   []string
	Pipes  []pipeView
}

type pipeView struct{ Anchor, Name, Words string }

func loopOf(h alarms.HousePicture) *loopView {
	l := h.Loop
	if l == nil {
		return nil
	}
	v := &loopView{Anchor: words.Anchor("loop", string(h.ID)), Says: []string{l.Sentence, l.Depths, l.Sums}}
	for _, p := range l.Pipes {
		v.Pipes = append(v.Pipes, pipeView{words.Anchor("pipe", string(h.ID), string(p.Outlet)), p.Name, p.Sentence})
	}
	return v
}
