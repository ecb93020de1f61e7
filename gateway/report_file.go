package gateway

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/config"
	"telltale/gateway/page"
	"telltale/gateway/store"
)

// ReportOptions say what to report on, from the store of a config.
type ReportOptions struct {
	Config *config.Config
	House  alarms.HouseID // empty: the first
	Of     page.ReportOf
	Now    time.Time
}

// MadeReport is a report that can be written.
type MadeReport struct {
	Name   string // for its files, without an ending
	report tally.Report
	in     page.ReportIn
	words  alarms.Words
}

// ErrReport is found by errors.Is in the errors of MakeReport that speak of what
// was asked for.
var ErrReport = errors.New("that cannot be reported on")

// MakeReport reports from the store, beside the watch that owns it or without
// one. What runs at the moment is in no log yet and is not counted.
func MakeReport(ctx context.Context, o ReportOptions) (m MadeReport, err error) {
	s, closeStore, err := store.OpenToRead(o.Config.Store.Directory, store.Options{})
	if err != nil {
		return m, marked{ErrStore, err}
	}
	defer func() { err = errors.Join(err, closeStore()) }()
	r := &reports{store: s, plan: o.Config.Plan.Filled(), now: func() time.Time { return o.Now }}
	houses := r.Houses()
	if o.House == "" && len(houses) > 0 {
		o.House = houses[0].ID
	}
	if r.house(o.House) == nil {
		return m, marked{ErrReport, fmt.Errorf("there is no house %q; the config has %s", o.House, namesOf(houses))}
	}
	zone := r.plan.Words.Zone
	span, season, _, err := page.ReportSpan(ctx, r, o.House, o.Of, zone, o.Now)
	var bad page.BadReport
	if errors.As(err, &bad) {
		return m, marked{ErrReport, bad}
	}
	if err != nil {
		return m, err
	}
	m.report, err = r.Report(ctx, o.House, span)
	m.in = page.ReportIn{Garden: cmp.Or(o.Config.Page.Name, "Telltale"), Kind: o.Of.Kind, Season: season}
	m.words = r.plan.Words
	m.Name = page.ReportName(o.House, o.Of.Kind, span, zone)
	return m, err
}

func namesOf(all []page.HouseName) (text string) {
	for i, h := range all {
		if i > 0 {
			text += ", "
		}
		text += string(h.ID)
	}
	return text
}

// WriteHTML writes the report as one page that needs no other file.
func (m *MadeReport) WriteHTML(w io.Writer) error {
	return page.WriteReport(w, m.words, m.report, m.in)
}

// WriteCSV writes the report as a table.
func (m *MadeReport) WriteCSV(w io.Writer) error {
	return page.WriteReportTable(w, m.words, m.report)
}
