package page

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"telltale/alarms"
)

const logPageLines = 50

type logPage struct {
	frame
	Lines []logLine
	Older string // address of the next page, "" at the end
	First bool
	Of    LogOf
	Parts []logPart
}

// logPart is one choice of what the log shows.
type logPart struct {
	Of    LogOf
	Words string
}

// Address is that of its newest page.
func (p logPart) Address() string { return logAddress(p.Of, "") }

var logParts = []logPart{{LogAll, "All"}, {LogSwitching, "What the drives did"}, {LogOther, "All but that"}}

func logAddress(of LogOf, before string) string {
	q := url.Values{}
	if of != LogAll {
		q.Set("of", string(of))
	}
	if before != "" {
		q.Set("before", before)
	}
	if len(q) == 0 {
		return "/log"
	}
	return "/log?" + q.Encode()
}

// logPage shows what happened, newest first.
func (s *Server) logPage(w http.ResponseWriter, r *http.Request) error {
	now := s.watch.Now()
	before, first := now.Add(time.Second), true
	if text := r.URL.Query().Get("before"); text != "" {
		nanos, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return &fault{Kind: kindInvalid, Say: "That page of the log cannot be found.", Err: err}
		}
		before, first = time.Unix(0, nanos), false
	}
	of := LogOf(r.URL.Query().Get("of"))
	if !slices.ContainsFunc(logParts, func(p logPart) bool { return p.Of == of }) {
		return faultf(kindInvalid, "That part of the log cannot be found.")
	}
	ts, more, err := s.logBefore(r.Context(), of, before)
	if err != nil {
		return err
	}
	v := logPage{frame: s.frame(w, r, "What happened"), Lines: s.wordsOf(r).logLines(ts, now), First: first, Of: of, Parts: logParts}
	if more {
		v.Older = logAddress(of, strconv.FormatInt(ts[len(ts)-1].Due.UnixNano(), 10))
	}
	return s.render(w, http.StatusOK, "log", v)
}

// logBefore reads one page of the log. Pages part between moments: what was
// due at one moment stays together, so that nothing is left out between pages.
func (s *Server) logBefore(ctx context.Context, of LogOf, before time.Time) (ts []alarms.Transition, more bool, err error) {
	for limit := logPageLines + 1; ; limit *= 4 {
		ts, err = s.watch.Log(ctx, of, before, limit)
		if err != nil || len(ts) < limit {
			return ts, false, err
		}
		if cut := lastWhole(ts); cut > 0 {
			return ts[:cut], true, nil
		}
		if limit > 10_000 { // a moment with more than that is shown in part
			return ts[:limit-1], true, nil
		}
	}
}

// lastWhole returns how many lines come before the last moment in ts.
func lastWhole(ts []alarms.Transition) int {
	cut := len(ts) - 1
	for cut > 0 && ts[cut-1].Due.Equal(ts[len(ts)-1].Due) {
		cut--
	}
	return cut
}
