package page

import (
	"net/http"
	"time"

	"telltale/alarms"
)

// tapView is the page behind a link. Nobody need be signed in to see it, so it
// tells of the one alarm alone.
type tapView struct {
	frame
	Say      string // what became of it, or why not
	Sentence string // of the alarm, as it is
	AsOf     string // clock time of Sentence: this page does not follow
	Person   string
	T        string // the token, while there is something to acknowledge
	Done     bool
	Until    string
	Ways     []shelveChoice // for how long the person may be on the way
}

func (s *Server) tapRoutes(rt router) {
	if s.options.Taps == nil {
		return
	}
	rt.open("GET /tap", s.tapPage)
	rt.open("POST /tap", s.tapDone)
}

// tapPage shows what a link would acknowledge. It changes nothing: programs
// that look at mail open every link in it.
func (s *Server) tapPage(w http.ResponseWriter, r *http.Request) error {
	token := r.URL.Query().Get("t")
	p, a, status, v := s.tapFor(r, token)
	if status == http.StatusOK && !v.Done {
		v.Sentence, v.Person, v.T, v.Ways = a.Sentence, p.person, token, wayChoices
		v.Until = s.wordsOf(r).clock(p.until, s.watch.Now())
	}
	return s.renderTap(w, r, status, v)
}

// tapDone acknowledges. The token is the permission: no session, no form token.
func (s *Server) tapDone(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return s.renderTap(w, r, http.StatusBadRequest, tapView{Say: "That form could not be read."})
	}
	p, a, status, v := s.tapFor(r, r.PostForm.Get("t"))
	if status != http.StatusOK || v.Done {
		return s.renderTap(w, r, status, v)
	}
	until, err := s.wayEnd(r)
	if err != nil {
		return s.renderTap(w, r, http.StatusBadRequest, tapView{Say: "Choose for how long you are on the way."})
	}
	in := alarms.Input{At: s.watch.Now(), Kind: alarms.Acknowledge, Alarm: a.ID, Until: until, By: p.person + ", by a link"}
	if err := s.watch.Do(r.Context(), in); err != nil {
		s.log.Error().Err(err).Str("alarm", string(a.ID)).Msg("an alarm could not be acknowledged by a link")
		return s.renderTap(w, r, http.StatusServiceUnavailable,
			tapView{Say: "The watch could not do that just now. Try again, or acknowledge it on the page."})
	}
	return s.renderTap(w, r, http.StatusOK, tapView{Done: true, Sentence: a.Sentence,
		Say: "Acknowledged by " + p.person + ". It still has to be seen to: go and look."})
}

// tapFor judges a link: with status 200 and not Done, a may be acknowledged by
// p.person now. Done means that nothing is left to do.
func (s *Server) tapFor(r *http.Request, token string) (p tap, a alarms.AlarmPicture, status int, v tapView) {
	p, err := s.options.Taps.read(token)
	if err != nil {
		return p, a, http.StatusNotFound, tapView{Say: "This link is not complete, or this watch has not made it. " +
			"Copy all of it from the message, or open the page."}
	}
	if !s.watch.Now().Before(p.until) {
		return p, a, http.StatusForbidden, tapView{Say: "This link has ended, so nothing was done: it was good until " +
			s.wordsOf(r).clock(p.until, s.watch.Now()) + ". Open the page and look."}
	}
	if s.options.MayTap != nil && !s.options.MayTap(p.person) {
		return p, a, http.StatusForbidden, tapView{Say: "Links of " + p.person + " are no longer good, so nothing was done."}
	}
	for _, one := range s.picture(s.wordsOf(r)).Alarms {
		if one.ID == p.alarm {
			return s.tapOn(r, p, one)
		}
	}
	return p, a, http.StatusOK, tapView{Done: true, Say: "That alarm is over, and there is nothing left to acknowledge."}
}

// tapOn judges a link to an alarm that is not normal.
func (s *Server) tapOn(r *http.Request, p tap, a alarms.AlarmPicture) (tap, alarms.AlarmPicture, int, tapView) {
	switch {
	case a.State == alarms.Acknowledged:
		return p, a, http.StatusOK, tapView{Done: true, Say: "It is acknowledged already. " + s.wordsOf(r).onTheWay(a, s.watch.Now()) + "It still has to be seen to: go and look."}
	case a.State != alarms.Unacknowledged && a.State != alarms.ReturnedUnack, !a.Known(p.transition):
		return p, a, http.StatusConflict, tapView{Say: "It changed after this message was sent, so nothing was done. " +
			"Open the page and look first."}
	}
	return p, a, http.StatusOK, tapView{}
}

// renderTap answers with the page, or, for programs, with the same in JSON.
// Its frame greets nobody: a visitor by a link from a mail brings no cookie
// along, and a fresh one would replace a good one.
func (s *Server) renderTap(w http.ResponseWriter, r *http.Request, status int, v tapView) error {
	v.frame = frame{Name: s.options.Name, Title: "Acknowledge"}
	if now := s.watch.Now(); v.Sentence != "" {
		v.AsOf = s.wordsOf(r).clockSeconds(now, now)
	}
	if wantsPage(r) {
		return s.render(w, status, "tap", v)
	}
	key, say := "said", v.Say
	if status != http.StatusOK {
		key = "error"
	}
	if say == "" {
		say = v.Sentence
	}
	writeJSON(w, status, map[string]string{key: say})
	return nil
}

// TapLife is how long a link is good unless the config says otherwise.
const TapLife = 24 * time.Hour
