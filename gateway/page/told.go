package page

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"telltale/alarms"
)

const toldLines = 50

type toldPage struct {
	frame
	Person, Channel  string // asked for
	People, Channels []string
	Of               string // the sentence of the one transition asked for, "" for all
	OfID             string
	Lines            []toldLine
	Older            string // address of the next page, "" at the end
	Newest           string // address of the first page
	AtTop            bool   // nothing newer was left out
	Filtered         bool
}

// toldLine is one telling in words.
type toldLine struct {
	When     string // it was saved for
	To       string // person and channel
	Sentence string
	Alarm    string // address of its alarm, "" for a test message
	Mark     string // class
	Outcome  string // in a few words
	More     string // when, and why
}

// toldPage shows who was told what, newest first.
func (s *Server) toldPage(w http.ResponseWriter, r *http.Request) error {
	q, err := toldAsked(r.URL.Query())
	if err != nil {
		return err
	}
	v := toldPage{frame: s.frame(w, r, "Who was told"), Person: q.Person, Channel: q.Channel, AtTop: q.Before == 0,
		Filtered: q.Person != "" || q.Channel != "" || len(q.Transitions) > 0}
	v.People, v.Channels = s.options.Tending.Hearers()
	v.People, v.Channels = with(v.People, q.Person), with(v.Channels, q.Channel)
	first := q
	first.Before = 0
	v.Newest = toldAddress(first)
	q.Limit = toldLines + 1
	all, err := s.options.Tending.Tellings(r.Context(), q)
	if err != nil {
		return err
	}
	if len(all) > toldLines {
		all = all[:toldLines]
		q.Before = all[toldLines-1].Seq
		v.Older = toldAddress(q)
	}
	words, now := s.wordsOf(r), s.watch.Now()
	for _, t := range all {
		v.Lines = append(v.Lines, words.toldLine(t, now))
	}
	if len(q.Transitions) > 0 {
		v.OfID, v.Of = q.Transitions[0], "one line of the log"
		if len(all) > 0 {
			v.Of = "this: " + words.said(all[0].Of)
		}
	}
	return s.render(w, http.StatusOK, "told", v)
}

// with adds one that is asked for but not in the config any more.
func with(list []string, asked string) []string {
	if asked == "" || slices.Contains(list, asked) {
		return list
	}
	return append(slices.Clone(list), asked)
}

func toldAsked(from url.Values) (q ToldQuery, err error) {
	q = ToldQuery{Person: from.Get("person"), Channel: from.Get("channel")}
	if id := from.Get("of"); id != "" {
		q.Transitions = []string{id}
	}
	if text := from.Get("before"); text != "" {
		if q.Before, err = strconv.ParseInt(text, 10, 64); err != nil || q.Before <= 0 {
			return q, &fault{Kind: kindInvalid, Say: "That page cannot be found.", Err: err}
		}
	}
	return q, nil
}

func toldAddress(q ToldQuery) string {
	to := url.Values{}
	for key, v := range map[string]string{"person": q.Person, "channel": q.Channel} {
		if v != "" {
			to.Set(key, v)
		}
	}
	if len(q.Transitions) > 0 {
		to.Set("of", q.Transitions[0])
	}
	if q.Before > 0 {
		to.Set("before", strconv.FormatInt(q.Before, 10))
	}
	if len(to) == 0 {
		return "/told"
	}
	return "/told?" + to.Encode()
}

func alarmAddress(id alarms.AlarmID) string {
	return "/alarm?" + url.Values{"id": {string(id)}}.Encode()
}
