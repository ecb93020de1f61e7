package entry

import (
	"bytes"
	"crypto/rand"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"net/http"

	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

//go:embed page.html
var pageText string

// cookie holds the ticket of the browser that is inside. A browser gives it back
// over TLS alone, and to this machine alone.
const cookie = "__Host-telltale-first"

// view is what the page shows.
type view struct {
	Nonce string
	Stage string // code, account, made, taken or closed
	Wrong string // what is wrong with what was sent
	Field string // that it is at
	Name  string // as it was typed
	ID    string // to sign in with
	in    tongue.Tongue
	On    string // path of the page to go on to
	Own   bool   // an authority is wanted
}

var stages = map[stage]string{asking: "code", taken: "taken", made: "taken", closed: "closed"}

// handler answers at / and nowhere else.
func (s *Server) handler() http.Handler {
	pages := map[tongue.Tongue]*template.Template{}
	for _, in := range tongue.Tongues() {
		pages[in] = template.Must(template.New("page").Funcs(template.FuncMap{"say": in.Say, "lang": in.Code}).Parse(pageText))
	}
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusForbidden) }))
	return cross.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/" || r.Method != http.MethodGet && r.Method != http.MethodPost {
			w.WriteHeader(http.StatusNotFound) // and not a word
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		v := view{Nonce: rand.Text(), in: words.LocaleOf(r, false, false).Tongue}
		status := http.StatusOK
		done := false
		if r.Method == http.MethodPost {
			status, done = s.post(w, r, &v)
		} else {
			s.show(r, &v)
		}
		var text bytes.Buffer
		if err := pages[v.in].Execute(&text, v); err != nil {
			s.o.Log.Error().Err(err).Msg("the page of the first set-up could not be drawn")
			status = http.StatusInternalServerError
		}
		headers(w.Header(), v.Nonce)
		w.WriteHeader(status)
		_, _ = text.WriteTo(w) // a visitor who has gone cannot be told
		if done {
			_ = http.NewResponseController(w).Flush()
			s.o.Made()
		}
	}))
}

func headers(h http.Header, nonce string) {
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Content-Security-Policy", fmt.Sprintf("default-src 'none'; style-src 'nonce-%[1]s'; script-src 'nonce-%[1]s'; connect-src 'self'; "+
		"base-uri 'none'; form-action 'self'; frame-ancestors 'none'", nonce))
}

func ticketOf(r *http.Request) string {
	c, err := r.Cookie(cookie)
	if err != nil || len(c.Value) > 64 {
		return ""
	}
	return c.Value
}

// show says how far it is, to the browser inside or to another.
func (s *Server) show(r *http.Request, v *view) {
	at, mine := s.lock.look(ticketOf(r), s.now())
	v.Stage = stages[at]
	if mine {
		v.Stage = map[stage]string{taken: "account", made: "made"}[at]
	}
	if at == made && mine {
		_, _ = s.lock.make(ticketOf(r), s.now(), nil, func() { v.ID, v.On = s.id, s.on })
	}
}

// post takes a code, or the account.
func (s *Server) post(w http.ResponseWriter, r *http.Request, v *view) (status int, done bool) {
	defer s.changed()
	if err := r.ParseForm(); err != nil {
		s.show(r, v)
		v.Wrong = v.in.Say("That form could not be read.")
		return http.StatusBadRequest, false
	}
	if r.PostForm.Has("code") {
		return s.postCode(w, r, v), false
	}
	return s.postAccount(r, v)
}

func (s *Server) postCode(w http.ResponseWriter, r *http.Request, v *view) int {
	typed := r.PostForm.Get("code")
	ticket, at, left := s.lock.try(typed, s.now())
	if ticket != "" {
		s.o.Log.Warn().Str("from", r.RemoteAddr).Msg("The code for the first set-up was given. If that was not you, stop Telltale now.")
		http.SetCookie(w, &http.Cookie{Name: cookie, Value: ticket, Path: "/", Secure: true, HttpOnly: true, SameSite: http.SameSiteStrictMode})
		v.Stage = "account"
		return http.StatusOK
	}
	s.show(r, v)
	if at != asking {
		return http.StatusForbidden
	}
	v.Field = "code"
	v.Wrong = v.in.Say("The code has eight letters and digits, such as 7K2M-9QXD; this had none, more or fewer. It did not count: %s left.", triesWords(v.in, left))
	if tidied(typed) != "" {
		s.o.Log.Warn().Str("from", r.RemoteAddr).Msgf("A wrong code was given for the first set-up: %s left.", triesWords(tongue.English, left))
		v.Wrong = v.in.Say("That is not the code: %s left.", triesWords(v.in, left))
	}
	return http.StatusForbidden
}

func triesWords(in tongue.Tongue, n int) string {
	if n == 1 {
		return in.Say("one try is")
	}
	return in.Say("%d tries are", n)
}

func (s *Server) postAccount(r *http.Request, v *view) (status int, done bool) {
	v.Name, v.Own = r.PostForm.Get("name"), r.PostForm.Get("authority") != ""
	made := false
	mine, err := s.lock.make(ticketOf(r), s.now(), func() error {
		if r.PostForm.Get("password") != r.PostForm.Get("again") {
			return &Refused{Field: "again", Say: "The two passwords are not the same."}
		}
		id, err := s.o.Make(Account{Name: v.Name, Password: r.PostForm.Get("password"), Certificate: s.cert, Authority: v.Own})
		if err == nil {
			s.id, s.on, made = id, "/first", true
			if v.Own {
				s.on = "/authority"
			}
		}
		return err
	}, func() { v.ID, v.On = s.id, s.on })
	refused, mendable := errors.AsType[*Refused](err)
	switch {
	case !mine:
		s.show(r, v)
		return http.StatusForbidden, false
	case mendable:
		v.Stage, v.Wrong, v.Field = "account", v.in.Say(refused.Say, refused.Args...), refused.Field
		return http.StatusUnprocessableEntity, false
	case err != nil:
		s.o.Log.Error().Err(err).Msg("the first account could not be made")
		v.Stage, v.Wrong = "account", v.in.Say("It could not be written; the log of Telltale says why. Nothing was changed.")
		return http.StatusInternalServerError, false
	}
	v.Stage = "made"
	return http.StatusOK, made
}
