package page

import (
	"context"
	"net/http"
	"time"

	"telltale/alarms"
)

// dayWait bounds how long one strip may take to read.
const dayWait = 10 * time.Second

// chartsView is the strip of one house on the front page.
type chartsView struct {
	ID     alarms.HouseID
	Anchor string
	Again  string // address of the part alone
	Strip  dayView
}

// backPage is one house's strip, large.
type backPage struct {
	frame
	Strip  dayView
	Houses []dayLink
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
	rt.page("GET /back", s.back)
	rt.page("GET /charts", func(w http.ResponseWriter, r *http.Request) error { // where it was before
		http.Redirect(w, r, "/back?"+r.URL.RawQuery, http.StatusPermanentRedirect)
		return nil
	})
}

// back answers with the strip of one house: as a page, or with part=1 as the
// strip alone, and with part=front as the one of the front page.
func (s *Server) back(w http.ResponseWriter, r *http.Request) error {
	if !s.looksBack() {
		return faultf(kindAbsent, "There is no past to look at here.")
	}
	q := r.URL.Query()
	ctx, cancel := context.WithTimeout(r.Context(), dayWait)
	defer cancel()
	words := s.wordsOf(r)
	houses := s.picture(words).Houses
	for _, h := range houses {
		if id := q.Get("house"); id != "" && string(h.ID) != id {
			continue
		}
		a := askOf(q, h, s.watch.Now())
		switch q.Get("part") {
		case "front":
			return s.renderPart(w, http.StatusOK, "back", "charts", s.houseCharts(ctx, words, h))
		case "1":
			return s.renderPart(w, http.StatusOK, "back", "daystrip", s.dayOf(ctx, words, a))
		}
		v := backPage{frame: s.frame(w, r, "Looking back at "+h.Name), Strip: s.dayOf(ctx, words, a), House: h.ID}
		v.choices(houses, a, s.options.Course.MainPlace(h.ID))
		return s.render(w, http.StatusOK, "back", v)
	}
	return faultf(kindAbsent, "There is no such house.")
}

// choices lists the other houses, and the places of this one.
func (v *backPage) choices(houses []alarms.HousePicture, a dayAsk, main alarms.PlaceID) {
	if !a.until.IsZero() {
		v.Until = a.until.UTC().Format(untilLayout)
	}
	for _, h := range houses {
		other := dayAsk{house: h}
		v.Houses = append(v.Houses, dayLink{Words: h.Name, Address: other.address(a.zoom, a.until), Chosen: h.ID == a.house.ID})
	}
	for _, p := range a.house.Places {
		c := placeChoice{ID: p.ID, Name: p.Name, Chosen: len(a.places) == 0 && p.ID == main}
		for _, id := range a.places {
			c.Chosen = c.Chosen || id == p.ID
		}
		v.Places = append(v.Places, c)
	}
}

// houseCharts draws the last day of a house for the front page.
func (s *Server) houseCharts(ctx context.Context, words words, h alarms.HousePicture) chartsView {
	v := chartsView{ID: h.ID, Anchor: anchor("house", string(h.ID)) + "-charts", Again: "/back?part=front&house=" + string(h.ID)}
	if s.options.Course != nil {
		v.Strip = s.dayOf(ctx, words, dayAsk{house: h, zoom: zooms[0]})
	}
	return v
}
