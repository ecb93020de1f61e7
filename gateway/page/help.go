package page

import (
	"errors"
	"html/template"
	"net/http"

	"telltale/gateway/manual"
	"telltale/gateway/page/answer"
)

// help shows the manual that the program carries.
type help struct{ s *Server }

type helpPage struct {
	frame
	Topics []manual.Topic
	Topic  string        // that is shown, "" for none
	Text   template.HTML // of the topic
	Find   string        // what was looked for
	Found  []manual.Passage
}

func (h help) routes(rt router) {
	rt.see("GET /help", h.list)
	rt.see("GET /help/{topic}", h.topic)
}

// manual is the one for a visitor.
func (h help) manual(r *http.Request) manual.In { return manual.In(h.s.wordsOf(r).Tongue) }

// list lists the topics, or what was found in them.
func (h help) list(w http.ResponseWriter, r *http.Request) error {
	find, m := r.FormValue("find"), h.manual(r)
	return h.s.render(w, r, http.StatusOK, "help", helpPage{frame: h.s.frame(r, "Help"),
		Topics: m.Topics(), Find: find, Found: m.Find(find)})
}

func (h help) topic(w http.ResponseWriter, r *http.Request) error {
	name, m := r.PathValue("topic"), h.manual(r)
	text, err := m.HTML(name, func(topic string) string { return "/help/" + topic })
	switch {
	case errors.Is(err, manual.ErrNoTopic):
		return answer.Say(answer.Absent, "There is no such topic in the manual.")
	case err != nil:
		return err
	}
	return h.s.render(w, r, http.StatusOK, "help", helpPage{frame: h.s.frame(r, "Help"), Topics: m.Topics(), Topic: name, Text: text})
}
