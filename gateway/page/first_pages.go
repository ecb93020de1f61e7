package page

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"telltale/alarms"
	"telltale/alarms/crop"
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
	if s.options.First == nil || s.locked && !s.sessions.signedIn(r) {
		return firstWarning{}
	}
	w := firstWarning{Unwatched: len(s.watch.Picture().Houses) == 0}
	w.Unheard = !w.Unwatched && s.options.First.TellsNobody()
	return w
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

// firstForm is the page on which somebody chooses how a topic is watched.
type firstForm struct {
	frame
	values   url.Values
	Problems []formProblem
	Topic    string
	Why      string // there is no proposal
	Part     int
	Parts    []optionView
	Measured string
	Spots    []spotView
	Wheres   []optionView
	Garden   Garden
	Crops    []cropView
	Limits   []limitsView
	Degrees  []optionView
	Security []optionView
}

type limitsView struct {
	Quantity, Unit string
	Fields         []fieldView
}

type fieldView struct{ Name, Words string }

// Field is what stands in a field.
func (f firstForm) Field(name string) string { return f.values.Get(name) }

// Wrong is what is wrong with a field.
func (f firstForm) Wrong(name string) string {
	for _, p := range f.Problems {
		if p.Field == name {
			return p.Say
		}
	}
	return ""
}

func (s *Server) firstTopic(w http.ResponseWriter, r *http.Request) error {
	return s.showFirstForm(w, r, http.StatusOK, r.URL.Query(), nil, false)
}

func (s *Server) firstChange(w http.ResponseWriter, r *http.Request) error {
	return s.showFirstForm(w, r, http.StatusOK, r.PostForm, nil, true)
}

// showFirstForm shows the form with the values given, or with those proposed.
func (s *Server) showFirstForm(w http.ResponseWriter, r *http.Request, status int, v url.Values, problems []formProblem, posted bool) error {
	topic := v.Get("topic")
	if topic == "" || len(topic) > 512 {
		return faultf(kindInvalid, "Choose a topic first.")
	}
	garden, err := s.options.First.Garden()
	if err != nil {
		return &fault{Kind: kindAway, Say: "The configuration cannot be read. " + err.Error(), Err: err}
	}
	words := s.wordsOf(r).chosen(v.Get("degrees"))
	f := firstForm{frame: s.frame(w, r, "Set up "+tidy(topic, 60)), values: v, Problems: problems, Topic: topic, Garden: garden,
		Crops: words.cropViews(), Limits: limitsViews(garden)}
	ps, why := s.options.First.Proposals(topic)
	f.Part, _ = strconv.Atoi(v.Get("part"))
	f.Part = max(0, min(f.Part, len(ps)-1))
	f.Why = why
	if len(ps) > 0 {
		f.propose(words, ps, posted)
	}
	if !posted {
		f.defaults(garden, words.core.Fahrenheit)
	}
	f.Wheres = wheres(garden, f.Field("where"))
	f.Degrees = options(f.Field("degrees"), "°C", "°F")
	f.Security = options(f.Field("security"), "starttls", "tls", "none")
	return s.render(w, status, "first-topic", f)
}

func (f *firstForm) propose(w words, ps []Proposal, posted bool) {
	p := ps[f.Part]
	chosen := (&wishForm{v: f.values}).reads()
	for i, spot := range p.Spots {
		f.Spots = append(f.Spots, w.spotView(i, spot, chosen, posted))
	}
	if !p.Measured.IsZero() {
		f.Measured = w.clockSeconds(p.Measured, p.Measured)
	}
	f.values.Set("form", p.Form)
	f.values.Set("time-from", p.TimeFrom)
	f.values.Set("time-unit", p.TimeUnit)
	for i, one := range ps {
		if len(ps) > 1 {
			f.Parts = append(f.Parts, optionView{topicLink(f.Topic, i), one.Of + ": " + one.SaysReads, i == f.Part})
		}
	}
}

// defaults fills in what is likely.
func (f *firstForm) defaults(g Garden, fahrenheit bool) {
	f.values.Set("probe", probeName(f.Topic))
	f.values.Set("where", "/")
	if len(g.Houses) > 0 {
		f.values.Set("where", g.Houses[0].ID+"/")
	}
	f.values.Set("degrees", "°C")
	if fahrenheit {
		f.values.Set("degrees", "°F")
	}
	f.values.Set("tell", "nobody")
	f.values.Set("security", "starttls")
}

// probeName is the last level of a topic that does not name a quantity.
func probeName(topic string) string {
	levels := strings.Split(strings.Trim(topic, "/"), "/")
	for i := len(levels) - 1; i >= 0; i-- {
		if l := strings.ToLower(levels[i]); l != "" && !alarms.Quantity(l).Known() && !slices.Contains([]string{"state", "status", "value", "data", "temp", "climate"}, l) {
			return tidy(strings.ReplaceAll(levels[i], "_", " "), 40)
		}
	}
	return "probe 1"
}

// wheres are the places that a probe may hang at.
func wheres(g Garden, chosen string) []optionView {
	var out []optionView
	for _, h := range g.Houses {
		for _, p := range h.Places {
			said := h.Name + ", " + p.Name
			if p.Crop != "" {
				said += " (" + p.Crop + ")"
			}
			out = append(out, optionView{Value: h.ID + "/" + p.ID, Words: said})
		}
		out = append(out, optionView{Value: h.ID + "/", Words: "a new place in " + h.Name})
	}
	out = append(out, optionView{Value: "/", Words: "a new house"})
	for i := range out {
		out[i].Chosen = out[i].Value == chosen
	}
	return out
}

func options(chosen string, values ...string) []optionView {
	var out []optionView
	for _, v := range values {
		out = append(out, optionView{v, v, v == chosen})
	}
	return out
}

func limitsViews(g Garden) []limitsView {
	var out []limitsView
	for _, q := range limited {
		v := limitsView{Quantity: string(q), Unit: "%"}
		if q == alarms.Temperature {
			v.Unit = "in the degrees chosen above"
			if g.Watches {
				v.Unit = map[bool]string{false: "°C", true: "°F"}[g.Fahrenheit]
			}
		}
		for _, l := range limitNames {
			v.Fields = append(v.Fields, fieldView{limitField(q, l), l})
		}
		out = append(out, v)
	}
	return out
}

// firstShown is the page that shows what would be written.
type firstShown struct {
	frame
	Draft  Draft
	File   string
	Crop   *cropView
	Gives  []string
	Hidden []optionView
	Alert  string
	Nobody bool
	Bare   bool // no limit is set
}

func (s *Server) firstShow(w http.ResponseWriter, r *http.Request) error {
	wish, problems := wishOf(r.PostForm)
	if len(problems) > 0 {
		return s.showFirstForm(w, r, http.StatusUnprocessableEntity, r.PostForm, problems, true)
	}
	d, err := s.options.First.Draft(wish)
	if err != nil {
		return &fault{Kind: kindAway, Say: "The configuration cannot be read. " + err.Error(), Err: err}
	}
	return s.showFirstDraft(w, r, http.StatusOK, wish, d, "")
}

func (s *Server) showFirstDraft(w http.ResponseWriter, r *http.Request, status int, wish Wish, d Draft, alert string) error {
	garden, err := s.options.First.Garden()
	if err != nil {
		return err
	}
	words := s.wordsOf(r).chosen(wish.Degrees)
	v := firstShown{frame: s.frame(w, r, "What will be written"), Draft: d, File: garden.File, Alert: alert,
		Nobody: !garden.Told && wish.Mail == nil, Bare: wish.Place == "" && wish.Crop == "" && len(wish.Limits) == 0}
	for _, g := range d.Gives {
		said := string(g.Quantity) + " " + words.value(g.Quantity, g.Value)
		if g.From != "" {
			said += " from " + g.From
		}
		v.Gives = append(v.Gives, said)
	}
	if c, ok := crop.Lookup(wish.Crop); ok {
		view := words.cropView(c)
		v.Crop = &view
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
	wish, problems := wishOf(r.PostForm)
	if len(problems) > 0 {
		return s.showFirstForm(w, r, http.StatusUnprocessableEntity, r.PostForm, problems, true)
	}
	d, err := s.options.First.Draft(wish)
	if err != nil {
		return &fault{Kind: kindAway, Say: "The configuration cannot be read. " + err.Error(), Err: err}
	}
	err = s.options.First.Write(r.Context(), wish, r.PostForm.Get("mark"), s.who(w, r))
	var refused *FirstRefused
	switch {
	case errors.Is(err, ErrFirstChanged):
		return s.showFirstDraft(w, r, http.StatusConflict, wish, d, "The file was changed meanwhile, so nothing was written. This is what would be written now.")
	case errors.As(err, &refused):
		d.Problems = refused.Problems
		return s.showFirstDraft(w, r, http.StatusUnprocessableEntity, wish, d, "Nothing was written.")
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
