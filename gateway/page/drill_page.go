package page

import (
	"errors"
	"net/http"
	"strings"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// drills is the page of the drill at the start of a season, and its acts.
type drills struct{ *Server }

func (s drills) routes(rt router) {
	if s.options.Drill == nil {
		return
	}
	rt.see("GET /drill", s.page)
	rt.act("POST /drill/begin", s.begin)
	rt.act("POST /drill/now", s.now)
	rt.act("POST /drill/hand", s.byHand)
	rt.act("POST /drill/end", s.end)
}

// drillSayings are those of this file.
var drillSayings = map[string]tongue.Text{
	"drill-begun": "The drill has begun. Alarms are told as ever.",
	"drill-now":   "Do it now. What the watch feels is ticked off.",
	"drill-hand":  "Noted.",
	"drill-ended": "The drill is ended, and kept.",
}

type drillPage struct {
	frame
	Open  bool
	Begun string // in words, of the one that is done; "" for none
	Last  string
	Now   drillNow
	Parts []drillPart
}

// drillNow is what is waited for; it is the data of the template "drillnow".
type drillNow struct {
	Sentence string
	Lines    []string
	Doing    bool
}

// drillPart are the steps of one kind.
type drillPart struct {
	Title, Do string
	Steps     []drillStep
}

type drillStep struct {
	ID, Anchor string
	Name       string
	State      string // in words
	Mark       string // class
	CanDo      bool
	Hand       string // what the button to tick it off by hand says
}

// drillParts are the kinds of steps, in their order, with what to do.
var drillParts = []struct {
	kind      service.DrillKind
	title, do tongue.Text
}{
	{"warm", "Warm each probe", "Press “I do it now”, then hold the probe in a warm hand until it is ticked off. It must get warmer by 2 K (3.6 °F)."},
	{"unplug", "Pull the plug of each probe", "Press “I do it now”, then pull the plug or take out the battery until it is ticked off: a probe is missed after about three of its readings. Then put it back."},
	{"power", "Press each ground-fault test button", "Press “I do it now”, then the test button of the device that protects the circuit, and leave it off until it is ticked off. Then switch it on again. If the button does not trip it, leave it to a licensed electrician."},
	{"internet", "Cut the internet", "Pull the line out of the router, then press “I do it now”: a test message is sent, and must fail. Then plug it in again; the message comes late."},
	{"ring", "Let the telephones ring", "Press “I do it now”: a test message goes to everybody, and the telephones ring."},
	{"covers", "Put the covers on, or take them off", "Then set the season on the first page. The watch does not feel covers: tick it off by hand."},
}

func (s drills) page(w http.ResponseWriter, r *http.Request) error {
	say, now, d := s.wordsOf(r), s.watch.Now(), s.options.Drill.Drill()
	v := drillPage{frame: s.frame(r, "Start-of-season drill"), Open: d.Open, Now: drillNowOf(say, d, s.door.MayAct(r))}
	v.Said = s.wordsOf(r).Say(sayings[r.URL.Query().Get("said")])
	if r.URL.Query().Get("part") != "" {
		return s.renderPart(w, r, http.StatusOK, "drill", "drillnow", v.Now)
	}
	if d.Open {
		v.Begun = say.Say("Begun at %s%s.", say.Clock(d.Begun, now), byWhom(say, d.By))
	}
	v.Last = lastDrill(say, d.Last, now)
	for _, p := range drillParts {
		part := drillPart{Title: say.Say(p.title), Do: say.Say(p.do)}
		for _, one := range d.Steps {
			if one.Kind == p.kind {
				part.Steps = append(part.Steps, drillStepOf(say, one, now))
			}
		}
		if len(part.Steps) > 0 {
			v.Parts = append(v.Parts, part)
		}
	}
	return s.render(w, r, http.StatusOK, "drill", v)
}

func byWhom(w words.Words, by string) string {
	if by == "" {
		return ""
	}
	return " " + w.Say("by %s", w.Core.Who(by))
}

// lastDrill says when the last one was done.
func lastDrill(w words.Words, d *service.DrillDone, now time.Time) string {
	if d == nil {
		return w.Say("It has not been done yet.")
	}
	s := w.Say("Last done %s%s: %d felt", w.Clock(d.At, now), byWhom(w, d.By), d.Felt)
	if d.Hand > 0 {
		s += w.Say(", %d ticked off by hand", d.Hand)
	}
	if d.Left > 0 {
		s += w.Say(", %d not done", d.Left)
	}
	return s + "."
}

// drillNowOf says what is waited for, else what was felt last.
func drillNowOf(w words.Words, d service.DrillState, acts bool) (v drillNow) {
	var newest service.DrillStep
	for _, one := range d.Steps {
		if one.Doing {
			v.Lines = append(v.Lines, drillName(w, one))
		}
		if !one.Hand && one.At.After(newest.At) {
			newest = one
		}
	}
	v.Doing = len(v.Lines) > 0
	switch {
	case v.Doing:
		v.Sentence = w.Say("The watch waits to feel: %s.", strings.Join(v.Lines, ", "))
	case !d.Open:
		v.Sentence = w.Say("No drill is being done.")
	case !newest.At.IsZero():
		v.Sentence = w.Say("Felt: %s, after %s.", drillName(w, newest), w.Core.Span(newest.Took))
	case acts:
		v.Sentence = w.Say("Take one step after the other, in any order.")
	}
	return v
}

// drillName says what a step is of.
func drillName(w words.Words, one service.DrillStep) string {
	switch one.Kind {
	case "warm":
		return w.Say("probe %s (%s) gets warm", one.Of, one.Place)
	case "unplug":
		return w.Say("probe %s (%s) falls silent", one.Of, one.Place)
	case "power":
		if strings.Contains(one.Of, "circuit") {
			return w.Say("%s loses its power", one.Of)
		}
		return w.Say("circuit %s loses its power", one.Of)
	case "internet":
		return w.Say("no message gets out")
	case "ring":
		return w.Say("a telephone rings")
	}
	return w.Say("the covers of %s", one.Of)
}

func drillStepOf(w words.Words, one service.DrillStep, now time.Time) drillStep {
	v := drillStep{ID: one.ID, Anchor: words.Anchor(append([]string{"drill"}, strings.Split(one.ID, "/")...)...), Name: drillName(w, one), CanDo: one.Feels && one.At.IsZero() && !one.Doing, Hand: w.Say("Tick off by hand")}
	switch {
	case one.Doing:
		v.State, v.Mark = w.Say("is waited for"), "waits"
	case one.Hand:
		v.State, v.Mark, v.Hand = w.Say("ticked off by hand%s at %s, not felt", byWhom(w, one.By), w.Clock(one.At, now)), "rehearsed", w.Say("Take that back")
	case !one.At.IsZero():
		v.State, v.Mark, v.Hand = w.Say("felt after %s, at %s", w.Core.Span(one.Took), w.Clock(one.At, now)), "went", ""
	case one.Late:
		v.State, v.Mark = w.Say("not felt in its time"), "failed"
	case !one.Feels:
		v.State, v.Mark = w.Say("cannot be felt"), "waits"
	default:
		v.State, v.Mark = w.Say("not done yet"), "waits"
	}
	return v
}

func (s drills) begin(w http.ResponseWriter, r *http.Request) error {
	return s.did(w, r, s.options.Drill.Begin(r.Context(), s.who(w, r)), "drill-begun")
}

func (s drills) end(w http.ResponseWriter, r *http.Request) error {
	return s.did(w, r, s.options.Drill.End(r.Context(), s.who(w, r)), "drill-ended")
}

func (s drills) now(w http.ResponseWriter, r *http.Request) error {
	return s.did(w, r, s.options.Drill.Now(r.Context(), r.PostForm.Get("step"), s.sendTest), "drill-now")
}

func (s drills) byHand(w http.ResponseWriter, r *http.Request) error {
	return s.did(w, r, s.options.Drill.ByHand(r.Context(), r.PostForm.Get("step"), s.who(w, r)), "drill-hand")
}

// did answers a form of the drill.
func (s drills) did(w http.ResponseWriter, r *http.Request, err error, said string) error {
	var refused service.Refusal
	switch {
	case errors.As(err, &refused):
		return &answer.Error{Kind: answer.Changed, Say: refused.Text, Args: refused.Args, Err: err}
	case err != nil:
		return err
	}
	return s.done(w, r, said)
}
