package page

import (
	"net/http"
	"slices"

	"telltale/alarms"
)

// ventsView is the vents of a house, with a button for each thing that may
// have been done to them. It is the data of the template "vents".
type ventsView struct {
	Anchor  string
	Token   string
	House   alarms.HouseID
	Name    string
	Due     string // what it is time for, "" for nothing
	Buttons []ventsButton
}

type ventsButton struct {
	Value, Words string
	Due          bool
}

// ventsDone says what may be done to the vents, and which season it begins.
var ventsDone = []struct {
	value, words, due string
	season            alarms.Season
}{
	{"covered", "The vents are covered", "It is time to cover the vents for winter.", alarms.SeasonWinter},
	{"uncovered", "The vents are uncovered", "It is time to uncover the vents.", alarms.SeasonOpen},
}

// ventsOf is the view of the vents of h. The token is put in by who shows it.
func ventsOf(h alarms.HousePicture) ventsView {
	v := ventsView{Anchor: anchor(string(h.ID)) + "-vents", House: h.ID, Name: h.Name}
	for _, d := range ventsDone {
		if d.season == h.Season {
			continue
		}
		due := d.season == h.Proposed
		if due {
			v.Due = d.due
		}
		v.Buttons = append(v.Buttons, ventsButton{d.value, d.words, due})
	}
	return v
}

// setVents takes that somebody covered the vents or uncovered them: the season
// follows from it.
func (s *Server) setVents(w http.ResponseWriter, r *http.Request) error {
	did := r.PostForm.Get("vents")
	for _, d := range ventsDone {
		if d.value == did {
			return s.changeSeason(w, r, d.season, "vents-"+d.value)
		}
	}
	return faultf(kindInvalid, "Say whether the vents are covered or uncovered.")
}

// changeSeason puts the house of the form into a season.
func (s *Server) changeSeason(w http.ResponseWriter, r *http.Request, season alarms.Season, said string) error {
	houses := s.watch.Picture().Houses
	i := slices.IndexFunc(houses, func(h alarms.HousePicture) bool { return string(h.ID) == r.PostForm.Get("house") })
	if i < 0 {
		return faultf(kindChanged, "That house is not there any more, so nothing was done.")
	}
	by := s.who(w, r)
	if houses[i].Season != season { // else somebody was quicker
		in := alarms.Input{At: s.watch.Now(), Kind: alarms.SetSeason, House: houses[i].ID, Season: season, By: by}
		if err := s.watch.Do(r.Context(), in); err != nil {
			return err
		}
	}
	return s.done(w, r, said)
}
