package page

import (
	"context"
	"iter"
	"net/http"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

// Downloads gives out the history piece by piece. All methods are called from
// many goroutines at once.
type Downloads interface {
	// Streams are what can be had of a house, by place, probe and quantity, in
	// the order of the plan.
	Streams(house alarms.HouseID) []DownloadStream
	// Houses are those that can be chosen, in order.
	Houses() []HouseName
	// Samples yields what was measured with from <= At < to, piece by piece in
	// time, in each piece by time and then by stream: readings where they are
	// kept, else values of 10 minutes. It holds one piece at a time, and ends
	// with the first error.
	Samples(ctx context.Context, of []DownloadStream, from, to time.Time) iter.Seq2[DownloadSample, error]
}

// DownloadStream is one quantity of one probe.
type DownloadStream struct {
	House     alarms.HouseID
	Place     alarms.PlaceID
	PlaceName string
	Probe     alarms.ProbeID
	Quantity  alarms.Quantity
}

// DownloadSample is one value, or what the values of 10 minutes were like.
type DownloadSample struct {
	Stream         int // which of those asked for
	At             time.Time
	Sum            bool // of the 10 minutes from At; else a reading, which all three are
	Min, Mean, Max float64
}

// Bounds of a download.
const (
	longestDownload = 400 * 24 * time.Hour
	mostDownloads   = 2                // at once
	downloadStall   = 30 * time.Second // a visitor takes nothing for so long: it ends
)

type downloadPage struct {
	frame
	Houses     []logChoice
	House      HouseName
	Places     []downloadChoice
	Quantities []downloadChoice
	From, To   string
}

type downloadChoice struct{ Value, Words, ID string }

func (s *Server) downloads() bool { return s.options.Downloads != nil }

func (s *Server) downloadRoutes(rt router) {
	if !s.downloads() {
		return
	}
	room := make(chan struct{}, mostDownloads)
	rt.page("GET /download", s.downloadPage)
	rt.long("GET /download/file", s.signed(func(w http.ResponseWriter, r *http.Request) error {
		select {
		case room <- struct{}{}:
			defer func() { <-room }()
			return s.download(w, r)
		default:
			return &fault{Kind: kindAway, Say: "Others are downloading now. Try again in a minute.", After: 60}
		}
	}))
}

// downloadPage lets a visitor choose what to take along.
func (s *Server) downloadPage(w http.ResponseWriter, r *http.Request) error {
	words, now := s.wordsOf(r), s.watch.Now()
	v := downloadPage{frame: s.frame(w, r, "Download")}
	houses := s.options.Downloads.Houses()
	h, ok := houseChosen(houses, r.URL.Query().Get("house"))
	if !ok {
		return faultf(kindAbsent, "There is no such house.")
	}
	v.House = h
	for _, o := range houses {
		v.Houses = append(v.Houses, logChoice{Words: o.Name, Address: "/download?house=" + string(o.ID), Here: o.ID == h.ID})
	}
	for _, st := range s.options.Downloads.Streams(h.ID) {
		v.Places = addChoice(v.Places, "place", string(st.Place), st.PlaceName)
		v.Quantities = addChoice(v.Quantities, "quantity", string(st.Quantity), st.Quantity.Word())
	}
	v.From, v.To = now.In(words.zone).AddDate(0, 0, -6).Format(time.DateOnly), now.In(words.zone).Format(time.DateOnly)
	return s.render(w, http.StatusOK, "download", v)
}

func addChoice(all []downloadChoice, what, value, name string) []downloadChoice {
	if slices.ContainsFunc(all, func(c downloadChoice) bool { return c.Value == value }) {
		return all
	}
	return append(all, downloadChoice{value, name, anchor(what, value)})
}

func houseChosen(all []HouseName, id string) (HouseName, bool) {
	for _, h := range all {
		if id == "" || string(h.ID) == id {
			return h, true
		}
	}
	return HouseName{}, false
}

// downloadAsk is what is to be taken along.
type downloadAsk struct {
	report.Span
	house   HouseName
	streams []DownloadStream
	form    string // wide, long or line
	packed  bool   // by gzip
}

// downloadAsked reads an address. No place or no quantity named means all.
func (s *Server) downloadAsked(r *http.Request, w words, now time.Time) (a downloadAsk, err error) {
	q := r.URL.Query()
	var ok bool
	if a.house, ok = houseChosen(s.options.Downloads.Houses(), q.Get("house")); !ok {
		return a, faultf(kindAbsent, "There is no such house.")
	}
	for _, st := range s.options.Downloads.Streams(a.house.ID) {
		if wanted(q["place"], string(st.Place)) && wanted(q["quantity"], string(st.Quantity)) {
			a.streams = append(a.streams, st)
		}
	}
	if len(a.streams) == 0 {
		return a, faultf(kindAbsent, "No probe measures that there. Choose other places or quantities.")
	}
	if a.form = q.Get("form"); a.form == "" {
		a.form = "wide"
	}
	if !slices.Contains([]string{"wide", "long", "line"}, a.form) {
		return a, faultf(kindInvalid, "The form must be wide, long or line.")
	}
	a.packed = q.Get("gz") != ""
	first, err := dayAsked(q.Get("from"), "from", w.zone, now)
	if err != nil {
		return a, &fault{Kind: kindInvalid, Say: err.Error()}
	}
	last, err := dayAsked(q.Get("to"), "to", w.zone, now)
	if err != nil {
		return a, &fault{Kind: kindInvalid, Say: err.Error()}
	}
	a.Span = report.Span{From: report.Day(first, w.zone).From, To: report.Day(last, w.zone).To}
	switch {
	case !a.From.Before(a.To):
		return a, faultf(kindInvalid, "The first day must not be after the last.")
	case a.Len() > longestDownload:
		return a, faultf(kindInvalid, "A download covers 400 days at most. Take it in parts.")
	}
	return a, nil
}

func wanted(list []string, one string) bool { return len(list) == 0 || slices.Contains(list, one) }

// name is what the file is called.
func (a downloadAsk) name(zone *time.Location) string {
	end := map[string]string{"wide": ".csv", "long": ".csv", "line": ".lp"}[a.form]
	if a.packed {
		end += ".gz"
	}
	return strings.Join([]string{string(a.house.ID), a.From.In(zone).Format(time.DateOnly),
		a.To.Add(-time.Second).In(zone).Format(time.DateOnly)}, "_") + end
}
