package decode

import (
	"encoding/base64"
	"fmt"
	"strings"
)

// fields are the raw values of one record's labels, nil if absent.
type fields struct {
	bn, bt, bu, bv, bs, bver  []byte
	n, u, v, vs, vb, vd, s, t []byte
	must                      []byte // label that ends in _
}

// read collects the fields of the object in raw. Labels are told apart by
// case; unknown ones are ignored (RFC 8428, section 4.4).
func (f *fields) read(raw []byte) {
	if raw[0] != '{' {
		return
	}
	for i := skipBlanks(raw, 1); raw[i] != '}'; i = nextItem(raw, i) {
		end := skipString(raw, i)
		key := unquote(raw[i:end])
		i = skipBlanks(raw, skipBlanks(raw, end)+1)
		from := i
		i = skipValue(raw, i)
		if to := f.slot(key); to != nil {
			*to = raw[from:i]
		} else if len(key) > 0 && key[len(key)-1] == '_' {
			f.must = key
		}
	}
}

func (f *fields) slot(key []byte) *[]byte {
	switch string(key) {
	case "bn":
		return &f.bn
	case "bt":
		return &f.bt
	case "bu":
		return &f.bu
	case "bv":
		return &f.bv
	case "bs":
		return &f.bs
	case "bver":
		return &f.bver
	case "n":
		return &f.n
	case "u":
		return &f.u
	case "v":
		return &f.v
	case "vs":
		return &f.vs
	case "vb":
		return &f.vb
	case "vd":
		return &f.vd
	case "s":
		return &f.s
	case "t":
		return &f.t
	}
	return nil
}

func (f *fields) checkBase() error {
	for _, x := range []struct {
		label string
		raw   []byte
	}{{"bn", f.bn}, {"bu", f.bu}} {
		if x.raw != nil && x.raw[0] != '"' {
			return fmt.Errorf("%s is %s, want text", x.label, show(x.raw))
		}
	}
	for _, x := range []struct {
		label string
		raw   []byte
	}{{"bt", f.bt}, {"bv", f.bv}, {"bs", f.bs}} {
		if _, ok := f.float(x.raw); x.raw != nil && !ok {
			return fmt.Errorf("%s is %s, want a number", x.label, show(x.raw))
		}
	}
	return nil
}

// float reads a raw JSON number; absent is 0.
func (f *fields) float(raw []byte) (float64, bool) {
	if raw == nil {
		return 0, true
	}
	v, rest, ok, _ := scanNumber(raw)
	return v, ok && len(rest) == 0
}

// resolve brings the base fields up to date and joins them with the record's
// own. given is false for a record that only sets base fields.
func (f *fields) resolve(b *base) (rec record, given bool, err error) {
	f.setBase(b)
	if f.n == nil && f.u == nil && f.v == nil && f.vs == nil && f.vb == nil && f.vd == nil && f.s == nil && f.t == nil {
		return record{}, false, nil
	}
	for _, raw := range [][]byte{f.n, f.u, f.vs, f.vd} {
		if raw != nil && raw[0] != '"' {
			return rec, false, fmt.Errorf("got %s, want text", show(raw))
		}
	}
	rec.name, rec.unit = b.name, b.unit
	if f.n != nil {
		rec.name += string(unquote(f.n))
	}
	if f.u != nil {
		rec.unit = string(unquote(f.u))
	}
	t, ok := f.float(f.t)
	if !ok {
		return rec, false, fmt.Errorf("t is %s, want a number", show(f.t))
	}
	rec.time, rec.timed = b.time+t, b.timed || f.t != nil
	if err := checkName(rec.name); err != nil {
		return rec, false, err
	}
	return rec, true, f.fill(&rec, b)
}

func (f *fields) setBase(b *base) {
	if f.bn != nil {
		b.name = string(unquote(f.bn))
	}
	if f.bu != nil {
		b.unit = string(unquote(f.bu))
	}
	if f.bt != nil {
		b.time, _ = f.float(f.bt)
		b.timed = true
	}
	if f.bv != nil {
		b.value, _ = f.float(f.bv)
		b.hasValue = true
	}
	if f.bs != nil {
		b.sum, _ = f.float(f.bs)
		b.hasSum = true
	}
}

// fill reads the one value field, and the sum (RFC 8428, sections 4.2, 4.5.4
// and 4.5.6).
func (f *fields) fill(rec *record, b *base) error {
	if n := f.values(); n > 1 {
		return fmt.Errorf("%q has %d values, want one", rec.name, n)
	}
	s, ok := f.float(f.s)
	if !ok {
		return fmt.Errorf("s of %q is %s, want a number", rec.name, show(f.s))
	}
	if rec.hasSum = f.s != nil || b.hasSum; rec.hasSum {
		rec.sum = b.sum + s
	}
	switch {
	case f.vs != nil:
		rec.kind, rec.text = textKind, unquote(f.vs)
	case f.vb != nil:
		rec.kind, rec.yes = boolKind, f.vb[0] == 't'
		if f.vb[0] != 't' && f.vb[0] != 'f' {
			return fmt.Errorf("vb of %q is %s, want true or false", rec.name, show(f.vb))
		}
	case f.vd != nil:
		data, err := base64.RawURLEncoding.DecodeString(string(unquote(f.vd)))
		if err != nil {
			return fmt.Errorf("vd of %q is not base64url without padding", rec.name)
		}
		rec.kind, rec.text = dataKind, data
	case f.v != nil || (b.hasValue && !rec.hasSum):
		v, ok := f.float(f.v)
		if !ok {
			return fmt.Errorf("v of %q is %s, want a number", rec.name, show(f.v))
		}
		rec.kind, rec.value = floatKind, b.value+v
	case !rec.hasSum:
		return fmt.Errorf("%q has no value", rec.name)
	}
	return nil
}

// values counts the value fields of a record.
func (f *fields) values() int {
	n := 0
	for _, raw := range [][]byte{f.v, f.vs, f.vb, f.vd} {
		if raw != nil {
			n++
		}
	}
	return n
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
