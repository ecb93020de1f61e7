package page

import (
	"context"
	"net/http"
	"net/url"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

// Reports makes reports of what was. All methods are called from many
// goroutines at once.
type Reports interface {
	// Houses are those that can be reported on, in order.
	Houses() []HouseName
	// Began is when the history begins; zero where nothing was recorded.
	Began(ctx context.Context) (time.Time, error)
	// Seasons are the changes of season, oldest first; the first holds before
	// its own time too.
	Seasons(ctx context.Context, house alarms.HouseID) ([]alarms.SeasonFrom, error)
	// Report reports on a house.
	Report(ctx context.Context, house alarms.HouseID, s report.Span) (report.Report, error)
}

// HouseName is how a house is called.
type HouseName struct {
	ID   alarms.HouseID
	Name string
}

// reportWait bounds how long one report may take, waiting for others included.
const reportWait = 25 * time.Second

type reportPage struct {
	frame
	Report  reportView
	Houses  []logChoice
	Kinds   []logChoice
	On      string // as a date field has it
	Earlier string // address, "" where there is nothing
	Later   string
	CSV     string
	File    string
}

func (s *Server) reportRoutes(rt router) {
	if !s.reports() {
		return
	}
	busy := make(chan struct{}, 1) // one at a time: a report reads much
	rt.page("GET /report", func(w http.ResponseWriter, r *http.Request) error {
		ctx, cancel := context.WithTimeout(r.Context(), reportWait)
		defer cancel()
		select {
		case busy <- struct{}{}:
			defer func() { <-busy }()
			return s.reportPage(w, r.WithContext(ctx))
		case <-ctx.Done():
			return &fault{Kind: kindAway, Say: "Other reports are being made. Try again in a minute.", Err: ctx.Err(), After: 60}
		}
	})
}

func (s *Server) reports() bool { return s.options.Reports != nil }

// reportPage answers with a report: as a page, or with form=csv or form=html as
// a file to keep.
func (s *Server) reportPage(w http.ResponseWriter, r *http.Request) error {
	q, words, now := r.URL.Query(), s.wordsOf(r), s.watch.Now()
	ask, err := s.reportAsked(r.Context(), q, words, now)
	if err != nil {
		return err
	}
	rep, err := s.options.Reports.Report(r.Context(), ask.House.ID, ask.Span)
	if err != nil {
		return err
	}
	o := ReportIn{Garden: s.options.Name, Kind: ask.Kind, Season: ask.Season}
	switch q.Get("form") {
	case "csv":
		asFile(w, "text/csv; charset=utf-8", ask.fileName(words.zone)+".csv")
		return writeReportTable(w, words, rep)
	case "html":
		asFile(w, "text/html; charset=utf-8", ask.fileName(words.zone)+".html")
		return s.views.writeReport(w, words, rep, o)
	}
	v := reportPage{frame: s.frame(w, r, "Report"), Report: words.report(rep, o), On: ask.On.In(words.zone).Format(time.DateOnly)}
	for _, h := range s.options.Reports.Houses() {
		v.Houses = append(v.Houses, logChoice{Value: string(h.ID), Words: h.Name, Here: h.ID == ask.House.ID})
	}
	for _, k := range reportKinds {
		other := ask
		other.Kind = k.Key
		v.Kinds = append(v.Kinds, logChoice{Value: k.Key, Words: k.Words, Address: other.address(ask.On, words.zone, ""), Here: k.Key == ask.Kind})
	}
	began, err := s.options.Reports.Began(r.Context())
	if err != nil {
		return err
	}
	v.Earlier, v.Later = ask.moves(words.zone, began, now)
	v.CSV, v.File = ask.address(ask.On, words.zone, "csv"), ask.address(ask.On, words.zone, "html")
	return s.render(w, http.StatusOK, "report", v)
}

// asFile has the browser keep the answer.
func asFile(w http.ResponseWriter, kind, name string) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	w.Header().Set("Cache-Control", "no-store")
}

// address is where the report of another day is.
func (a reportAsk) address(on time.Time, zone *time.Location, form string) string {
	q := url.Values{"house": {string(a.House.ID)}, "of": {a.Kind}}
	if a.Kind == "span" {
		q.Set("from", a.From.In(zone).Format(time.DateOnly))
		q.Set("to", a.To.Add(-time.Second).In(zone).Format(time.DateOnly))
	} else {
		q.Set("on", on.In(zone).Format(time.DateOnly))
	}
	if form != "" {
		q.Set("form", form)
	}
	return "/report?" + q.Encode()
}

// moves are the addresses of the span before and the one after.
func (a reportAsk) moves(zone *time.Location, began, now time.Time) (earlier, later string) {
	if a.Kind == "span" {
		return "", ""
	}
	if !began.IsZero() && a.From.After(began) {
		earlier = a.address(a.From.Add(-time.Hour), zone, "")
	}
	if a.To.Before(now) {
		later = a.address(a.To, zone, "")
	}
	return earlier, later
}

// fileName names a file of this report, without its ending.
func (a reportAsk) fileName(zone *time.Location) string {
	return ReportName(a.House.ID, a.Kind, a.Span, zone)
}

// ReportName names the files of a report, without an ending.
func ReportName(house alarms.HouseID, kind string, s report.Span, zone *time.Location) string {
	return "report-" + string(house) + "-" + kind + "-" + s.From.In(zone).Format(time.DateOnly)
}
