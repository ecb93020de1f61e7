package page

import (
	"fmt"
	"html/template"
	"io"

	"telltale/alarms"
	"telltale/alarms/report"
)

// ReportIn says how a report is headed.
type ReportIn struct {
	Garden string
	Kind   string // day, week, season or span
	Season alarms.Season
}

type reportFile struct {
	Report reportView
	Style  template.CSS
}

// WriteReport writes a report as one document of HTML that needs no other file,
// in the words and the look of the page.
func WriteReport(w io.Writer, words alarms.Words, r report.Report, o ReportIn) error {
	v, err := parseViews()
	if err != nil {
		return err
	}
	return v.writeReport(w, newWords(words), r, o)
}

// WriteReportTable writes a report as a table in CSV (RFC 4180) with the columns
// section, item, quantity, value, unit and at.
func WriteReportTable(w io.Writer, words alarms.Words, r report.Report) error {
	return writeReportTable(w, newWords(words), r)
}

func (v *views) writeReport(w io.Writer, words words, r report.Report, o ReportIn) error {
	view := reportFile{Report: words.report(r, o), Style: template.CSS(v.files["page.css"])} // our own, built in
	if err := v.pages["report"].ExecuteTemplate(w, "reportfile", view); err != nil {
		return fmt.Errorf("the report could not be written: %w", err)
	}
	return nil
}
