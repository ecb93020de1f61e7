package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// kind says what went wrong with a request.
type kind uint8

const (
	kindFailed    kind = iota // ours: logged with its cause
	kindInvalid               // the request makes no sense
	kindSignedOut             // nobody is signed in
	kindRefused               // not from this page, or not allowed
	kindAbsent                // no such thing
	kindChanged               // it is no longer what the person saw
	kindTooMany               // too often
	kindAway                  // cannot be had now
)

var kindStatus = map[kind]int{
	kindFailed:    http.StatusInternalServerError,
	kindInvalid:   http.StatusBadRequest,
	kindSignedOut: http.StatusUnauthorized,
	kindRefused:   http.StatusForbidden,
	kindAbsent:    http.StatusNotFound,
	kindChanged:   http.StatusConflict,
	kindTooMany:   http.StatusTooManyRequests,
	kindAway:      http.StatusServiceUnavailable,
}

// fault is an error that a visitor may see: Say is shown, Err only logged.
type fault struct {
	Kind  kind
	Say   string
	Err   error
	After int // seconds after which to try again; 0: not said
}

func (f *fault) Error() string {
	if f.Err == nil {
		return f.Say
	}
	return fmt.Sprintf("%s (%v)", f.Say, f.Err)
}

func (f *fault) Unwrap() error { return f.Err }

func faultf(k kind, format string, args ...any) *fault {
	return &fault{Kind: k, Say: fmt.Sprintf(format, args...)}
}

// handler is a handler that returns what went wrong before it wrote anything.
type handler func(http.ResponseWriter, *http.Request) error

// answer is the one place that turns errors into answers.
func (s *Server) answer(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
}

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var f *fault
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &f):
	case errors.As(err, &tooBig):
		f = &fault{Kind: kindInvalid, Say: "That is more than this page accepts.", Err: err}
	default:
		f = &fault{Kind: kindFailed, Say: "The watch could not do that. Its own log says why.", Err: err}
	}
	s.logFault(r, f)
	if f.After > 0 {
		w.Header().Set("Retry-After", fmt.Sprint(f.After))
	}
	if f.Kind == kindSignedOut && wantsPage(r) && r.Method == http.MethodGet {
		http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
		return
	}
	status := kindStatus[f.Kind]
	if !wantsPage(r) {
		writeJSON(w, status, map[string]string{"error": f.Say})
		return
	}
	title := "Not done"
	if f.Kind == kindAbsent {
		title = "Not here"
	}
	if err := s.render(w, status, "fault", faultView{frame: s.frame(w, r, title), Say: f.Say}); err != nil {
		http.Error(w, f.Say, status)
	}
}

func (s *Server) logFault(r *http.Request, f *fault) {
	level := zerolog.InfoLevel
	if f.Kind == kindFailed || f.Kind == kindAway && f.Err != nil {
		level = zerolog.ErrorLevel
	}
	if level == zerolog.InfoLevel {
		further, ok := s.refusals.note(s.sessions.now())
		if !ok {
			return
		}
		if further > 0 {
			s.log.Info().Int("further", further).Msg("more requests were refused in the minute before than are logged")
		}
	}
	s.log.WithLevel(level).Err(f.Err).Str("method", tidy(r.Method, 20)).Str("path", tidy(r.URL.Path, 120)).
		Str("client", s.clientOf(r)).Int("status", kindStatus[f.Kind]).Msg(f.Say)
}

// wantsPage reports whether an answer should be a page for a person.
func wantsPage(r *http.Request) bool { return strings.Contains(r.Header.Get("Accept"), "text/html") }

func writeJSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	enc := json.NewEncoder(w)
	_ = enc.Encode(v) // the status is sent: a visitor who has gone cannot be told
}

// sparing bounds how much of what strangers cause is logged.
type sparing struct {
	mu     sync.Mutex
	minute time.Time
	n      int
}

const loggedAMinute = 30

// note reports whether one more may be logged now, and how many of the minute
// before were not.
func (l *sparing) note(now time.Time) (further int, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if now.Sub(l.minute) >= time.Minute {
		further = max(l.n-loggedAMinute, 0)
		l.minute, l.n = now, 0
	}
	l.n++
	return further, l.n <= loggedAMinute
}
