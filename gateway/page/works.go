package page

import (
	"fmt"
	"net/http"
	"slices"

	"telltale/alarms"
)

// worksView is what the thermostats of one house drive.
type worksView struct {
	Anchor    string
	House     alarms.HouseID
	Name      string // of the house
	Drives    []driveView
	Selectors []selectorView
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

func worksOf(h alarms.HousePicture) worksView {
	v := worksView{Anchor: anchor("house", string(h.ID)) + "-works", House: h.ID, Name: h.Name,
		Any: len(h.Drives)+len(h.Selectors) > 0}
	for _, d := range h.Drives {
		v.Drives = append(v.Drives, driveOf(h.ID, d))
	}
	for _, s := range h.Selectors {
		v.Selectors = append(v.Selectors, selectorOf(h.ID, s))
	}
	return v
}

func driveOf(house alarms.HouseID, d alarms.DrivePicture) driveView {
	v := driveView{Anchor: anchor("drive", string(house), string(d.ID)), Name: d.Name, Shape: string(d.State),
		Failing: d.Failing, Does: d.Does, Sentence: d.Sentence}
	if !d.Evidenced && d.Inferred != nil {
		v.Guessed, v.Shape = true, string(alarms.DriveStanding)
		if *d.Inferred >= 0.5 {
			v.Shape = string(alarms.DriveRunning)
		}
	}
	if d.Call != "between" {
		v.Facts = append(v.Facts, callWords[d.Call])
	}
	if d.Evidenced {
		v.Facts = append(v.Facts, ranToday(d))
	}
	if d.UsualDraw != "" {
		v.Facts = append(v.Facts, "Usually draws "+d.UsualDraw)
	}
	return v
}

var callWords = map[string]string{"called": "The dial calls", "not called": "The dial does not call"}

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
