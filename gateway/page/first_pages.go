package page

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"slices"

	"telltale/alarms"
)

// firstRoutes are the pages by which somebody who may act sets up what is
// watched.
func (s *Server) firstRoutes(rt router) {
	if s.options.First == nil {
		return
	}
	rt.page("GET /first", s.acting(s.firstPage))
	rt.page("GET /first/topic", s.acting(s.firstTopic))
	rt.page("GET /first/done", s.acting(s.firstDone))
	rt.act("POST /first/change", s.firstChange)
	rt.act("POST /first/show", s.firstShow)
	rt.act("POST /first/write", s.firstWrite)
}

// setsUp reports whether the page changes what is watched.
func (s *Server) setsUp() bool { return s.options.First != nil }

// firstWarning is nothing for a visitor who is not signed in.
func (s *Server) firstWarning(r *http.Request) firstWarning {
	if s.locked && !s.sessions.signedIn(r) {
		return firstWarning{}
	}
	if s.options.First != nil && len(s.watch.Picture().Houses) == 0 {
		return firstWarning{Unwatched: true, MayAct: s.mayAct(r)}
	}
	what, why := s.options.Untold.words()
	return firstWarning{Untold: what, Why: why}
}

// firstPage lists what arrives.
func (s *Server) firstPage(w http.ResponseWriter, r *http.Request) error {
	garden, err := s.options.First.Garden()
	if err != nil {
		return &fault{Kind: kindAway, Say: "The configuration cannot be read. " + err.Error(), Err: err}
	}
	words, now := s.wordsOf(r), s.watch.Now()
	a := s.options.First.Arrivals()
	v := firstView{frame: s.frame(w, r, "Set up"), Broker: a.Broker, File: garden.File, Watches: garden.Watches, Waiting: len(a.Topics) == 0}
	if host, _, err := net.SplitHostPort(a.Broker); err == nil {
		v.Near = loopbackHost(host)
	}
	for _, t := range a.Topics {
		v.Topics = append(v.Topics, words.topicView(t, now))
	}
	slices.SortStableFunc(v.Topics, func(x, y topicView) int { return len(x.Probes) - len(y.Probes) }) // new ones first
	switch {
	case a.Why == "":
		v.Status = "Telltale begins to listen to everything at the broker."
	case !a.Up:
		v.Status = a.Why
	case v.Waiting:
		v.Status = "Telltale listens to everything at the broker. Nothing has come yet."
	case len(a.Topics) == 1:
		v.Status = "One topic arrives."
	default:
		v.Status = fmt.Sprintf("%d topics arrive.", len(a.Topics))
	}
	if a.Further > 0 {
		v.Further = fmt.Sprintf("%d messages came on more topics than can be shown.", a.Further)
	}
	if r.URL.Query().Get("part") != "" {
		return s.renderPart(w, http.StatusOK, "first", "arrivals", v)
	}
	return s.render(w, http.StatusOK, "first", v)
}

// firstShown is the page that shows what would be written.
type firstShown struct {
	frame
	Draft  Draft
	File   string
	Holds  holdsView // what would be told of at the place
	Gives  []string
	Hidden []optionView
	Alert  string
	Nobody bool
	Bare   bool // no limit is set
}

func (s *Server) firstShow(w http.ResponseWriter, r *http.Request) error {
	wish, d, err := s.firstDraft(w, r)
	if err != nil || d == nil {
		return err
	}
	return s.showFirstDraft(w, r, http.StatusOK, wish, *d, "")
}

// firstDraft reads the form and drafts what it asks for. It returns no draft
// where the form was shown again.
func (s *Server) firstDraft(w http.ResponseWriter, r *http.Request) (Wish, *Draft, error) {
	wish, problems := wishOf(r.PostForm)
	if len(problems) > 0 {
		return wish, nil, s.showFirstForm(w, r, http.StatusUnprocessableEntity, r.PostForm, problems, true)
	}
	d, err := s.options.First.Draft(wish)
	if err != nil {
		return wish, nil, &fault{Kind: kindAway, Say: "The configuration cannot be read. " + err.Error(), Err: err}
	}
	return wish, &d, nil
}

func (s *Server) showFirstDraft(w http.ResponseWriter, r *http.Request, status int, wish Wish, d Draft, alert string) error {
	garden, err := s.options.First.Garden()
	if err != nil {
		return err
	}
	words := s.wordsOf(r).chosen(wish.Degrees)
	v := firstShown{frame: s.frame(w, r, "What will be written"), Draft: d, File: garden.File, Alert: alert,
		Nobody: !garden.Told && wish.Mail == nil, Holds: words.holds(wish.Crop, &d.Place)}
	v.Bare = len(d.Problems) == 0 && len(v.Holds.Figures) == 0
	for _, g := range d.Gives {
		said := string(g.Quantity) + " " + words.value(g.Quantity, g.Value)
		if g.From != "" {
			said += " from " + g.From
		}
		v.Gives = append(v.Gives, said)
	}
	names := append(slices.Clone(firstFields), "outside", "read")
	for _, q := range limited {
		for _, l := range limitNames {
			names = append(names, limitField(q, l))
		}
	}
	for _, name := range names {
		for _, value := range r.PostForm[name] {
			v.Hidden = append(v.Hidden, optionView{Value: value, Words: name})
		}
	}
	return s.render(w, status, "first-show", v)
}

func (s *Server) firstWrite(w http.ResponseWriter, r *http.Request) error {
	wish, d, err := s.firstDraft(w, r)
	if err != nil || d == nil {
		return err
	}
	err = s.options.First.Write(r.Context(), wish, r.PostForm.Get("mark"), s.who(w, r))
	var refused *FirstRefused
	switch {
	case errors.Is(err, ErrFirstChanged):
		return s.showFirstDraft(w, r, http.StatusConflict, wish, *d, "The file was changed meanwhile, so nothing was written. This is what would be written now.")
	case errors.As(err, &refused):
		d.Problems = refused.Problems
		return s.showFirstDraft(w, r, http.StatusUnprocessableEntity, wish, *d, "Nothing was written.")
	case err != nil:
		return err
	}
	return s.showFirstDone(w, r, d.Probe, true)
}

// firstDoneView is the page that waits for the first reading.
type firstDoneView struct {
	frame
	Probe   probeNow
	Again   string
	Written bool
}

func (s *Server) firstDone(w http.ResponseWriter, r *http.Request) error {
	return s.showFirstDone(w, r, alarms.ProbeID(r.URL.Query().Get("probe")), false)
}

func (s *Server) showFirstDone(w http.ResponseWriter, r *http.Request, id alarms.ProbeID, written bool) error {
	words := s.wordsOf(r)
	v := firstDoneView{frame: s.frame(w, r, "Set up"), Written: written, Again: "/first/done?" + url.Values{"probe": {string(id)}}.Encode(),
		Probe: words.probeNow(s.watch.Picture(), id, s.watch.Now())}
	if written {
		v.Probe = probeNow{Name: v.Probe.Name} // the watch that answers now is the old one
	}
	if r.URL.Query().Get("part") != "" {
		return s.renderPart(w, http.StatusOK, "first-done", "probenow", v)
	}
	return s.render(w, http.StatusOK, "first-done", v)
}
