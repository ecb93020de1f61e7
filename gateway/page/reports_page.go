package page

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/reports"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// keepsakes are reports and readings to take along.
type keepsakes struct{ *Server }

// reportWait bounds how long one report may take, waiting for others included.
const reportWait = 25 * time.Second

type reportPage struct {
	frame
	Report  reports.View
	Houses  []logChoice
	Kinds   []logChoice
	On      string // as a date field has it
	Earlier string // address, "" where there is nothing
	Later   string
	CSV     string
	File    string
	Year    string
}

func (s keepsakes) reportRoutes(rt router) {
	if !s.reports() {
		return
	}
	busy := make(chan struct{}, 1) // one at a time: a report reads much
	alone := func(h answer.Handler) answer.Handler {
		return func(w http.ResponseWriter, r *http.Request) error {
			ctx, cancel := context.WithTimeout(r.Context(), reportWait)
			defer cancel()
			select {
			case busy <- struct{}{}:
				defer func() { <-busy }()
				return h(w, r.WithContext(ctx))
			case <-ctx.Done():
				return &answer.Error{Kind: answer.Away, Say: "Other reports are being made. Try again in a minute.", Err: ctx.Err(), After: 60}
			}
		}
	}
	rt.see("GET /report", alone(s.reportPage))
	rt.see("GET /report/year", alone(s.yearPage))
}

func (s *Server) reports() bool { return s.options.Reports != nil }

// reportPage answers with a report: as a page, or with form=csv or form=html as
// a file to keep.
func (s keepsakes) reportPage(w http.ResponseWriter, r *http.Request) error {
	q, say, now := r.URL.Query(), s.wordsOf(r), s.watch.Now()
	ask, err := s.reportAsked(r.Context(), q, say, now)
	if err != nil {
		return err
	}
	rep, err := s.options.Reports.Report(r.Context(), ask.House.ID, ask.Span)
	if err != nil {
		return err
	}
	o := reports.Heading{Garden: s.options.Name, Kind: ask.Kind, Season: ask.Season}
	switch q.Get("form") {
	case "csv":
		asFile(w, "text/csv; charset=utf-8", ask.fileName(say.Zone)+".csv")
		return reports.WriteTable(w, say, rep)
	case "html":
		asFile(w, "text/html; charset=utf-8", ask.fileName(say.Zone)+".html")
		return s.views.writeReport(w, say, rep, o)
	}
	v := reportPage{frame: s.frame(r, "Report"), Report: reports.ViewOf(say, rep, o), On: ask.On.In(say.Zone).Format(time.DateOnly)}
	v.Houses = s.houseChoices(ask.House)
	for _, k := range reportKinds {
		other := ask
		other.Kind = k.Key
		v.Kinds = append(v.Kinds, logChoice{Value: k.Key, Words: say.Say(k.Words), Address: other.address(ask.On, say.Zone, ""), Here: k.Key == ask.Kind})
	}
	began, err := s.options.Reports.Began(r.Context())
	if err != nil {
		return err
	}
	v.Earlier, v.Later = ask.moves(say.Zone, began, now)
	v.Year = yearAddress(ask.House, ask.On.In(say.Zone).Year(), "")
	v.CSV, v.File = ask.address(ask.On, say.Zone, "csv"), ask.address(ask.On, say.Zone, "html")
	return s.render(w, r, http.StatusOK, "report", v)
}

func (s keepsakes) houseChoices(here service.HouseName) (out []logChoice) {
	for _, h := range s.options.Reports.Houses() {
		out = append(out, logChoice{Value: string(h.ID), Words: h.Name, Here: h.ID == here.ID})
	}
	return out
}

type yearPage struct {
	frame
	Sheet  reports.YearView
	Houses []logChoice
	Years  []logChoice
	File   string
}

type yearFile struct {
	Sheet reports.YearView
	Style template.CSS
}

// yearPage answers with a year on one sheet: as a page, or with form=html as a file
// to keep, which names nobody and nothing.
func (s keepsakes) yearPage(w http.ResponseWriter, r *http.Request) error {
	q, say, now := r.URL.Query(), s.wordsOf(r), s.watch.Now()
	house, ok := houseChosen(s.options.Reports.Houses(), q.Get("house"))
	if !ok {
		return answer.Say(answer.Absent, "There is no such house.")
	}
	began, err := s.options.Reports.Began(r.Context())
	if err != nil {
		return err
	}
	last := now.In(say.Zone).Year()
	first, year := last, last
	if !began.IsZero() {
		first = min(began.In(say.Zone).Year(), last)
	}
	if text := q.Get("year"); text != "" {
		if year, err = strconv.Atoi(text); err != nil || year < first || year > last {
			return answer.Say(answer.Invalid, "There is a sheet of the years %d to %d (got %q).", first, last, text)
		}
	}
	of, err := s.options.Reports.Year(r.Context(), house.ID, report.CalendarYear(year, say.Zone))
	if err != nil {
		return err
	}
	v := yearPage{frame: s.frame(r, "A year on one sheet"), Sheet: reports.YearOf(say, of), Houses: s.houseChoices(house), File: yearAddress(house, year, "html")}
	if q.Get("form") == "html" {
		asFile(w, "text/html; charset=utf-8", fmt.Sprintf("greenhouse-%d.html", year))
		return s.views.write(w, say.Tongue, "year", "yearfile", yearFile{v.Sheet, template.CSS(s.views.files["page.css"])}) // our own, built in
	}
	for y := last; y >= first; y-- {
		v.Years = append(v.Years, logChoice{Words: strconv.Itoa(y), Here: y == year})
	}
	return s.render(w, r, http.StatusOK, "year", v)
}

func yearAddress(h service.HouseName, year int, form string) string {
	q := url.Values{"house": {string(h.ID)}, "year": {strconv.Itoa(year)}}
	if form != "" {
		q.Set("form", form)
	}
	return "/report/year?" + q.Encode()
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
	return reports.FileName(a.House.ID, a.Kind, a.Span, zone)
}

// reportKind is what a report may be of.
type reportKind struct {
	Key   string
	Words tongue.Text
}

var reportKinds = []reportKind{{"day", "A day"}, {"week", "A week"}, {"season", "A season"}}

// reportAsk is a report that is asked for.
type reportAsk struct {
	report.Span
	House  service.HouseName
	Kind   string // a key of reportKinds, or "span"
	Season alarms.Season
	On     time.Time
}

// reportAsked reads an address.
func (s keepsakes) reportAsked(ctx context.Context, q url.Values, w words.Words, now time.Time) (a reportAsk, err error) {
	var ok bool
	if a.House, ok = houseChosen(s.options.Reports.Houses(), q.Get("house")); !ok {
		return a, answer.Say(answer.Absent, "There is no such house.")
	}
	a.Kind = cmp.Or(q.Get("of"), "day")
	a.Span, a.Season, a.On, err = reports.Span(ctx, s.options.Reports, a.House.ID, reports.Of{Kind: a.Kind, On: q.Get("on"),
		From: q.Get("from"), To: q.Get("to")}, w.Zone, now)
	return a, notTold(err)
}

type reportFile struct {
	Report reports.View
	Style  template.CSS
}

// WriteReport writes a report as one document of HTML that needs no other file,
// in the words and the look of the page.
func WriteReport(w io.Writer, say alarms.Words, r report.Report, o reports.Heading) error {
	v, err := readViews()
	if err != nil {
		return err
	}
	return v.writeReport(w, words.New(say), r, o)
}

// WriteReportTable writes a report as a table in CSV (RFC 4180) with the columns
// section, item, quantity, value, unit and at, in English: programs read it.
func WriteReportTable(w io.Writer, say alarms.Words, r report.Report) error {
	return reports.WriteTable(w, words.New(say).Speaking(tongue.English), r)
}

func (v *views) writeReport(w io.Writer, say words.Words, r report.Report, o reports.Heading) error {
	view := reportFile{Report: reports.ViewOf(say, r, o), Style: template.CSS(v.files["page.css"])} // our own, built in
	if err := v.write(w, say.Tongue, "report", "reportfile", view); err != nil {
		return fmt.Errorf("the report could not be written: %w", err)
	}
	return nil
}
