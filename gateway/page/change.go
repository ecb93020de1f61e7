package page

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config/forms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/service"
)

// Changes is what the page needs to change what is set up: the configuration as forms.
type Changes interface {
	// Things lists all that has a form, or can be added.
	Things(in tongue.Tongue) ([]forms.Thing, error)
	// Form is that of an address; false: there is none.
	Form(in tongue.Tongue, at string) (forms.Form, bool, error)
	// Fill says what would come of a form with these values.
	Fill(in tongue.Tongue, at string, v url.Values) (forms.Filled, bool, error)
	// Change writes them as they were shown by the Filled with that mark, and makes the
	// watch start again. Errors: ErrFirstChanged, *FirstRefused.
	Change(ctx context.Context, in tongue.Tongue, at string, v url.Values, mark, by string) error
}

// changes are the pages of the forms.
type changes struct{ *Server }

func (s changes) routes(rt router) {
	if s.options.Changes == nil {
		return
	}
	rt.see("GET /change", s.door.Acting(s.list))
	rt.see("GET /change/form", s.door.Acting(s.form))
	rt.act("POST /change/form", s.fill)
	rt.act("POST /change/drawing", s.drawing)
	rt.act("POST /change/write", s.write)
	rt.act("POST /change/test", s.test)
}

// changesView lists what can be changed.
type changesView struct {
	frame
	Parts []changePart
}

// changePart is a thing with all that stands below it.
type changePart struct {
	forms.Thing
	Below []forms.Thing
	Open  bool // these are shown at once
}

func (s changes) list(w http.ResponseWriter, r *http.Request) error {
	parts, err := s.parts(r, "")
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "changes", changesView{frame: s.frame(r, "Change the set-up"), Parts: parts})
}

// parts are all that can be changed. What at is of is shown with all that belongs to it,
// and so is the house where there is one.
func (s changes) parts(r *http.Request, at string) ([]changePart, error) {
	all, err := s.options.Changes.Things(s.wordsOf(r).Tongue)
	if err != nil {
		return nil, unreadable(err)
	}
	var parts []changePart
	house, houses := 0, 0
	for _, one := range all {
		if one.Deep > 0 {
			last := &parts[len(parts)-1]
			last.Below = append(last.Below, one)
			continue
		}
		if strings.HasPrefix(one.At, "house/") && !one.New {
			house, houses = len(parts), houses+1
		}
		parts = append(parts, changePart{Thing: one, Open: strings.HasPrefix(at+"/", one.At+"/")})
	}
	if houses == 1 {
		parts[house].Open = true
	}
	return parts, nil
}

func unreadable(err error) error {
	return &answer.Error{Kind: answer.Away, Say: "The configuration cannot be read. %s", Args: []any{err}, Err: err}
}

// changeView is one form, and what would come of it.
type changeView struct {
	frame
	forms.Filled
	At      string // the address to come back to
	Shown   bool   // what would be written
	Written bool
	Parts   []changePart // to go on with, once it is written
	Alert   string
	Hidden  []optionView
	Tested  *testView     // over the channel of the form; nil: nothing was sent
	Section *draw.Section // the house with what the form says; nil: it cannot be drawn
}

func (s changes) form(w http.ResponseWriter, r *http.Request) error {
	at := r.URL.Query().Get("at")
	f, ok, err := s.options.Changes.Form(s.wordsOf(r).Tongue, at)
	if err != nil {
		return unreadable(err)
	}
	if !ok {
		return answer.Say(answer.Absent, "There is nothing of that name to change.")
	}
	v := changeView{frame: s.frame(r, tongue.Text(f.Title)), Filled: forms.Filled{Form: f}, At: at, Section: s.drawn(r, f)}
	if id := r.URL.Query().Get("of"); id != "" && f.Channel != "" {
		tested, err := s.tested(r, id, testWait)
		if err != nil {
			return err
		}
		for i := range tested.Lines {
			tested.Lines[i].Form = "" // it is below
		}
		tested.Again = r.URL.RequestURI()
		v.Tested = &tested
	}
	return s.render(w, r, http.StatusOK, "change", v)
}

// drawing is the house of a form with what is typed so far; nothing where that cannot be
// drawn.
func (s changes) drawing(w http.ResponseWriter, r *http.Request) error {
	f, ok, err := s.options.Changes.Fill(s.wordsOf(r).Tongue, r.PostForm.Get("at"), r.PostForm)
	if err != nil {
		return unreadable(err)
	}
	section := s.drawn(r, f.Form)
	if !ok || section == nil {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	return s.renderPart(w, r, http.StatusOK, "change", "section", section)
}

// drawn draws the house of a form, with its readings as they are now.
func (s changes) drawn(r *http.Request, f forms.Form) *draw.Section {
	if f.Drawn == nil {
		return nil
	}
	say := s.wordsOf(r)
	h := alarms.HousePicture{ID: f.Drawn.House, Name: string(f.Drawn.House)}
	for _, one := range s.picture(say).Houses {
		if one.ID == h.ID {
			h = one
		}
	}
	section := draw.SectionOf(say, []service.Form{*f.Drawn}, h, draw.ReadingsOf(say, h, s.watch.Now()))
	if section.Plain != nil && f.Named != nil {
		return nil // nothing of it is said yet
	}
	return section
}

// test sends a test message over the channel of a form, on which then stands what came
// of it.
func (s changes) test(w http.ResponseWriter, r *http.Request) error {
	at := r.PostForm.Get("at")
	f, ok, err := s.options.Changes.Form(s.wordsOf(r).Tongue, at)
	if err != nil {
		return unreadable(err)
	}
	if !ok || f.Channel == "" {
		return answer.Say(answer.Absent, "There is no such channel.")
	}
	s.who(w, r)
	id, err := s.sendTestOver(r.Context(), f.Channel)
	if err != nil {
		return err
	}
	http.Redirect(w, r, channelForm(f.Channel)+"&"+url.Values{"of": {id}}.Encode(), http.StatusSeeOther)
	return nil
}

func (s changes) fill(w http.ResponseWriter, r *http.Request) error {
	return s.show(w, r, http.StatusOK, "")
}

// show shows what would come of a form.
func (s changes) show(w http.ResponseWriter, r *http.Request, status int, alert tongue.Text) error {
	at := r.PostForm.Get("at")
	f, ok, err := s.options.Changes.Fill(s.wordsOf(r).Tongue, at, r.PostForm)
	if err != nil {
		return unreadable(err)
	}
	if !ok {
		return answer.Say(answer.Absent, "There is nothing of that name to change.")
	}
	v := changeView{frame: s.frame(r, tongue.Text(f.Form.Title)), Filled: f, At: at, Shown: true, Alert: s.wordsOf(r).Say(alert), Section: s.drawn(r, f.Form)}
	if f.Wrong() {
		status = http.StatusUnprocessableEntity
	}
	names := make([]string, 0, len(r.PostForm))
	for name := range r.PostForm {
		if name != "mark" {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		v.Hidden = append(v.Hidden, optionView{Value: r.PostForm.Get(name), Words: name})
	}
	return s.render(w, r, status, "change", v)
}

func (s changes) write(w http.ResponseWriter, r *http.Request) error {
	at := r.PostForm.Get("at")
	filled, _, _ := s.options.Changes.Fill(s.wordsOf(r).Tongue, at, r.PostForm) // to go on to it; what is wrong Change says
	err := s.options.Changes.Change(r.Context(), s.wordsOf(r).Tongue, at, r.PostForm, r.PostForm.Get("mark"), s.who(w, r))
	var refused *FirstRefused
	switch {
	case errors.Is(err, ErrFirstChanged):
		return s.show(w, r, http.StatusConflict, "The file was changed meanwhile, so nothing was written. This is what would be written now.")
	case errors.As(err, &refused):
		return s.show(w, r, http.StatusUnprocessableEntity, "Nothing was written.")
	case err != nil:
		return err
	}
	parts, err := s.parts(r, cmp.Or(filled.At, at))
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "change", changeView{frame: s.frame(r, "It is written"), Written: true, Parts: parts, Filled: filled})
}
