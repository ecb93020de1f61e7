package answer

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode"

	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// Tidy makes one short line of what somebody typed.
func Tidy(text string, most int) string {
	text = strings.ToValidUTF8(text, "")
	text = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return ' '
		}
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, text)
	runes := []rune(strings.Join(strings.Fields(text), " "))
	return string(runes[:min(len(runes), most)])
}

// kind says what went wrong with a request.
type kind uint8

// What can go wrong.
const (
	Failed    kind = iota // ours: logged with its cause
	Invalid               // the request makes no sense
	SignedOut             // nobody is signed in
	Refused               // not from this page, or not allowed
	Absent                // no such thing
	Changed               // it is no longer what the person saw
	TooMany               // too often
	Away                  // cannot be had now
)

var statuses = map[kind]int{
	Failed:    http.StatusInternalServerError,
	Invalid:   http.StatusBadRequest,
	SignedOut: http.StatusUnauthorized,
	Refused:   http.StatusForbidden,
	Absent:    http.StatusNotFound,
	Changed:   http.StatusConflict,
	TooMany:   http.StatusTooManyRequests,
	Away:      http.StatusServiceUnavailable,
}

// Error is one that a visitor may see: Say is shown with Args, in the visitor's
// language, Err only logged. Of Args, those of a tongue.Saying are said in that
// language too, and a time.Duration as a span.
type Error struct {
	Kind  kind
	Say   tongue.Text
	Args  []any
	Err   error
	After int // seconds after which to try again; 0: not said
}

func (f *Error) Error() string {
	if f.Err == nil {
		return f.In(tongue.English)
	}
	return fmt.Sprintf("%s (%v)", f.In(tongue.English), f.Err)
}

func (f *Error) Unwrap() error { return f.Err }

// Status is the status of HTTP for f.
func (f *Error) Status() int { return statuses[f.Kind] }

// In is what is shown, in a language.
func (f *Error) In(t tongue.Tongue) string {
	args := slices.Clone(f.Args)
	for i, a := range args {
		if d, ok := a.(time.Duration); ok {
			args[i] = say.Locale{Tongue: t}.Span(d)
		}
	}
	return tongue.Put(f.Say, args...).In(t)
}

// Say makes one without a cause, for people.
func Say(k kind, text tongue.Text, args ...any) *Error { return &Error{Kind: k, Say: text, Args: args} }

// Errorf makes one without a cause, for programs: it is in English.
func Errorf(k kind, format string, args ...any) *Error {
	return &Error{Kind: k, Say: tongue.Text(fmt.Sprintf(format, args...))}
}

// Handler is a handler that returns what went wrong before it wrote anything.
type Handler func(http.ResponseWriter, *http.Request) error

// WantsPage reports whether an answer should be a page for a person.
func WantsPage(r *http.Request) bool { return strings.Contains(r.Header.Get("Accept"), "text/html") }

// JSON answers with v.
func JSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	enc := json.NewEncoder(w)
	_ = enc.Encode(v) // the status is sent: a visitor who has gone cannot be told
}

// Filled reads the form that h is about.
func Filled(h Handler) Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := r.ParseForm(); err != nil {
			return &Error{Kind: Invalid, Say: "That form could not be read.", Err: err}
		}
		return h(w, r)
	}
}

// AsError is err where a visitor may see it, nil else.
func AsError(err error) *Error {
	if f, ok := errors.AsType[*Error](err); ok {
		return f
	}
	return nil
}

// Time reads one time of a program, by RFC 3339; an empty text gives or.
func Time(field, text string, or time.Time) (time.Time, error) {
	if text == "" {
		return or, nil
	}
	t, err := time.Parse(time.RFC3339, text)
	if err != nil || t.Year() < 1970 || t.Year() > 9000 {
		return t, Errorf(Invalid, "%q must be a time such as 2026-06-21T12:00:00Z (got %q).", field, Tidy(text, 40))
	}
	return t, nil
}
