package page

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"time"

	"telltale/alarms"
)

// worksView is what the thermostats of one house drive, and what people open and shut.
type worksView struct {
	Anchor    string
	House     alarms.HouseID
	Name      string // of the house
	Drives    []driveView
	Selectors []selectorView
	Openings  []openingView
	Any       bool   // there is something to show
	Token     string // as in alarmsView
}

type driveView struct {
	Anchor   string
	Name     string
	Shape    string // class: running, standing or unknown
	Guessed  bool   // what Shape says is only inferred
	Failing  bool
	Does     string
	Sentence string
	Facts    []string

	ID    alarms.DriveID
	Trial alarms.AlarmID // shelved while somebody tries something on it
	Tried string         // who does so until when; empty: nobody
	Tries []shelveChoice // for how long
}

// openingView is a door, a window or a lid.
type openingView struct {
	Anchor   string
	Name     string
	Shape    string // class: running (open), standing (shut) or unknown
	Guessed  bool   // never
	State    string
	Harms    bool // it should be shut now
	Sentence string
}

type selectorView struct {
	Anchor string
	Field  string // anchor of its form's field, another one for each position
	ID     alarms.SelectorID
	Name   string
	At     string
	Told   string   // how its position is known
	Others []string // positions it can be said to stand in
}

func (w words) worksOf(h alarms.HousePicture, now time.Time) worksView {
	v := worksView{Anchor: anchor("house", string(h.ID)) + "-works", House: h.ID, Name: h.Name,
		Any: len(h.Drives)+len(h.Selectors)+len(h.Openings) > 0}
	for _, d := range h.Drives {
		one := driveOf(h.ID, d)
		if d.TrialBy != "" {
			one.Tried = d.TrialBy + " is trying something on it until " + w.clock(d.TrialUntil, now)
		}
		v.Drives = append(v.Drives, one)
	}
	for _, s := range h.Selectors {
		v.Selectors = append(v.Selectors, selectorOf(h.ID, s))
	}
	for _, o := range h.Openings {
		v.Openings = append(v.Openings, openingOf(h.ID, o))
	}
	return v
}

// openingOf draws an open door like what runs, and a shut one like what stands.
func openingOf(house alarms.HouseID, o alarms.OpeningPicture) openingView {
	shape := map[string]alarms.DriveState{alarms.StateOpen: alarms.DriveRunning, alarms.StateShut: alarms.DriveStanding}[o.State]
	return openingView{Anchor: anchor("opening", string(house), string(o.ID)), Name: o.Name, State: o.State, Harms: o.Harms,
		Shape: string(cmp.Or(shape, alarms.DriveUnknown)), Sentence: o.Sentence}
}

func driveOf(house alarms.HouseID, d alarms.DrivePicture) driveView {
	v := driveView{Anchor: anchor("drive", string(house), string(d.ID)), Name: d.Name, Shape: string(d.State),
		Failing: d.Failing, Does: d.Does, Sentence: d.Sentence, ID: d.ID, Trial: d.Trial, Tries: tryChoices}
	if !d.Evidenced && d.Inferred != nil {
		v.Guessed, v.Shape = true, string(d.Guess)
	}
	if d.Call != "between" {
		words := callWords
		if d.Timed {
			words = timerWords
		}
		v.Facts = append(v.Facts, words[d.Call])
	}
	if d.Evidenced {
		v.Facts = append(v.Facts, ranToday(d))
	}
	if d.UsualDraw != "" {
		v.Facts = append(v.Facts, "Usually draws "+d.UsualDraw)
	}
	return v
}

var callWords = map[string]string{"called": "The thermostat asks for it", "not called": "The thermostat does not ask for it"}
var timerWords = map[string]string{"called": "Its timer should have it on", "not called": "Its timer should have it off"}

// ranToday says how often and how long d ran today.
func ranToday(d alarms.DrivePicture) string {
	ran := "Ran"
	if d.Kind == alarms.IntakeShutter {
		ran = "Open"
	}
	if d.RanToday == 0 {
		return "Not " + map[string]string{"Ran": "run", "Open": "open"}[ran] + " today"
	}
	starts := ""
	switch {
	case d.StartsToday == 1:
		starts = ", in one start"
	case d.StartsToday > 1:
		starts = fmt.Sprintf(", in %d starts", d.StartsToday)
	}
	return ran + " " + alarms.Span(d.RanToday) + " today" + starts
}

var toldWords = map[string]string{
	alarms.ToldByPerson: "as a person said", alarms.ToldByContact: "as its contact tells", alarms.ToldBySeason: "by the season"}

func selectorOf(house alarms.HouseID, s alarms.SelectorPicture) selectorView {
	v := selectorView{Anchor: anchor("selector", string(house), string(s.ID)), ID: s.ID, Name: s.Name, At: s.At, Told: toldWords[s.Told],
		Field: anchor("selector", string(house), string(s.ID), s.At)}
	if s.Told == alarms.ToldByPerson {
		v.Others = slices.DeleteFunc(slices.Clone(s.Positions), func(p string) bool { return p == s.At })
	}
	return v
}

// tryChoices are for how long something may be tried on a drive.
var tryChoices = []shelveChoice{{"30m", "30 minutes"}, {"1h", "1 hour"}, {"2h", "2 hours"}, {"4h", "4 hours"}, {"8h", "8 hours"}, {"24h", "24 hours"}}

// try takes that somebody tries something on a drive.
func (s *Server) try(w http.ResponseWriter, r *http.Request) error {
	long, err := time.ParseDuration(r.PostForm.Get("for"))
	if err != nil || !slices.ContainsFunc(tryChoices, func(c shelveChoice) bool { return c.Value == r.PostForm.Get("for") }) {
		return faultf(kindInvalid, "Choose how long you will be trying it.")
	}
	for _, h := range s.watch.Picture().Houses {
		for _, d := range h.Drives {
			if string(h.ID) != r.PostForm.Get("house") || string(d.ID) != r.PostForm.Get("drive") {
				continue
			}
			now := s.watch.Now()
			in := alarms.Input{At: now, Kind: alarms.Shelve, Alarm: d.Trial, Until: now.Add(long), By: s.who(w, r)}
			if err := s.watch.Do(r.Context(), in); err != nil {
				return err
			}
			return s.done(w, r, "trying")
		}
	}
	return faultf(kindChanged, "That drive is not there any more, so nothing was done.")
}

// setSelector takes where a person says that a selector switch stands.
func (s *Server) setSelector(w http.ResponseWriter, r *http.Request) error {
	for _, h := range s.watch.Picture().Houses {
		for _, sel := range h.Selectors {
			if string(h.ID) == r.PostForm.Get("house") && string(sel.ID) == r.PostForm.Get("selector") {
				return s.turn(w, r, h.ID, sel)
			}
		}
	}
	return faultf(kindChanged, "That switch is not there any more, so nothing was done.")
}

func (s *Server) turn(w http.ResponseWriter, r *http.Request, house alarms.HouseID, sel alarms.SelectorPicture) error {
	to := r.PostForm.Get("position")
	if sel.Told != alarms.ToldByPerson {
		return faultf(kindInvalid, "Where this switch stands is told by %s, so it cannot be set here.", sel.Told)
	}
	if !slices.Contains(sel.Positions, to) {
		return faultf(kindInvalid, "Choose one of the positions of the switch.")
	}
	by := s.who(w, r)
	if sel.At != to { // else somebody was quicker
		in := alarms.Input{At: s.watch.Now(), Kind: alarms.SetSelector, House: house, Selector: sel.ID, Position: to, By: by}
		if err := s.watch.Do(r.Context(), in); err != nil {
			return err
		}
	}
	return s.done(w, r, "selector")
}
