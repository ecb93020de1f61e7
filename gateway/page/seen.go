package page

import (
	"net/http"
	"slices"
	"strings"

	"telltale/alarms"
)

const degreesCookie = "telltale-degrees"

// wordsOf are the words in the manner of r's visitor.
func (s *Server) wordsOf(r *http.Request) words {
	m := mannerOf(r, s.words.core.Fahrenheit, s.options.DegreesGiven)
	m.look = !s.mayAct(r)
	return s.words.in(m)
}

// degreesChoice is one way in which a device can show temperatures.
type degreesChoice struct {
	Value, Words string
	Chosen       bool
}

func degreesChoices(r *http.Request) []degreesChoice {
	now := ""
	if c, err := r.Cookie(degreesCookie); err == nil {
		now = c.Value
	}
	all := []degreesChoice{{"", "as set for the garden", false}, {"c", "°C", false}, {"f", "°F", false}}
	for i := range all {
		all[i].Chosen = all[i].Value == now
	}
	return all
}

// setDegrees keeps on the visitor's device how temperatures are shown.
func (s *Server) setDegrees(w http.ResponseWriter, r *http.Request) error {
	c := &http.Cookie{Name: degreesCookie, Value: r.PostForm.Get("degrees"), Path: "/", MaxAge: int(nameLife.Seconds()),
		HttpOnly: true, Secure: s.sessions.secure, SameSite: http.SameSiteStrictMode}
	switch c.Value {
	case "c", "f":
	case "":
		c.MaxAge = -1
	default:
		return faultf(kindInvalid, "Choose °C, °F or as it comes.")
	}
	http.SetCookie(w, c)
	then := r.PostForm.Get("then")
	if !strings.HasPrefix(then, "/") || strings.HasPrefix(then, "//") || strings.Contains(then, `\`) {
		then = "/"
	}
	http.Redirect(w, r, then, http.StatusSeeOther)
	return nil
}

// picture is the newest picture with its sentences in the visitor's manner.
func (s *Server) picture(w words) alarms.Picture {
	return w.manner.picture(s.watch.PictureIn(w.manner.fahrenheit))
}

// picture returns p with the numbers and times in its sentences rewritten.
func (m manner) picture(p alarms.Picture) alarms.Picture {
	if m.decimal == "" && !m.hours12 {
		return p
	}
	p.Sentence = m.text(p.Sentence)
	p.Alarms = each(p.Alarms, func(a *alarms.AlarmPicture) { a.Sentence, a.Told = m.text(a.Sentence), m.text(a.Told) })
	p.Houses = each(p.Houses, m.house)
	return p
}

func (m manner) house(h *alarms.HousePicture) {
	h.Sentence = m.text(h.Sentence)
	h.InSeason = each(h.InSeason, func(s *string) { *s = m.text(*s) })
	h.Drives = each(h.Drives, func(d *alarms.DrivePicture) { d.Sentence, d.UsualDraw = m.text(d.Sentence), m.text(d.UsualDraw) })
	h.Places = each(h.Places, func(p *alarms.PlacePicture) {
		p.Exposures = each(p.Exposures, func(x *alarms.ExposurePicture) { x.Sentence = m.text(x.Sentence) })
	})
	if h.Loop == nil {
		return
	}
	l := *h.Loop
	l.Sentence, l.Depths, l.Sums = m.text(l.Sentence), m.text(l.Depths), m.text(l.Sums)
	l.Pipes = each(l.Pipes, func(p *alarms.PipePicture) { p.Sentence = m.text(p.Sentence) })
	h.Loop = &l
}

// each returns a copy of list with f done to every item; a picture is shared.
func each[T any](list []T, f func(*T)) []T {
	list = slices.Clone(list)
	for i := range list {
		f(&list[i])
	}
	return list
}

// said is the sentence of a transition in the visitor's manner.
func (w words) said(t alarms.Transition) string {
	if w.manner.fahrenheit != w.garden.Fahrenheit && t.Other != "" {
		return w.manner.text(t.Other)
	}
	return w.manner.text(t.Sentence)
}
