package page

import (
	"net/http"
	"strings"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/words"
)

// wordsOf are the words in the locale of r's visitor.
func (s *Server) wordsOf(r *http.Request) words.Words {
	return s.words.In(words.LocaleOf(r, s.words.Fahrenheit, s.options.DegreesGiven))
}

// degreesChoice is one way in which a device can show temperatures.
type degreesChoice struct {
	Value, Words string
	Chosen       bool
}

func degreesChoices(r *http.Request) []degreesChoice {
	now := ""
	if c, err := r.Cookie(words.DegreesCookie); err == nil {
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
	c := s.door.Cookie(words.DegreesCookie, r.PostForm.Get("degrees"), nameLife)
	switch c.Value {
	case "c", "f":
	case "":
		c.MaxAge = -1
	default:
		return answer.Errorf(answer.Invalid, "Choose °C, °F or as it comes.")
	}
	http.SetCookie(w, c)
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
