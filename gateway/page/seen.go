package page

import (
	"net/http"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/words"
)

// wordsOf are the words in the locale of r's visitor.
func (s *Server) wordsOf(r *http.Request) words.Words {
	return s.words.In(words.LocaleOf(r, s.words.Fahrenheit, s.options.DegreesGiven))
}

// deviceChoice is one way in which a device can show things.
type deviceChoice struct {
	Value, Words string
	Chosen       bool
}

func degreesChoices(w words.Words, r *http.Request) []deviceChoice {
	now := ""
	if c, err := r.Cookie(words.DegreesCookie); err == nil {
		now = c.Value
	}
	all := []deviceChoice{{"", w.Say("as set for the garden"), false}, {"c", "°C", false}, {"f", "°F", false}}
	for i := range all {
		all[i].Chosen = all[i].Value == now
	}
	return all
}

// tongueChoices are the languages.
func tongueChoices(w words.Words) (all []deviceChoice) {
	for _, t := range tongue.Tongues() {
		all = append(all, deviceChoice{t.Code(), t.Name(), t == w.Tongue})
	}
	return all
}

// setTongue keeps on the visitor's device in which language the page is.
func (s *Server) setTongue(w http.ResponseWriter, r *http.Request) error {
	chosen := r.PostForm.Get("tongue")
	if !slices.ContainsFunc(tongue.Tongues(), func(t tongue.Tongue) bool { return t.Code() == chosen }) {
		return answer.Say(answer.Invalid, "There is no such language.")
	}
	http.SetCookie(w, s.door.Cookie(words.TongueCookie, chosen, nameLife))
	return backTo(w, r)
}

// setDegrees keeps on the visitor's device how temperatures are shown.
func (s *Server) setDegrees(w http.ResponseWriter, r *http.Request) error {
	c := s.door.Cookie(words.DegreesCookie, r.PostForm.Get("degrees"), nameLife)
	switch c.Value {
	case "c", "f":
	case "":
		c.MaxAge = -1
	default:
		return answer.Say(answer.Invalid, "Choose °C, °F or as it comes.")
	}
	http.SetCookie(w, c)
	return backTo(w, r)
}

// backTo leads back to the page on which something was chosen for the device.
func backTo(w http.ResponseWriter, r *http.Request) error {
	then := r.PostForm.Get("then")
	if !strings.HasPrefix(then, "/") || strings.HasPrefix(then, "//") || strings.Contains(then, `\`) {
		then = "/"
	}
	http.Redirect(w, r, then, http.StatusSeeOther)
	return nil
}

// picture is the newest picture with its sentences in the visitor's locale.
func (s *Server) picture(w words.Words) alarms.Picture {
	return s.watch.PictureIn(w.Core)
}
