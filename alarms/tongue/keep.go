package tongue

import (
	"encoding/json"
	"strings"
	"time"
)

// Moment is filled in as words that are still right when they are read years later.
type Moment time.Time

// Day is filled in as a whole date with the day of the week.
type Day time.Time

// keptMark begins what Keep returns; no text of people does.
const keptMark = "\x01"

// kept is what is filled in and is neither text nor a number.
type kept struct {
	Clock  *time.Time     `json:"clock,omitempty"`
	Moment *time.Time     `json:"moment,omitempty"`
	Day    *time.Time     `json:"day,omitempty"`
	Span   *time.Duration `json:"span,omitempty"`
}

// Keep is a Saying of x with args as data, in a string that can stand and be kept where
// text can: package say has it in words for each reader, and text as it is. An arg is a string
// (which may be another that was kept), a Text, a whole number, a time (a clock time,
// seen from when it is read), a Moment, a Day or a duration.
func Keep(x Text, args ...any) string {
	all := []any{x}
	for _, arg := range args {
		switch a := arg.(type) {
		case Text:
			arg = Keep(a)
		case time.Time:
			arg = kept{Clock: &a}
		case Moment:
			arg = kept{Moment: (*time.Time)(&a)}
		case Day:
			arg = kept{Day: (*time.Time)(&a)}
		case time.Duration:
			arg = kept{Span: &a}
		}
		all = append(all, arg)
	}
	b, err := json.Marshal(all)
	if err != nil { // an arg of another kind
		panic(err)
	}
	return keptMark + string(b)
}

// KeepList keeps several things as one: pair is what is said of two of them, one behind
// the other. What is "" is left out; nothing is "".
func KeepList(pair Text, all ...string) (one string) {
	for _, s := range all {
		switch {
		case one == "":
			one = s
		case s != "":
			one = Keep(pair, one, s)
		}
	}
	return one
}

// Kept is what Keep made s of; false: s is text.
func Kept(s string) (x Saying, ok bool) {
	s, ok = strings.CutPrefix(s, keptMark)
	var all []json.RawMessage
	if !ok || json.Unmarshal([]byte(s), &all) != nil || len(all) == 0 || json.Unmarshal(all[0], &x.Text) != nil {
		return Saying{}, false
	}
	for _, raw := range all[1:] {
		x.Args = append(x.Args, keptArg(raw))
	}
	return x, true
}

func keptArg(raw json.RawMessage) any {
	var text string
	if json.Unmarshal(raw, &text) == nil {
		return text
	}
	var number int64
	if json.Unmarshal(raw, &number) == nil {
		return number
	}
	var k kept
	switch err := json.Unmarshal(raw, &k); {
	case err != nil:
	case k.Clock != nil:
		return *k.Clock
	case k.Moment != nil:
		return Moment(*k.Moment)
	case k.Day != nil:
		return Day(*k.Day)
	case k.Span != nil:
		return *k.Span
	}
	return string(raw)
}
