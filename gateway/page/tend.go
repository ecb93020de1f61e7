package page

import (
	"net/http"
	"slices"

	"telltale/alarms"
)

// seasonChoice is a season that a house can be put into.
type seasonChoice struct {
	Value alarms.Season
	Words string
}

var seasonChoices = []seasonChoice{
	{alarms.SeasonOpen, "open: vents and exhaust fan in use"},
	{alarms.SeasonChanging, "changing over: vents being covered or uncovered"},
	{alarms.SeasonWinter, "winter: vents covered, loop fan alone"},
}

// otherSeasons are those that a house is not in.
func otherSeasons(now alarms.Season) []seasonChoice {
	return slices.DeleteFunc(slices.Clone(seasonChoices), func(c seasonChoice) bool { return c.Value == now })
}

// setSeason puts a house into another season.
func (s *Server) setSeason(w http.ResponseWriter, r *http.Request) error {
	season := alarms.Season(r.PostForm.Get("season"))
	if !slices.Contains(alarms.Seasons, season) {
		return faultf(kindInvalid, "Choose a season: open, changing over or winter.")
	}
	return s.changeSeason(w, r, season, "season")
}

func (s *Server) takeProbeOut(w http.ResponseWriter, r *http.Request) error {
	return s.serveProbe(w, r, alarms.TakeOut, "probe-out")
}

func (s *Server) putProbeBack(w http.ResponseWriter, r *http.Request) error {
	return s.serveProbe(w, r, alarms.PutBack, "probe-back")
}

// serveProbe takes a probe out of service or puts it back.
func (s *Server) serveProbe(w http.ResponseWriter, r *http.Request, kind alarms.InputKind, said string) error {
	p, ok := findProbe(s.watch.Picture(), r.PostForm.Get("probe"))
	if !ok {
		return faultf(kindChanged, "That probe is not there any more, so nothing was done.")
	}
	by := s.who(w, r)
	if p.OutOf != (kind == alarms.TakeOut) { // else somebody was quicker
		in := alarms.Input{At: s.watch.Now(), Kind: kind, Probe: p.ID, By: by}
		if kind == alarms.TakeOut {
			why, err := reasonGiven(r)
			if err != nil {
				return err
			}
			in.Note = why
		}
		if err := s.watch.Do(r.Context(), in); err != nil {
			return err
		}
	}
	return s.done(w, r, said)
}

func findProbe(p alarms.Picture, id string) (alarms.ProbePicture, bool) {
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				if string(pr.ID) == id {
					return pr, true
				}
			}
		}
	}
	return alarms.ProbePicture{}, false
}
