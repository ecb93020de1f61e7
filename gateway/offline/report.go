package offline

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/page"
	"telltale/gateway/page/reports"
	"telltale/gateway/page/service"
	"telltale/gateway/past"
	"telltale/gateway/store"
)

// ReportOptions say what to report on.
type ReportOptions struct {
	Config *config.Config
	Store  *store.Store   // the config's
	House  alarms.HouseID // empty: the first
	Of     reports.Of
	Now    time.Time
}

// MadeReport is a report that can be written.
type MadeReport struct {
	Name   string // for its files, without an ending
	On     string // house and days, in words
	report tally.Report
	in     reports.Heading
	words  alarms.Words
}

// ErrAsked is found by errors.Is in the errors that speak of what was asked for.
var ErrAsked = errors.New("that cannot be done")

// asked is an error that is ErrAsked too.
type asked struct{ error }

func (asked) Is(target error) bool { return target == ErrAsked }

// MakeReport reports from a store, beside the watch that owns it or without one. What
// runs at the moment is in no log yet and is not counted.
func MakeReport(ctx context.Context, o ReportOptions) (m MadeReport, err error) {
	r := past.New(past.Options{Store: o.Store, Plan: o.Config.Plan, Now: func() time.Time { return o.Now }})
	houses := r.Houses()
	if o.House == "" && len(houses) > 0 {
		o.House = houses[0].ID
	}
	if !slices.ContainsFunc(houses, func(h service.HouseName) bool { return h.ID == o.House }) {
		return m, asked{fmt.Errorf("the config has no house %q%s", o.House, config.OrList(string(o.House), namesOf(houses), "houses"))}
	}
	m.words = o.Config.Plan.Filled().Words
	zone := m.words.Zone
	span, season, _, err := reports.Span(ctx, r, o.House, o.Of, zone, o.Now)
	if bad, ok := errors.AsType[reports.Bad](err); ok {
		return m, asked{bad}
	}
	if err != nil {
		return m, err
	}
	m.report, err = r.Report(ctx, o.House, span)
	m.in = reports.Heading{Garden: cmp.Or(o.Config.Page.Name, "Telltale"), Kind: o.Of.Kind, Season: season}
	m.On = fmt.Sprintf("%s, %s", m.report.Name, daysOf(span, zone))
	m.Name = reports.FileName(o.House, o.Of.Kind, span, zone)
	return m, err
}

// daysOf are the days of a span in words.
func daysOf(s tally.Span, zone *time.Location) string {
	first, last := s.From.In(zone).Format("2 January 2006"), s.To.Add(-time.Second).In(zone).Format("2 January 2006")
	if first == last {
		return first
	}
	return fmt.Sprintf("the %.0f days from %s to %s", s.Len().Hours()/24, first, last)
}

func namesOf(all []service.HouseName) []string {
	return walk.Each(all, func(h service.HouseName) string { return string(h.ID) })
}

// WriteHTML writes the report as one page that needs no other file.
func (m *MadeReport) WriteHTML(w io.Writer) error {
	return page.WriteReport(w, m.words, m.report, m.in)
}

// WriteCSV writes the report as a table.
func (m *MadeReport) WriteCSV(w io.Writer) error {
	return page.WriteReportTable(w, m.words, m.report)
}
