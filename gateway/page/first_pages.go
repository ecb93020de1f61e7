package page

import (
	"errors"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/loopback"
	"telltale/gateway/page/answer"
)

// setup are the pages by which a probe is set up.
type setup struct{ *Server }

// firstRoutes are the pages by which somebody who may act sets up what is
// watched.
func (s setup) firstRoutes(rt router) {
	if s.options.First == nil {
		return
	}
	rt.see("GET /first", s.door.Acting(s.firstPage))
	rt.see("GET /first/topic", s.door.Acting(s.firstTopic))
	rt.see("GET /first/done", s.door.Acting(s.firstDone))
	rt.act("POST /first/change", s.firstChange)
	rt.act("POST /first/show", s.firstShow)
	rt.act("POST /first/write", s.firstWrite)
	rt.act("POST /first/account", s.firstAccount)
}

// setsUp reports whether the page changes what is watched.
func (s *Server) setsUp() bool { return s.options.First != nil }

// firstWarning is nothing for a visitor who is not signed in.
func (s *Server) firstWarning(r *http.Request) firstWarning {
	if s.door.MustSignIn(r) {
		return firstWarning{}
	}
	if s.options.First != nil && len(s.watch.Picture().Houses) == 0 {
		return firstWarning{Unwatched: true, MayAct: s.door.MayAct(r)}
	}
	what, why := s.options.Untold.Words(s.wordsOf(r).Tongue)
	return firstWarning{Untold: what, Why: why}
}

// firstPage lists what arrives.
func (s setup) firstPage(w http.ResponseWriter, r *http.Request) error {
	v, err := s.arriving(r, r.URL.Query().Get("of"))
	if err != nil {
		return err
	}
	if r.URL.Query().Get("part") != "" {
		return s.renderPart(w, r, http.StatusOK, "first", "arrivals", v)
	}
	return s.render(w, r, http.StatusOK, "first", v)
}

// arriving is the list of what arrives, or of what does so of one account.
func (s setup) arriving(r *http.Request, of string) (firstView, error) {
	garden, err := s.options.First.Garden()
	if err != nil {
		return firstView{}, &answer.Error{Kind: answer.Away, Say: "The configuration cannot be read. %s", Args: []any{err}, Err: err}
	}
	say, now := s.wordsOf(r), s.watch.Now()
	a := s.options.First.Arrivals()
	v := firstView{frame: s.frame(r, "Set up"), Broker: a.Broker, File: garden.File, Watches: garden.Watches, Garden: garden, Look: "/first?part=1", Trust: s.options.Authority != nil}
	if of != "" {
		v.Look += "&" + url.Values{"of": {of}}.Encode()
		a.Topics = slices.DeleteFunc(slices.Clone(a.Topics), func(t Arrival) bool { return t.Topic != of && !strings.HasPrefix(t.Topic, of+"/") })
	}
	v.Waiting = len(a.Topics) == 0
	if host, _, err := net.SplitHostPort(a.Broker); err == nil {
		v.Near = loopback.Host(host)
	}
	for _, t := range a.Topics {
		v.Topics = append(v.Topics, topicViewOf(say, t, now))
	}
	slices.SortStableFunc(v.Topics, func(x, y topicView) int { return len(x.Probes) - len(y.Probes) }) // new ones first
	switch {
	case a.Why == "":
		v.Status = say.Say("Telltale begins to listen to everything at the broker.")
	case !a.Up:
		v.Status = a.Why
	case v.Waiting && of != "":
		v.Status = say.Say("Nothing has come from %s yet.", of)
	case v.Waiting:
		v.Status = say.Say("Telltale listens to everything at the broker. Nothing has come yet.")
	case len(a.Topics) == 1:
		v.Status = say.Say("One topic arrives.")
	default:
		v.Status = say.Say("%d topics arrive.", len(a.Topics))
	}
	if a.Further > 0 {
		v.Further = say.Say("%d messages came on more topics than can be shown.", a.Further)
	}
	return v, nil
}

// firstAccount gives a new probe an account, and shows what to type into it.
func (s setup) firstAccount(w http.ResponseWriter, r *http.Request) error {
	name := answer.Tidy(r.PostForm.Get("name"), 40)
	err := error(&FirstRefused{[]tongue.Saying{tongue.Put("Give the probe a name, such as bench 1.")}})
	var a ProbeAccount
	if name != "" {
		a, err = s.options.First.GiveAccount(r.Context(), name, r.PostForm.Get("mark"), s.who(w, r))
	}
	var refused *FirstRefused
	switch {
	case errors.Is(err, ErrFirstChanged):
		refused = &FirstRefused{[]tongue.Saying{tongue.Put("The file was changed meanwhile, so nothing was written. Perhaps it was asked for twice. Look below, and ask again.")}}
	case err != nil && !errors.As(err, &refused):
		return err
	}
	v, err := s.arriving(r, a.Topic)
	if err != nil {
		return err
	}
	if refused != nil {
		v.Typed, v.Wrong = name, refused.In(s.wordsOf(r).Tongue)
		return s.render(w, r, http.StatusUnprocessableEntity, "first", v)
	}
	g, err := givenTo(r, a)
	if err != nil {
		return err
	}
	g.frame, g.List = v.frame, v
	return s.render(w, r, http.StatusOK, "first-account", g)
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

func (s setup) firstShow(w http.ResponseWriter, r *http.Request) error {
	wish, d, err := s.firstDraft(w, r)
	if err != nil || d == nil {
		return err
	}
	return s.showFirstDraft(w, r, http.StatusOK, wish, *d, "")
}

// firstDraft reads the form and drafts what it asks for. It returns no draft
// where the form was shown again.
func (s setup) firstDraft(w http.ResponseWriter, r *http.Request) (Wish, *Draft, error) {
	wish, problems := wishOf(s.wordsOf(r), r.PostForm)
	if len(problems) > 0 {
		return wish, nil, s.showFirstForm(w, r, http.StatusUnprocessableEntity, r.PostForm, problems, true)
	}
	d, err := s.options.First.Draft(wish)
	if err != nil {
		return wish, nil, &answer.Error{Kind: answer.Away, Say: "The configuration cannot be read. %s", Args: []any{err}, Err: err}
	}
	return wish, &d, nil
}

func (s setup) showFirstDraft(w http.ResponseWriter, r *http.Request, status int, wish Wish, d Draft, alert tongue.Text) error {
	garden, err := s.options.First.Garden()
	if err != nil {
		return err
	}
	say := inChosenDegrees(s.wordsOf(r), wish.Degrees)
	v := firstShown{frame: s.frame(r, "What will be written"), Draft: d, File: garden.File, Alert: say.Say(alert),
		Nobody: !garden.Told && wish.Mail == nil, Holds: holdsOf(say, wish.Crop, &d.Place)}
	v.Bare = len(d.Problems) == 0 && len(v.Holds.Figures) == 0
	for _, g := range d.Gives {
		said := string(g.Quantity) + " " + say.Value(g.Quantity, g.Value)
		if g.From != "" {
			said = say.Say("%s from %s", said, g.From)
		}
		v.Gives = append(v.Gives, said)
	}
	names := append(slices.Clone(firstFields), "outside", "read")
	for _, q := range limited {
		for _, l := range alarms.LimitNames {
			names = append(names, limitField(q, l))
		}
	}
	for _, name := range names {
		for _, value := range r.PostForm[name] {
			v.Hidden = append(v.Hidden, optionView{Value: value, Words: name})
		}
	}
	return s.render(w, r, status, "first-show", v)
}

func (s setup) firstWrite(w http.ResponseWriter, r *http.Request) error {
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

func (s setup) firstDone(w http.ResponseWriter, r *http.Request) error {
	return s.showFirstDone(w, r, alarms.ProbeID(r.URL.Query().Get("probe")), false)
}

func (s setup) showFirstDone(w http.ResponseWriter, r *http.Request, id alarms.ProbeID, written bool) error {
	say := s.wordsOf(r)
	v := firstDoneView{frame: s.frame(r, "Set up"), Written: written, Again: "/first/done?" + url.Values{"probe": {string(id)}}.Encode(),
		Probe: probeNowOf(say, s.watch.Picture(), id, s.watch.Now())}
	if written {
		v.Probe = probeNow{Name: v.Probe.Name} // the watch that answers now is the old one
	}
	if r.URL.Query().Get("part") != "" {
		return s.renderPart(w, r, http.StatusOK, "first-done", "probenow", v)
	}
	return s.render(w, r, http.StatusOK, "first-done", v)
}
