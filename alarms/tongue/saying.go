package tongue

import (
	"fmt"
	"slices"
)

// Saying is a Text with what is filled in, kept to be said in the language of whoever
// reads it. As an error it is in English. Without a Text it is Args alone, in every
// language the same; the zero value says nothing.
type Saying struct {
	Text Text
	Args []any // for the verbs of Text; a Text among them, and what has an In, is said in the same language
}

// Put fills args into a Text.
func Put(x Text, args ...any) Saying { return Saying{x, args} }

// Bare is what is the same in every language, such as a name.
func Bare(s string) Saying { return Saying{Args: []any{s}} }

// In is s in a language.
func (s Saying) In(t Tongue) string {
	args := slices.Clone(s.Args)
	for i, a := range args {
		switch x := a.(type) {
		case Text:
			args[i] = t.Say(x)
		case interface{ In(Tongue) string }:
			args[i] = x.In(t)
		}
	}
	if s.Text == "" {
		return fmt.Sprint(args...)
	}
	return t.Say(s.Text, args...)
}

// Error is s in English.
func (s Saying) Error() string { return s.In(English) }

// Empty reports whether s says nothing.
func (s Saying) Empty() bool { return s.Text == "" && len(s.Args) == 0 }

// Of is s as an error that is err too.
func (s Saying) Of(err error) error { return kind{s, err} }

type kind struct {
	Saying
	is error
}

func (k kind) Unwrap() []error { return []error{k.is, k.Saying} }
