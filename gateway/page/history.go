package page

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"telltale/alarms"
)

const frontCharts = 12 // of one house on the front page; more are one step away

// spans are the lengths of chart to choose from, in hours.
var spans = []int{6, 24, 72}

// chartsView is the charts of one house.
type chartsView struct {
	House  string // name
	ID     alarms.HouseID
	Anchor string
	Hours  int
	Spans  []spanChoice
	Charts []chart
	Failed int // charts whose history could not be read
	More   int // charts left out
	AsOf   string
}

type spanChoice struct {
	Hours   int
	Chosen  bool
	Address string
}

// hoursAsked returns the chosen length, or the shortest.
func hoursAsked(r *http.Request) int {
	asked, err := strconv.Atoi(r.URL.Query().Get("hours"))
	for _, h := range spans {
		if err == nil && h == asked {
			return h
		}
	}
	return spans[0]
}

type chartsPage struct {
	frame
	Charts chartsView
}

// charts answers with all charts of one house: as a page, or with part=1 as
// the part of the front page.
func (s *Server) charts(w http.ResponseWriter, r *http.Request) error {
	id := alarms.HouseID(r.URL.Query().Get("house"))
	part := r.URL.Query().Get("part") == "1"
	ctx, cancel := context.WithTimeout(r.Context(), 2*frontWait)
	defer cancel()
	words := s.wordsOf(r)
	for _, h := range s.picture(words).Houses {
		if id != "" && h.ID != id {
			continue
		}
		if part {
			return s.renderPart(w, http.StatusOK, "front", "charts", s.houseCharts(ctx, words, h, hoursAsked(r), frontCharts))
		}
		v := chartsPage{frame: s.frame(w, r, "The last hours in "+h.Name),
			Charts: s.houseCharts(ctx, words, h, hoursAsked(r), 0)}
		for i := range v.Charts.Spans {
			v.Charts.Spans[i].Address = "/charts?house=" + string(h.ID) + "&hours=" + strconv.Itoa(v.Charts.Spans[i].Hours)
		}
		return s.render(w, http.StatusOK, "charts", v)
	}
	return faultf(kindAbsent, "There is no such house.")
}

// houseCharts draws up to most charts, 0 for all.
func (s *Server) houseCharts(ctx context.Context, words words, h alarms.HousePicture, hours, most int) chartsView {
	to := s.watch.Now()
	from := to.Add(-time.Duration(hours) * time.Hour)
	v := chartsView{House: h.Name, ID: h.ID, Anchor: anchor("house", string(h.ID)) + "-charts", Hours: hours,
		AsOf: words.clock(to, to)}
	for _, n := range spans {
		v.Spans = append(v.Spans, spanChoice{n, n == hours, "/?hours=" + strconv.Itoa(n) + "#" + v.Anchor})
	}
	for _, pl := range h.Places {
		for _, pt := range pl.Points {
			if pt.Quantity == alarms.Battery || pt.Quantity == alarms.Signal {
				continue
			}
			if most > 0 && len(v.Charts) == most {
				v.More++
				continue
			}
			points, err := s.watch.History(ctx, h.ID, pl.ID, pt.Quantity, from, to, chartPoints)
			if err != nil {
				s.log.Error().Err(err).Str("place", string(pl.ID)).Str("quantity", string(pt.Quantity)).
					Msg("the page cannot read the history of a place")
				v.Failed++
				continue
			}
			c := words.chartOf(chartAsk{Name: pl.Name, Quantity: pt.Quantity, Limits: pt.Limits, From: from, To: to}, points)
			c.ID = anchor("chart", string(h.ID), string(pl.ID), string(pt.Quantity))
			v.Charts = append(v.Charts, c)
		}
	}
	return v
}
