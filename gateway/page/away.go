package page

import (
	"cmp"
	"errors"
	"net/http"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// awayTime is the page of who is away, and its acts.
type awayTime struct{ *Server }

func (s *Server) hasLine() bool {
	return s.options.Line != nil && len(s.options.Line.Line().People) > 0
}

func (s awayTime) routes(rt router) {
	if s.options.Line == nil {
		return
	}
	rt.see("GET /away", s.page)
	rt.act("POST /away", s.goAway)
	rt.act("POST /away/back", s.back)
}

// awaySayings are those of this file.
var awaySayings = map[string]tongue.Text{
	"away":     "Noted. Whoever stands in is told so now, and of what is on.",
	"back":     "Noted: told as before.",
	"not-away": "Nobody of that name was away, so nothing was done.",
}

type awayPage struct {
	frame
	Away    []awayLine
	NoHand  bool
	People  []awayChoice
	Helpers []awayChoice
	Until   string // the end that is proposed
	From    string // the earliest end
	Last    string // the latest
	Zone    string
}

type awayLine struct{ Person, Says string }

type awayChoice struct {
	Name   string
	Chosen bool
}

// localTime is how a browser writes a day with its clock time.
const localTime = "2006-01-02T15:04"

func (s awayTime) page(w http.ResponseWriter, r *http.Request) error {
	say, now := s.wordsOf(r), s.watch.Now().In(s.words.Zone)
	h := s.options.Line.Line()
	v := awayPage{frame: s.frame(r, "Who is away"), NoHand: len(h.AtHand) == 0 && len(h.People) > 0, Zone: now.Format("MST"),
		Until: now.Add(24 * time.Hour).Format(localTime), From: now.Add(time.Minute).Format(localTime), Last: now.Add(alarms.LongestLeave).Format(localTime)}
	v.Said = s.wordsOf(r).Say(sayings[r.URL.Query().Get("said")])
	me := cmp.Or(s.door.KnownAs(r), rememberedName(r))
	for _, l := range h.Away {
		v.Away = append(v.Away, awayLine{l.Person, awayWords(say, l, now)})
	}
	for _, name := range h.People {
		v.People = append(v.People, awayChoice{name, name == me})
		if slices.Contains(h.AtHand, name) {
			v.Helpers = append(v.Helpers, awayChoice{Name: name})
		}
	}
	return s.render(w, r, http.StatusOK, "away", v)
}

// awayWords says who is away, and who is told.
func awayWords(w words.Words, l alarms.Leave, now time.Time) string {
	until := w.Clock(l.Until, now)
	switch {
	case l.StandIn == "":
		return w.Say("%s is away until %s, and nobody stands in.", l.Person, until)
	case l.Spared:
		return w.Say("%[1]s is away until %[2]s: %[3]s is told first, %[1]s only of what nobody takes.", l.Person, until, l.StandIn)
	}
	return w.Say("%[1]s is away until %[2]s: %[3]s is told first, %[1]s as before.", l.Person, until, l.StandIn)
}

// awayNow says who is away.
func (s *Server) awayNow(w words.Words, now time.Time) (lines []string, noHand bool) {
	if s.options.Line == nil {
		return nil, false
	}
	h := s.options.Line.Line()
	for _, l := range h.Away {
		lines = append(lines, awayWords(w, l, now))
	}
	return lines, len(h.AtHand) == 0 && len(h.People) > 0
}

// goAway lets somebody be away until an end.
func (s awayTime) goAway(w http.ResponseWriter, r *http.Request) error {
	until, err := time.ParseInLocation(localTime, r.PostForm.Get("until"), s.words.Zone)
	if err != nil {
		return answer.Say(answer.Invalid, "Give the day and the time at which the person is back. Nothing was done.")
	}
	l := alarms.Leave{Person: r.PostForm.Get("person"), StandIn: r.PostForm.Get("first"), Spared: r.PostForm.Get("spared") != "", Until: until}
	if l.Person == l.StandIn {
		return answer.Say(answer.Invalid, "Choose somebody else to be told first: who is away cannot stand in. Nothing was done.")
	}
	if _, err := s.options.Line.GoAway(r.Context(), l, s.who(w, r)); err != nil {
		return refusedAway(err)
	}
	return s.done(w, r, "away")
}

func (s awayTime) back(w http.ResponseWriter, r *http.Request) error {
	said, err := s.options.Line.Back(r.Context(), r.PostForm.Get("person"), s.who(w, r))
	switch {
	case err != nil:
		return refusedAway(err)
	case said == "":
		return s.done(w, r, "not-away")
	}
	return s.done(w, r, "back")
}

func refusedAway(err error) error {
	var refused service.Refusal
	if errors.As(err, &refused) {
		return answer.Say(answer.Invalid, refused.Text, refused.Args...)
	}
	return err
}
