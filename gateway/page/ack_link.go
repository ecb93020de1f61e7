package page

import (
	"cmp"
	"net/http"
	"slices"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/door"
	"telltale/gateway/page/service"
)

// links are the pages behind links that acknowledge with one tap.
type links struct{ *Server }

// ackView is the page behind a link. Nobody need be signed in to see it, so it
// tells of the one alarm alone.
type ackView struct {
	frame
	Say      string // what became of it, or why not
	Sentence string // of the alarm, as it is
	AsOf     string // clock time of Sentence: this page does not follow
	Person   string
	T        string // the token, while there is something to acknowledge
	Done     bool
	Until    string
	Ways     []shelveChoice // for how long the person may be on the way
	Letter   bool           // it is a letter of the week, which only is to be confirmed
}

func (s links) ackRoutes(rt router) {
	if s.options.AckLinks == nil {
		return
	}
	rt.open("GET /tap", s.ackPage)
	rt.open("POST /tap", s.acknowledgeByLink)
}

// ackPage shows what a link would acknowledge. It changes nothing: programs
// that look at mail open every link in it.
func (s links) ackPage(w http.ResponseWriter, r *http.Request) error {
	token := r.URL.Query().Get("t")
	if p, ok := s.letterOf(token); ok {
		status, v := s.letterView(r, p, s.options.Letters.Letter(p.Person, p.Transition))
		if status == http.StatusOK && !v.Done {
			v.T, v.Person = token, p.Person
		}
		return s.renderAck(w, r, status, v)
	}
	p, a, status, v := s.ackLinkOf(r, token)
	if status == http.StatusOK && !v.Done {
		v.Sentence, v.Person, v.T, v.Ways = a.Sentence, p.Person, token, wayChoices
		v.Until = s.wordsOf(r).Clock(p.Until, s.watch.Now())
	}
	return s.renderAck(w, r, status, v)
}

// acknowledgeByLink acknowledges. The token is the permission: no session, no form token.
func (s links) acknowledgeByLink(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return s.renderAck(w, r, http.StatusBadRequest, ackView{Say: s.wordsOf(r).Say("That form could not be read.")})
	}
	if p, ok := s.letterOf(r.PostForm.Get("t")); ok {
		return s.confirmLetter(w, r, p)
	}
	p, a, status, v := s.ackLinkOf(r, r.PostForm.Get("t"))
	if status != http.StatusOK || v.Done {
		return s.renderAck(w, r, status, v)
	}
	until, err := acts(s).wayEnd(r)
	if err != nil {
		return s.renderAck(w, r, http.StatusBadRequest, ackView{Say: s.wordsOf(r).Say("Choose for how long you are on the way.")})
	}
	in := alarms.Input{At: s.watch.Now(), Kind: alarms.Acknowledge, Alarm: a.ID, Until: until, By: p.Person + alarms.ByLink}
	if err := s.watch.Do(r.Context(), in); err != nil {
		s.log.Error().Err(err).Str("alarm", string(a.ID)).Msg("an alarm could not be acknowledged by a link")
		return s.renderAck(w, r, http.StatusServiceUnavailable,
			ackView{Say: s.wordsOf(r).Say("The watch could not do that just now. Try again, or acknowledge it on the page.")})
	}
	return s.renderAck(w, r, http.StatusOK, ackView{Done: true, Sentence: a.Sentence,
		Say: s.wordsOf(r).Say("Acknowledged by %s. %sIt still has to be seen to: go and look.", p.Person, s.toldAgain(r, a.ID))})
}

// toldAgain says when what was just acknowledged is told again, with a blank at its end;
// nothing where it is not.
func (s links) toldAgain(r *http.Request, id alarms.AlarmID) string {
	words, all := s.wordsOf(r), s.picture(s.wordsOf(r)).Alarms
	i := slices.IndexFunc(all, func(a alarms.AlarmPicture) bool { return a.ID == id })
	if i < 0 || all[i].State != alarms.Acknowledged || all[i].Until.IsZero() {
		return ""
	}
	a := all[i]
	return words.Say("If it is no better, it is told again at %s%s.", words.Clock(a.Until, s.watch.Now()), words.Core.ByThen(a.Reaches)) + " "
}

// ackLinkOf judges a link: with status 200 and not Done, a may be acknowledged by
// p.person now. Done means that nothing is left to do.
func (s links) ackLinkOf(r *http.Request, token string) (p door.AckLink, a alarms.AlarmPicture, status int, v ackView) {
	say := s.wordsOf(r)
	p, err := s.options.AckLinks.Read(token)
	if err != nil {
		return p, a, http.StatusNotFound, ackView{Say: say.Say("This link is not complete, or this watch has not made it. Copy all of it from the message, or open the page.")}
	}
	if !s.watch.Now().Before(p.Until) {
		return p, a, http.StatusForbidden, ackView{Say: say.Say("This link has ended, so nothing was done: it was good until %s. Open the page and look.",
			say.Clock(p.Until, s.watch.Now()))}
	}
	if s.options.MayAcknowledge != nil && !s.options.MayAcknowledge(p.Person) {
		return p, a, http.StatusForbidden, ackView{Say: say.Say("Links of %s are no longer good, so nothing was done.", p.Person)}
	}
	for _, one := range s.picture(say).Alarms {
		if one.ID == p.Alarm {
			return s.pushPressed(r, p, one)
		}
	}
	return p, a, http.StatusOK, ackView{Done: true, Say: say.Say("That alarm is over, and there is nothing left to acknowledge.")}
}

// pushPressed judges a link to an alarm that is not normal.
func (s links) pushPressed(r *http.Request, p door.AckLink, a alarms.AlarmPicture) (door.AckLink, alarms.AlarmPicture, int, ackView) {
	say := s.wordsOf(r)
	switch {
	case a.State == alarms.Acknowledged:
		return p, a, http.StatusOK, ackView{Done: true, Say: say.Say("It is acknowledged already. %sIt still has to be seen to: go and look.", onTheWay(say, a, s.watch.Now()))}
	case a.State != alarms.Unacknowledged && a.State != alarms.ReturnedUnack, !a.Known(p.Transition):
		return p, a, http.StatusConflict, ackView{Say: say.Say("It changed after this message was sent, so nothing was done. Open the page and look first.")}
	}
	return p, a, http.StatusOK, ackView{}
}

// renderAck answers with the page, or, for programs, with the same in JSON.
// Its frame greets nobody: a visitor by a link from a mail brings no cookie
// along, and a fresh one would replace a good one.
func (s links) renderAck(w http.ResponseWriter, r *http.Request, status int, v ackView) error {
	v.frame = frame{Name: s.options.Name, Title: s.wordsOf(r).Say("Acknowledge")}
	if v.Letter {
		v.Title = s.wordsOf(r).Say("Letter of the week")
	}
	if now := s.watch.Now(); v.Sentence != "" {
		v.AsOf = s.wordsOf(r).ClockSeconds(now, now)
	}
	if answer.WantsPage(r) {
		return s.render(w, r, status, "tap", v)
	}
	key, say := "said", v.Say
	if status != http.StatusOK {
		key = "error"
	}
	say = cmp.Or(say, v.Sentence, s.wordsOf(r).Say("It waits to be confirmed."))
	answer.JSON(w, status, map[string]string{key: say})
	return nil
}

// letterOf reads a link by which somebody says that a letter of the week arrived.
func (s links) letterOf(token string) (door.AckLink, bool) {
	p, err := s.options.AckLinks.Read(token)
	return p, err == nil && s.options.Letters != nil && s.options.Letters.IsLetter(p.Transition)
}

// letterView says how it stands with a letter: with status 200 and not Done it can be
// confirmed now.
func (s links) letterView(r *http.Request, p door.AckLink, stands service.LetterStand) (status int, v ackView) {
	w := s.wordsOf(r)
	v.Letter = true
	switch {
	case !s.watch.Now().Before(p.Until):
		v.Say = w.Say("This link has ended, so nothing was done: it was good until %s.", w.Clock(p.Until, s.watch.Now()))
		return http.StatusForbidden, v
	case stands == service.LetterConfirmed:
		v.Done, v.Say = true, w.Say("The watch knows already that this letter reached you.")
	case stands == service.LetterOlder:
		v.Say = w.Say("A newer letter has been sent since, so nothing was done: tap the link in that one.")
		return http.StatusConflict, v
	case stands == service.LetterUnknown:
		v.Say = w.Say("Letters to %s are no longer sent, so nothing was done.", p.Person)
		return http.StatusForbidden, v
	}
	return http.StatusOK, v
}

// confirmLetter takes that a letter arrived. The token is the permission.
func (s links) confirmLetter(w http.ResponseWriter, r *http.Request, p door.AckLink) error {
	stood := s.options.Letters.Letter(p.Person, p.Transition)
	status, v := s.letterView(r, p, stood)
	if status == http.StatusOK && stood == service.LetterWaits {
		s.options.Letters.Confirm(r.Context(), p.Person, p.Transition)
		v.Done, v.Say = true, s.wordsOf(r).Say("Thank you, %s: the watch knows now that its messages reach you this way.", p.Person)
	}
	return s.renderAck(w, r, status, v)
}
