package page

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
)

// logFilter is what a person asked of the log.
type logFilter struct {
	Kind  LogKind
	House alarms.HouseID
	Rank  string // priority, "" for any
	Words string // as typed
	Day   string // 2006-01-02: that day and what is older
	From  LogMark

	dayEnd time.Time
}

const (
	maxLogWords = 100 // characters
	mostWords   = 8
)

var logKinds = []logChoice{
	{Value: string(LogAny), Words: "Everything"}, {Value: string(LogAlarms), Words: "Alarms"},
	{Value: string(LogPeople), Words: "What people did"}, {Value: string(LogDrives), Words: "What the drives did"},
	{Value: string(LogWatch), Words: "The watch itself"},
}

var logRanks = []logChoice{{Value: "", Words: "any priority"}, {Value: "high", Words: "high priority"},
	{Value: "medium", Words: "medium priority"}, {Value: "low", Words: "low priority"}}

// logAsked reads a filter. What is not known is told: a filter that is silently
// left out would show what was not asked for.
func logAsked(q url.Values, zone *time.Location, houses []alarms.HousePicture) (f logFilter, err error) {
	f = logFilter{Kind: LogKind(q.Get("of")), House: alarms.HouseID(q.Get("house")), Rank: q.Get("rank"),
		Words: tidy(q.Get("words"), maxLogWords), Day: q.Get("day")}
	has := func(list []logChoice, v string) bool {
		return slices.ContainsFunc(list, func(c logChoice) bool { return c.Value == v })
	}
	switch {
	case !has(logKinds, string(f.Kind)):
		return f, faultf(kindInvalid, "That part of the log cannot be found.")
	case !has(logRanks, f.Rank):
		return f, faultf(kindInvalid, "There is no such priority.")
	case f.House != "" && !slices.ContainsFunc(houses, func(h alarms.HousePicture) bool { return h.ID == f.House }):
		return f, faultf(kindInvalid, "There is no such house.")
	}
	if f.Day != "" {
		day, err := time.ParseInLocation(time.DateOnly, f.Day, zone)
		if err != nil {
			return f, &fault{Kind: kindInvalid, Say: "Write the day as year, month and day, such as 2026-06-21.", Err: err}
		}
		f.dayEnd = day.AddDate(0, 0, 1)
	}
	if text := q.Get("before"); text != "" {
		due, seq, _ := strings.Cut(text, ".")
		var err1, err2 error
		f.From.Due, err1 = strconv.ParseInt(due, 10, 64)
		if seq != "" {
			f.From.Seq, err2 = strconv.ParseInt(seq, 10, 64)
		}
		if err1 != nil || err2 != nil {
			return f, faultf(kindInvalid, "That page of the log cannot be found.")
		}
	}
	return f, nil
}

func (f logFilter) query() LogQuery {
	q := LogQuery{From: f.From, House: f.House, Kind: f.Kind, Words: strings.Fields(f.Words), Limit: logPageLines}
	q.Words = q.Words[:min(len(q.Words), mostWords)]
	if q.From == (LogMark{}) && !f.dayEnd.IsZero() {
		q.From = LogMark{Due: f.dayEnd.UnixNano()}
	}
	if f.Rank != "" {
		_ = q.Priority.UnmarshalText([]byte(f.Rank)) // one of logRanks
	}
	return q
}

// at is f from another place on.
func (f logFilter) at(m LogMark) logFilter { f.From = m; return f }

// address is that of what f asks for.
func (f logFilter) address() string {
	q := url.Values{}
	for key, v := range map[string]string{"of": string(f.Kind), "house": string(f.House), "rank": f.Rank, "words": f.Words, "day": f.Day} {
		if v != "" {
			q.Set(key, v)
		}
	}
	if f.From != (LogMark{}) {
		q.Set("before", strconv.FormatInt(f.From.Due, 10)+"."+strconv.FormatInt(f.From.Seq, 10))
	}
	if len(q) == 0 {
		return "/log"
	}
	return "/log?" + q.Encode()
}

// Newest is the address of the first page of f, for the template.
func (f logFilter) Newest() string { return f.at(LogMark{}).address() }

// Any reports whether f asks for less than everything.
func (f logFilter) Any() bool {
	f.From = LogMark{}
	return f.address() != "/log"
}

// kinds offers the kinds of lines, with all else as it is.
func (f logFilter) kinds() []logChoice {
	all := slices.Clone(logKinds)
	for i := range all {
		to := f.at(LogMark{})
		to.Kind = LogKind(all[i].Value)
		all[i].Address, all[i].Here = to.address(), to.Kind == f.Kind
	}
	return all
}

func (f logFilter) houses(houses []alarms.HousePicture) []logChoice {
	all := []logChoice{{Words: "all houses", Here: f.House == ""}}
	for _, h := range houses {
		all = append(all, logChoice{Value: string(h.ID), Words: h.Name, Here: h.ID == f.House})
	}
	return all
}

func (f logFilter) ranks() []logChoice {
	all := slices.Clone(logRanks)
	for i := range all {
		all[i].Here = all[i].Value == f.Rank
	}
	return all
}
