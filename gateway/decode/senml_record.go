package decode

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"strings"
)

// fields are the raw values of one record by their labels, which are told apart by
// case; unknown ones are ignored (RFC 8428, section 4.4).
type fields map[string]json.RawMessage

func (f fields) checkBase() error {
	for _, label := range []string{"bn", "bu"} {
		if raw := f[label]; raw != nil && raw[0] != '"' {
			return fmt.Errorf("%s is %s, want text", label, show(raw))
		}
	}
	for _, label := range []string{"bt", "bv", "bs"} {
		if _, ok := f.float(label); !ok {
			return fmt.Errorf("%s is %s, want a number", label, show(f[label]))
		}
	}
	return nil
}

// float reads a JSON number; absent is 0.
func (f fields) float(label string) (float64, bool) {
	raw := f[label]
	if raw == nil {
		return 0, true
	}
	v, rest, ok, _ := scanNumber(raw)
	return v, ok && len(rest) == 0
}

// has counts which of some fields are there.
func (f fields) has(labels ...string) (n int) {
	for _, label := range labels {
		if f[label] != nil {
			n++
		}
	}
	return n
}

// resolve brings the base fields up to date and joins them with the record's
// own. given is false for a record that only sets base fields.
func (f fields) resolve(b *base) (rec record, given bool, err error) {
	f.setBase(b)
	if f.has("n", "u", "v", "vs", "vb", "vd", "s", "t") == 0 {
		return record{}, false, nil
	}
	for _, label := range []string{"n", "u", "vs", "vd"} {
		if raw := f[label]; raw != nil && raw[0] != '"' {
			return rec, false, fmt.Errorf("got %s, want text", show(raw))
		}
	}
	rec.name, rec.unit = b.name, b.unit
	if f["n"] != nil {
		rec.name += string(unquote(f["n"]))
	}
	if f["u"] != nil {
		rec.unit = string(unquote(f["u"]))
	}
	t, ok := f.float("t")
	if !ok {
		return rec, false, fmt.Errorf("t is %s, want a number", show(f["t"]))
	}
	rec.time, rec.timed = b.time+t, b.timed || f["t"] != nil
	if err := checkName(rec.name); err != nil {
		return rec, false, err
	}
	return rec, true, f.fill(&rec, b)
}

func (f fields) setBase(b *base) {
	if f["bn"] != nil {
		b.name = string(unquote(f["bn"]))
	}
	if f["bu"] != nil {
		b.unit = string(unquote(f["bu"]))
	}
	if f["bt"] != nil {
		b.time, _ = f.float("bt")
		b.timed = true
	}
	if f["bv"] != nil {
		b.value, _ = f.float("bv")
		b.hasValue = true
	}
	if f["bs"] != nil {
		b.sum, _ = f.float("bs")
		b.hasSum = true
	}
}

// fill reads the one value field, and the sum (RFC 8428, sections 4.2, 4.5.4
// and 4.5.6).
func (f fields) fill(rec *record, b *base) error {
	if n := f.has("v", "vs", "vb", "vd"); n > 1 {
		return fmt.Errorf("%q has %d values, want one", rec.name, n)
	}
	s, ok := f.float("s")
	if !ok {
		return fmt.Errorf("s of %q is %s, want a number", rec.name, show(f["s"]))
	}
	if rec.hasSum = f["s"] != nil || b.hasSum; rec.hasSum {
		rec.sum = b.sum + s
	}
	switch {
	case f["vs"] != nil:
		rec.kind, rec.text = textKind, unquote(f["vs"])
	case f["vb"] != nil:
		rec.kind, rec.yes = boolKind, f["vb"][0] == 't'
		if f["vb"][0] != 't' && f["vb"][0] != 'f' {
			return fmt.Errorf("vb of %q is %s, want true or false", rec.name, show(f["vb"]))
		}
	case f["vd"] != nil:
		data, err := base64.RawURLEncoding.DecodeString(string(unquote(f["vd"])))
		if err != nil {
			return fmt.Errorf("vd of %q is not base64url without padding", rec.name)
		}
		rec.kind, rec.text = dataKind, data
	case f["v"] != nil || (b.hasValue && !rec.hasSum):
		v, ok := f.float("v")
		if !ok {
			return fmt.Errorf("v of %q is %s, want a number", rec.name, show(f["v"]))
		}
		rec.kind, rec.value = floatKind, b.value+v
	case !rec.hasSum:
		return fmt.Errorf("%q has no value", rec.name)
	}
	return nil
}

// checkName holds a resolved name against RFC 8428, section 4.5.1.
func checkName(name string) error {
	if name == "" {
		return fmt.Errorf("a record has no name")
	}
	for i := range len(name) {
		c := name[i]
		letter := c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z'
		if !letter && (i == 0 || strings.IndexByte("-:./_", c) < 0) {
			return fmt.Errorf("the name %s has a character that is not allowed there", show([]byte(name)))
		}
	}
	return nil
}
