package config

import (
	"fmt"
	"io"
)

const hidden = "(secret)"

// Secret is a password or token. However it is printed, marshalled or logged
// it shows "(secret)"; only Reveal gives the text.
type Secret struct {
	text *string // a pointer, so that printing an outer struct shows an address at most
}

// NewSecret makes a Secret of s.
func NewSecret(s string) Secret { return Secret{text: &s} }

// Reveal returns the text, empty when none was given.
func (s Secret) Reveal() string {
	if s.text == nil {
		return ""
	}
	return *s.text
}

// Given reports whether there is a secret at all.
func (s Secret) Given() bool { return s.text != nil }

func (s Secret) String() string { return hidden }

// GoString hides the text from %#v.
func (s Secret) GoString() string { return hidden }

// Format hides the text from every verb.
func (s Secret) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, hidden) }

// MarshalText hides the text.
func (s Secret) MarshalText() ([]byte, error) { return []byte(hidden), nil }

// MarshalJSON hides the text.
func (s Secret) MarshalJSON() ([]byte, error) { return []byte(`"` + hidden + `"`), nil }
