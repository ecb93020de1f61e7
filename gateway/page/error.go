package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"

	"github.com/rs/zerolog"
)

// answer is the one place that turns errors into answers.
func (s *Server) answer(h answer.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
}

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var f *answer.Error
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &f):
	case errors.As(err, &tooBig):
		f = &answer.Error{Kind: answer.Invalid, Say: "That is more than this page accepts.", Err: err}
	default:
		f = &answer.Error{Kind: answer.Failed, Say: "The watch could not do that. Its own log says why.", Err: err}
	}
	s.logFault(r, f)
	if f.After > 0 {
		w.Header().Set("Retry-After", fmt.Sprint(f.After))
	}
	if f.Kind == answer.SignedOut && answer.WantsPage(r) && r.Method == http.MethodGet {
		http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
		return
	}
	status, said := f.Status(), f.In(s.wordsOf(r).Tongue)
	if !answer.WantsPage(r) {
		answer.JSON(w, status, map[string]string{"error": said})
		return
	}
	v := faultView{frame: s.frame(r, "Not done"), Say: said}
	if f.Kind == answer.Absent {
		v.frame = s.frame(r, "Not here")
	}
	if err := s.render(w, r, status, "fault", v); err != nil {
		http.Error(w, said, status)
	}
}

func (s *Server) logFault(r *http.Request, f *answer.Error) {
	level := zerolog.InfoLevel
	if f.Kind == answer.Failed || f.Kind == answer.Away && f.Err != nil {
		level = zerolog.ErrorLevel
	}
	if level == zerolog.InfoLevel {
		further, ok := s.refusals.note(s.now())
		if !ok {
			return
		}
		if further > 0 {
			s.log.Info().Int("further", further).Msg("more requests were refused in the minute before than are logged")
		}
	}
	s.log.WithLevel(level).Err(f.Err).Str("method", answer.Tidy(r.Method, 20)).Str("path", answer.Tidy(r.URL.Path, 120)).
		Str("client", s.door.ClientOf(r)).Int("status", f.Status()).Msg(f.In(tongue.English))
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

// timely ends what a handler asks for while there is still time to say so. A
// disk that does not answer keeps no visitor waiting for good.
func (s *Server) timely(h answer.Handler) answer.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		ctx, cancel := context.WithTimeout(r.Context(), s.limits.write*5/6)
		defer cancel()
		err := h(w, r.WithContext(ctx))
		var f *answer.Error
		if errors.Is(err, context.DeadlineExceeded) && !errors.As(err, &f) {
			return &answer.Error{Kind: answer.Away, Say: "The disk of the watch does not answer in time. Alarms are told all the same.", Err: err, After: 30}
		}
		return err
	}
}
