package page

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/url"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/draw"
)

// Authority is this board's own authority of TLS, which devices can be told to trust.
type Authority interface {
	// Look says how it is.
	Look() AuthorityState
	// Make makes one, in place of one that is there; the page is served as it was
	// until it is used. Errors: *FirstRefused.
	Make(by string) error
	// Use makes the watch start again with a page that has certificates of it. Errors:
	// ErrFirstChanged, *FirstRefused.
	Use(ctx context.Context, by string) error
}

// AuthorityState is how an authority is.
type AuthorityState struct {
	Made        bool
	Wrong       tongue.Saying // why what is there cannot be used; empty: it can
	Certificate []byte        // to trust, DER
	Name        string        // of it, as devices list it
	Fingerprint string
	Until       time.Time
	Names       []string // that it vouches for, or would; the first is the best to open the page by
	Lacking     []string // by which the board is reached too
	InUse       bool     // by the page that answers now
	Port        string   // of the page
}

// trust are the pages of the authority.
type trust struct{ *Server }

const (
	authorityPage = "/authority"
	authorityFile = "/authority.cer"
)

func (s trust) routes(rt router) {
	if s.options.Authority == nil {
		return
	}
	rt.see("GET "+authorityPage, s.page)
	rt.act("POST "+authorityPage+"/make", s.make)
	rt.act("POST "+authorityPage+"/use", s.use)
	rt.open("GET "+authorityFile, s.file) // it is no secret: each connection shows what is in it
}

// authorityView is the page of the authority.
type authorityView struct {
	frame
	Own    AuthorityState
	Ends   string
	File   string // whole address of the certificate
	QR     draw.QR
	Open   string // whole address of the page, by its best name
	Start  bool   // the watch starts anew with it
	Alert  string
	Remake bool // a new one would be of use
}

func (s trust) page(w http.ResponseWriter, r *http.Request) error {
	return s.show(w, r, http.StatusOK, "", false)
}

func (s trust) show(w http.ResponseWriter, r *http.Request, status int, alert string, start bool) error {
	a := s.options.Authority.Look()
	v := authorityView{frame: s.frame(r, "Trust this page"), Own: a, Alert: alert, Start: start,
		File: s.scheme() + "://" + r.Host + authorityFile}
	if len(a.Names) > 0 {
		u := url.URL{Scheme: "https", Host: net.JoinHostPort(a.Names[0], a.Port), Path: "/"}
		v.Open = u.String()
	}
	if a.Made {
		v.Ends = s.wordsOf(r).Stamp(a.Until, "2 January 2006")
		v.Remake = len(a.Lacking) > 0 || a.Until.Before(s.now().AddDate(1, 0, 0))
	}
	var err error
	if v.QR, err = draw.NewQR(v.File); err != nil {
		return answer.Say(answer.Invalid, "The address by which this page was opened is too long.")
	}
	return s.render(w, r, status, "authority", v)
}

func (s trust) scheme() string {
	if s.door.Secure {
		return "https"
	}
	return "http"
}

func (s trust) make(w http.ResponseWriter, r *http.Request) error {
	var refused *FirstRefused
	switch err := s.options.Authority.Make(s.who(w, r)); {
	case errors.As(err, &refused):
		return s.show(w, r, http.StatusUnprocessableEntity, refused.In(s.wordsOf(r).Tongue), false)
	case err != nil:
		return err
	}
	http.Redirect(w, r, authorityPage, http.StatusSeeOther)
	return nil
}

func (s trust) use(w http.ResponseWriter, r *http.Request) error {
	var refused *FirstRefused
	switch err := s.options.Authority.Use(r.Context(), s.who(w, r)); {
	case errors.Is(err, ErrFirstChanged):
		return s.show(w, r, http.StatusConflict, s.wordsOf(r).Say("The file was changed at the same moment, so nothing was written. Try again."), false)
	case errors.As(err, &refused):
		return s.show(w, r, http.StatusUnprocessableEntity, refused.In(s.wordsOf(r).Tongue), false)
	case err != nil:
		return err
	}
	return s.show(w, r, http.StatusOK, "", true)
}

// file gives devices the certificate to trust. It is shown to them, not kept as an
// attachment: some take it up only so.
func (s trust) file(w http.ResponseWriter, _ *http.Request) error {
	a := s.options.Authority.Look()
	if !a.Made {
		return answer.Say(answer.Absent, "No authority was made yet.")
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(a.Certificate) // a visitor who has gone cannot be told
	return nil
}
