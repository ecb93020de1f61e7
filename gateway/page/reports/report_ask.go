package reports

import (
	"context"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
)

// longestReport bounds what one report reads.
const longestReport = 400 * 24 * time.Hour

// Of says what a report is to be of.
type Of struct {
	Kind     string // day, week, season or span
	On       string // a day of it, as 2026-06-21; "": today
	From, To string // of a span: its first and its last day
}

// Bad is an error that says what cannot be reported on.
type Bad struct {
	Text tongue.Text
	Args []any
}

func (b Bad) Error() string { return tongue.English.Say(b.Text, b.Args...) }

func bad(text tongue.Text, args ...any) error { return Bad{text, args} }

// Span says what time a report is about. Days and weeks are those of the
// calendar; weeks begin on a Monday, as in ISO 8601. A season lasts from one
// change of season to the next. An error that is a BadReport is for whoever
// asked.
func Span(ctx context.Context, r service.Reports, house alarms.HouseID, of Of, zone *time.Location, now time.Time) (s report.Span, season alarms.Season, on time.Time, err error) {
	if on, err = DayAsked(of.On, "on", zone, now); err != nil {
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
		err = bad("A report is of a day, a week, a season or a span (got %q).", of.Kind)
	}
	if err == nil && s.From.After(now) {
		err = bad("That has not begun yet.")
	}
	return s, season, on, err
}

// DayAsked is the noon of a day.
func DayAsked(text, key string, zone *time.Location, now time.Time) (time.Time, error) {
	day := now.In(zone)
	if text != "" {
		var err error
		if day, err = time.ParseInLocation(time.DateOnly, text, zone); err != nil || day.Year() < 1971 || day.Year() > 9000 {
			return day, bad("%s must be a day like 2026-06-21 (got %q).", key, text)
		}
	}
	y, m, d := day.Date()
	return time.Date(y, m, d, 12, 0, 0, 0, zone), nil
}

func spanAsked(of Of, zone *time.Location, now time.Time) (s report.Span, err error) {
	if of.From == "" || of.To == "" {
		return s, bad("A span needs its first day in from and its last day in to.")
	}
	first, err := DayAsked(of.From, "from", zone, now)
	if err != nil {
		return s, err
	}
	last, err := DayAsked(of.To, "to", zone, now)
	if err != nil {
		return s, err
	}
	s = report.Span{From: report.Day(first, zone).From, To: report.Day(last, zone).To}
	switch {
	case !s.From.Before(s.To):
		return s, bad("The first day must not be after the last.")
	case s.Len() > longestReport:
		return s, bad("A report covers 400 days at most. Ask for less.")
	}
	return s, nil
}

// seasonAsked is the season at the end of a day, of a long one its last days.
func seasonAsked(ctx context.Context, r service.Reports, house alarms.HouseID, on time.Time, zone *time.Location, now time.Time) (s report.Span, name alarms.Season, err error) {
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
		return s, name, bad("Nothing is recorded of the season of that day.")
	}
	return s, name, nil
}

// FileName names the files of a report, without an ending.
func FileName(house alarms.HouseID, kind string, s report.Span, zone *time.Location) string {
	return "report-" + string(house) + "-" + kind + "-" + s.From.In(zone).Format(time.DateOnly)
}
