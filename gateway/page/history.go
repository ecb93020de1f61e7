package page

import (
	"context"
	"net/http"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/lookback"
	"telltale/gateway/page/words"
)

// dayWait bounds how long one strip may take to read.
const dayWait = 10 * time.Second

// chartsView is the strip of one house on the front page.
type chartsView struct {
	ID     alarms.HouseID
	Anchor string
	Again  string // address of the part alone
	Strip  lookback.Strip
}

// backPage is one house's strip, large.
type backPage struct {
	frame
	Strip  lookback.Strip
	Houses []lookback.Link
	Places []placeChoice
	House  alarms.HouseID
	Until  string
}

type placeChoice struct {
	ID     alarms.PlaceID
	Name   string
	Chosen bool
}

// looksBack reports whether there is a past to look at.
func (s *Server) looksBack() bool { return s.options.Course != nil }

func (s *Server) dayRoutes(rt router) {
	rt.see("GET /back", s.back)
	rt.see("GET /charts", func(w http.ResponseWriter, r *http.Request) error { // where it was before
		http.Redirect(w, r, "/back?"+r.URL.RawQuery, http.StatusPermanentRedirect)
		return nil
	})
}

// back answers with the strip of one house: as a page, or with part=1 as the
// strip alone, and with part=front as the one of the front page.
func (s *Server) back(w http.ResponseWriter, r *http.Request) error {
	if !s.looksBack() {
		return answer.Say(answer.Absent, "There is no past to look at here.")
	}
	q := r.URL.Query()
	ctx, cancel := context.WithTimeout(r.Context(), dayWait)
	defer cancel()
	say := s.wordsOf(r)
	houses := s.picture(say).Houses
	for _, h := range houses {
		if id := q.Get("house"); id != "" && string(h.ID) != id {
			continue
		}
		a := lookback.AskOf(q, h, s.watch.Now())
		switch q.Get("part") {
		case "front":
			return s.renderPart(w, r, http.StatusOK, "back", "charts", s.houseCharts(ctx, say, h))
		case "1":
			return s.renderPart(w, r, http.StatusOK, "back", "daystrip", s.strips().Draw(ctx, say, a))
		}
		v := backPage{frame: s.frame(r, "Looking back at %s", h.Name), Strip: s.strips().Draw(ctx, say, a), House: h.ID}
		v.choices(houses, a, s.options.Course.MainPlace(h.ID))
		return s.render(w, r, http.StatusOK, "back", v)
	}
	return answer.Say(answer.Absent, "There is no such house.")
}

// choices lists the other houses, and the places of this one.
func (v *backPage) choices(houses []alarms.HousePicture, a lookback.Ask, main alarms.PlaceID) {
	v.Until = a.UntilText()
	for _, h := range houses {
		v.Houses = append(v.Houses, lookback.Link{Words: h.Name, Address: a.Elsewhere(h), Chosen: h.ID == a.House.ID})
	}
	for _, p := range a.House.Places {
		chosen := slices.Contains(a.Places, p.ID) || len(a.Places) == 0 && p.ID == main
		v.Places = append(v.Places, placeChoice{ID: p.ID, Name: p.Name, Chosen: chosen})
	}
}

// houseCharts draws the last day of a house for the front page.
func (s *Server) houseCharts(ctx context.Context, say words.Words, h alarms.HousePicture) chartsView {
	v := chartsView{ID: h.ID, Anchor: words.Anchor("house", string(h.ID)) + "-charts", Again: "/back?part=front&house=" + string(h.ID)}
	if s.options.Course != nil {
		v.Strip = s.strips().Draw(ctx, say, lookback.LastDay(h))
	}
	return v
}

// strips draws the past, of which there must be some.
func (s *Server) strips() lookback.Strips {
	return lookback.Strips{Watch: s.watch, Course: s.options.Course, Log: s.log}
}
