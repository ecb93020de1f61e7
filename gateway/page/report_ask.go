package page

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

// reportKind is what a report may be of.
type reportKind struct{ Key, Words string }

var reportKinds = []reportKind{{"day", "A day"}, {"week", "A week"}, {"season", "A season"}}

// longestReport bounds what one report reads.
const longestReport = 400 * 24 * time.Hour

// reportAsk is a report that is asked for.
type reportAsk struct {
	report.Span
	House  HouseName
	Kind   string // a key of reportKinds, or "span"
	Season alarms.Season
	On     time.Time
}

// reportAsked reads an address.
func (s *Server) reportAsked(ctx context.Context, q url.Values, w words, now time.Time) (a reportAsk, err error) {
	for _, h := range s.options.Reports.Houses() {
		if id := q.Get("house"); a.House.ID == "" && (id == "" || string(h.ID) == id) {
			a.House = h
		}
	}
	if a.House.ID == "" {
		return a, faultf(kindAbsent, "There is no such house.")
	}
	a.Kind = q.Get("of")
	if a.Kind == "" {
		a.Kind = "day"
	}
	a.Span, a.Season, a.On, err = ReportSpan(ctx, s.options.Reports, a.House.ID, ReportOf{Kind: a.Kind, On: q.Get("on"),
		From: q.Get("from"), To: q.Get("to")}, w.zone, now)
	var bad BadReport
	if errors.As(err, &bad) {
		return a, &fault{Kind: kindInvalid, Say: string(bad)}
	}
	return a, err
}

// ReportOf says what a report is to be of.
type ReportOf struct {
	Kind     string // day, week, season or span
	On       string // a day of it, as 2026-06-21; "": today
	From, To string // of a span: its first and its last day
}

// BadReport is an error that says what cannot be reported on.
type BadReport string

func (b BadReport) Error() string { return string(b) }

// ReportSpan says what time a report is about. Days and weeks are those of the
// calendar; weeks begin on a Monday, as in ISO 8601. A season lasts from one
// change of season to the next. An error that is a BadReport is for whoever
// asked.
func ReportSpan(ctx context.Context, r Reports, house alarms.HouseID, of ReportOf, zone *time.Location, now time.Time) (s report.Span, season alarms.Season, on time.Time, err error) {
	if on, err = dayAsked(of.On, "on", zone, now); err != nil {
		return s, "", on, err
	}
	switch of.Kind {
	case "day":
		s = report.Day(on, zone)
	case "week":
		s = report.Week(on, zone)
	case "season":
		s, season, err = seasonAsked(ctx, r, house, on, zone, now)
	case "span":
		s, err = spanAsked(of, zone, now)
		on = s.From
	default:
		err = BadReport(fmt.Sprintf("A report is of a day, a week, a season or a span (got %q).", of.Kind))
	}
	if err == nil && s.From.After(now) {
		err = BadReport("That has not begun yet.")
	}
	return s, season, on, err
}

// dayAsked is the noon of a day.
func dayAsked(text, key string, zone *time.Location, now time.Time) (time.Time, error) {
	day := now.In(zone)
	if text != "" {
		var err error
		if day, err = time.ParseInLocation(time.DateOnly, text, zone); err != nil || day.Year() < 1971 || day.Year() > 9000 {
			return day, BadReport(fmt.Sprintf("%s must be a day like 2026-06-21 (got %q).", key, text))
		}
	}
	y, m, d := day.Date()
	return time.Date(y, m, d, 12, 0, 0, 0, zone), nil
}

func spanAsked(of ReportOf, zone *time.Location, now time.Time) (s report.Span, err error) {
	if of.From == "" || of.To == "" {
		return s, BadReport("A span needs its first day in from and its last day in to.")
	}
	first, err := dayAsked(of.From, "from", zone, now)
	if err != nil {
		return s, err
	}
	last, err := dayAsked(of.To, "to", zone, now)
	if err != nil {
		return s, err
	}
	s = report.Span{From: report.Day(first, zone).From, To: report.Day(last, zone).To}
	switch {
	case !s.From.Before(s.To):
		return s, BadReport("The first day must not be after the last.")
	case s.Len() > longestReport:
		return s, BadReport("A report covers 400 days at most. Ask for less.")
	}
	return s, nil
}

// seasonAsked is the season at the end of a day, of a long one its last days.
func seasonAsked(ctx context.Context, r Reports, house alarms.HouseID, on time.Time, zone *time.Location, now time.Time) (s report.Span, name alarms.Season, err error) {
	all, err := r.Seasons(ctx, house)
	if err != nil {
		return s, "", err
	}
	began, err := r.Began(ctx)
	if err != nil {
		return s, "", err
	}
	if began.IsZero() {
		began = report.Day(now, zone).From
	}
	end := report.Day(on, zone).To.Add(-time.Second)
	if end.After(now) {
		end = now
	}
	s, name = report.SeasonAt(slices.Clone(all), began, report.Day(now, zone).To, end)
	if s.From.Before(s.To.Add(-longestReport)) {
		s.From = s.To.Add(-longestReport)
	}
	if !s.From.Before(s.To) {
		return s, name, BadReport("Nothing is recorded of the season of that day.")
	}
	return s, name, nil
}
