package record

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// said reports what the file was taken for, a sentence each.
func (v *survey) said(o *ordered, why string) []string {
	t, s := v.t, v.t.shape
	out := append([]string(nil), t.plain.notes...)
	decimals := map[bool]string{true: "comma", false: "point"}[t.comma]
	head := "it has no header, so columns are called by their number"
	if s.headed {
		head = fmt.Sprintf("the header is %s", strings.Join(shortList(s.headers), ", "))
		if s.above > 0 {
			head = fmt.Sprintf("%s above the header passed over; %s", counted(uint64(s.above), "line"), head)
		}
	}
	out = append(out, fmt.Sprintf("A table of %s, its cells separated by %s, with a decimal %s; %s.", counted(t.Rows, "row"), sepName(s.sep), decimals, head))
	out = append(out, v.saidTime(o, why), v.saidZone())
	if n := o.wall.never; n > 0 {
		out = append(out, fmt.Sprintf("%s in the hour that %s leaves out in spring: perhaps the clock that wrote them does not change; then say a --zone without summer time.", counted(n, "time lies", "times lie"), t.Zone))
	}
	if len(s.keys) > 0 {
		var heads []string
		for _, c := range s.keys {
			heads = append(heads, strconv.Quote(clip(s.headers[c])))
		}
		out = append(out, fmt.Sprintf("Each row says in %s what it is about: %s.", strings.Join(heads, " and "), counted(uint64(len(t.names)), "name")))
	}
	span := fmt.Sprintf("From %s to %s, %s", t.From.Format("2006-01-02 15:04"), t.To.Format("2006-01-02 15:04"), Span(t.To.Sub(t.From)))
	if t.Every > 0 {
		span += fmt.Sprintf(", usually a reading every %s", Span(t.Every))
	}
	out = append(out, span+".")
	switch {
	case s.newest && t.Late == 0:
		out = append(out, "It is sorted newest first and is read from its end.")
	case s.newest:
		out = append(out, fmt.Sprintf("It is sorted newest first, but for %s; all are put in order of time.", counted(t.Late, "row")))
	case t.Late > 0:
		out = append(out, fmt.Sprintf("%s behind a later one; they are put in order of time.", counted(t.Late, "row stands", "rows stand")))
	}
	return out
}

func (v *survey) saidTime(o *ordered, why string) string {
	s := v.t.shape
	text := fmt.Sprintf("Column %q says when", clip(s.headers[s.time]))
	if s.clock >= 0 {
		text = fmt.Sprintf("Columns %q and %q say when", clip(s.headers[s.time]), clip(s.headers[s.clock]))
	}
	form := string(o.order)
	if only := v.form.orders(); len(only) == 1 {
		form, why = string(only[0]), ""
	}
	if v.form.counts != noCount {
		form, why = string(v.form.counts), ""
	}
	if v.form.half {
		form += ", 12-hour clock"
	}
	text += ": " + form + ", as in " + strconv.Quote(v.shown)
	if why != "" {
		text += ", " + why
	}
	return text + "."
}

func (v *survey) saidZone() string {
	t := v.t
	switch {
	case v.form.counts == seconds || v.form.counts == millis:
		return fmt.Sprintf("That counts from UTC; times are shown in %s.", t.Zone)
	case t.Zoned:
		return fmt.Sprintf("Its times state their zone; they are shown in %s.", t.Zone)
	case t.shape.utc:
		return "Its header says that times are in UTC."
	case t.summer != "":
		return fmt.Sprintf("The times state no zone, but their clock was changed by an hour on %s: they are taken as local times with summer time, as in %s (--zone says another).", t.summer, t.Zone)
	case t.Zone == time.UTC:
		return "The times state no zone: they are taken as they stand, as if in UTC (--zone says another)."
	}
	return fmt.Sprintf("The times state no zone: they are taken as those of %s.", t.Zone)
}

func shortList(headers []string) []string {
	const most = 12
	var out []string
	for i, h := range headers {
		if i == most {
			return append(out, fmt.Sprintf("and %d more", len(headers)-most))
		}
		out = append(out, strconv.Quote(clip(h)))
	}
	return out
}

// counted is "1 row" or "12,345 rows"; two words say both numbers.
func counted(n uint64, words ...string) string {
	one, many := words[0], words[0]+"s"
	if len(words) > 1 {
		many = words[1]
	}
	if n == 1 {
		return "1 " + one
	}
	return Thousands(n) + " " + many
}

// Thousands writes a number with commas between thousands.
func Thousands(n uint64) string {
	s := strconv.FormatUint(n, 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// Span is a span of time as people say it.
func Span(d time.Duration) string {
	switch {
	case d >= 48*time.Hour:
		return fmt.Sprintf("%.0f days", d.Hours()/24)
	case d >= 2*time.Hour:
		return fmt.Sprintf("%.0f hours", d.Hours())
	case d >= time.Minute:
		return fmt.Sprintf("%g min", float64(d.Round(6*time.Second))/float64(time.Minute))
	}
	return d.Round(time.Millisecond).String()
}
