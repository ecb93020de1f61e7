package decode

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"telltale/alarms"
)

// fault is why one value could not be taken. The zero fault is none.
type fault struct {
	cause  Cause
	detail string
}

func (f fault) bad() bool { return f.cause != "" }

// scanNumber reads a decimal number at the start of b: a sign, digits with at
// most one point, an exponent. It returns what follows it; ok is false if
// there is no number or none that a float64 can hold (then big is true).
func scanNumber(b []byte) (v float64, rest []byte, ok, big bool) {
	i := sign(b)
	whole, part := digits(b[i:]), 0
	if i += whole; i < len(b) && b[i] == '.' {
		part = digits(b[i+1:])
		i += 1 + part
	}
	if whole+part == 0 {
		return 0, b, false, false
	}
	if i < len(b) && (b[i] == 'e' || b[i] == 'E') {
		if n := 1 + sign(b[i+1:]); digits(b[i+n:]) > 0 {
			i += n + digits(b[i+n:])
		}
	}
	v, err := strconv.ParseFloat(string(b[:i]), 64)
	return v, b[i:], err == nil, errors.Is(err, strconv.ErrRange)
}

// sign and digits are how many bytes of them b begins with.
func sign(b []byte) int {
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		return 1
	}
	return 0
}

func digits(b []byte) int {
	if n := bytes.IndexFunc(b, func(r rune) bool { return r < '0' || r > '9' }); n >= 0 {
		return n
	}
	return len(b)
}

// text reads a value written as text: blanks, a number, and its unit if it has
// one; for a contact also a word. A comma is refused, not guessed at: "1,234"
// is one thing in one country and another in the next.
func (r *read) text(b []byte) (float64, fault) {
	b = bytes.Trim(b, " \t\r\n\x00")
	if r.Quantity == alarms.Contact {
		if v, ok := contactWord(b); ok {
			return r.contact(v), fault{}
		}
	}
	v, rest, ok, big := scanNumber(b)
	switch {
	case big:
		return 0, fault{NotFinite, fmt.Sprintf("got %s, which is too large to be a reading", show(b))}
	case !ok:
		return 0, r.noNumber(b)
	case len(rest) > 0 && rest[0] == ',':
		return 0, fault{Comma, fmt.Sprintf("got %s: write a decimal point and no commas, as in 21.5", show(b))}
	}
	rest = bytes.TrimLeft(rest, " \t")
	if len(rest) > 0 && strings.IndexByte("0123456789.+-_", rest[0]) >= 0 {
		return 0, r.noNumber(b) // such as "21.5.3" or "21.5 22"
	}
	return r.number(v, rest)
}

// number brings v to the core's unit; stated is the unit in the payload.
func (r *read) number(v float64, stated []byte) (float64, fault) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fault{NotFinite, fmt.Sprintf("got %v, which is no reading", v)}
	}
	if r.Quantity == alarms.Contact {
		return r.contactNumber(v, stated)
	}
	scale := r.scale
	if len(stated) > 0 {
		u, ok := r.units.find(string(stated))
		switch {
		case !ok:
			return 0, fault{BadUnit, fmt.Sprintf("the payload states the unit %s, want one of %s", show(stated), r.units.names())}
		case r.Unit != "" && u.scale != r.scale:
			return 0, fault{BadUnit, fmt.Sprintf("the payload states %s, the config says %s", u.name, r.Unit)}
		}
		scale = u.scale
	}
	v = scale.apply(v, r.factor)
	if math.IsInf(v, 0) {
		return 0, fault{NotFinite, "the value is too large to be a reading"}
	}
	return v, fault{}
}

func (r *read) contactNumber(v float64, stated []byte) (float64, fault) {
	if (v != 0 && v != 1) || len(stated) > 0 {
		return 0, fault{NotNumber, fmt.Sprintf("got %v %s for a contact, want 0 or 1, open or closed, off or on", v, stated)}
	}
	return r.contact(v == 1), fault{}
}

func (r *read) contact(closed bool) float64 {
	if closed != r.Inverted {
		return 1
	}
	return 0
}

// contactWord reads the usual words for a contact, in any case.
func contactWord(b []byte) (closed, ok bool) {
	for _, w := range [...]string{"closed", "on", "true"} {
		if bytes.EqualFold(b, []byte(w)) {
			return true, true
		}
	}
	for _, w := range [...]string{"open", "off", "false"} {
		if bytes.EqualFold(b, []byte(w)) {
			return false, true
		}
	}
	return false, false
}

// noNumber says what text that is no number seems to be.
func (r *read) noNumber(b []byte) fault {
	word := bytes.ToLower(bytes.TrimLeft(b, "+-"))
	switch {
	case len(b) == 0:
		return fault{NotNumber, "got only blanks, want a number such as 21.5"}
	case bytes.HasPrefix(word, []byte("nan")), bytes.HasPrefix(word, []byte("inf")):
		return fault{NotFinite, fmt.Sprintf("got %s, which is no reading", show(b))}
	case (b[0] == '{' || b[0] == '[') && r.form == Number:
		return fault{NotNumber, fmt.Sprintf("got %s, which looks like JSON: set the form to json or senml", show(b))}
	case r.Quantity == alarms.Contact:
		return fault{NotNumber, fmt.Sprintf("got %s, want 0 or 1, open or closed, off or on", show(b))}
	}
	return fault{NotNumber, fmt.Sprintf("got %s, want a number such as 21.5", show(b))}
}

// show quotes the start of b for a sentence: printable, and not long.
func show(b []byte) string {
	const most = 48
	if len(b) > most {
		return strconv.QuoteToASCII(string(b[:most])) + "..."
	}
	return strconv.QuoteToASCII(string(b))
}
