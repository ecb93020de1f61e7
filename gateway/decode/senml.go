package decode

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"telltale/alarms"
)

// senmlVersion is the newest version of the format that is understood.
const senmlVersion = 10

// relativeBelow is the time in seconds below which SenML times count from now
// (RFC 8428, section 4.5.3).
const relativeBelow = 1 << 28

// valueKind says which value field a record has.
type valueKind uint8

const (
	noKind valueKind = iota
	floatKind
	textKind
	boolKind
	dataKind
)

// record is one resolved SenML record: base fields are already in it.
type record struct {
	name   string
	unit   string
	kind   valueKind
	value  float64 // floatKind
	text   []byte  // textKind, dataKind
	yes    bool    // boolKind
	hasSum bool
	sum    float64
	timed  bool    // the pack states a time for it
	time   float64 // s: since 1970, or from now when below relativeBelow
}

// base holds the base fields in force.
type base struct {
	name, unit       string
	time, value, sum float64
	timed            bool
	hasValue, hasSum bool
}

// resolve reads a pack by RFC 8428, section 4, and gives each record that has
// a value or a sum. A bad record costs the others nothing; then bad is the
// first such fault. A pack that must not be used as a whole gives whole.
func resolve(payload []byte, give func(record)) (bad, whole fault) {
	if !json.Valid(payload) {
		return fault{}, notJSON(payload)
	}
	i := skipBlanks(payload, 0)
	if payload[i] != '[' {
		return fault{}, fault{BadSyntax, fmt.Sprintf("got %s, want a SenML pack, which is a JSON list of records", show(payload))}
	}
	if whole = checkPack(payload, i); whole.bad() {
		return fault{}, whole
	}
	var bs base
	for i = skipBlanks(payload, i+1); payload[i] != ']'; i = nextItem(payload, i) {
		end := skipValue(payload, i)
		var f fields
		f.read(payload[i:end])
		rec, given, err := f.resolve(&bs)
		switch {
		case err != nil && !bad.bad():
			bad = fault{BadSyntax, "a record is not SenML: " + err.Error()}
		case err == nil && given:
			give(rec)
		}
		i = end
	}
	return bad, fault{}
}

// checkPack looks for what forbids using any of a pack: a newer version, a
// field that must be understood, a record that is none, a base field that
// would spoil all that follow.
func checkPack(payload []byte, i int) fault {
	version := float64(senmlVersion)
	for n := 0; ; n++ {
		if i = skipBlanks(payload, i+1); payload[i] == ']' {
			return fault{}
		}
		if payload[i] != '{' {
			return fault{BadSyntax, fmt.Sprintf("record %d is %s, want an object", n+1, show(payload[i:skipValue(payload, i)]))}
		}
		end := skipValue(payload, i)
		var f fields
		f.read(payload[i:end])
		if f.bver != nil {
			v, ok := f.float(f.bver)
			if !ok || v != math.Trunc(v) || v < 1 || v > senmlVersion || (n > 0 && v != version) {
				return fault{BadVersion, fmt.Sprintf("record %d has the version %s; versions 1 to %d can be read, the same in the whole pack", n+1, show(f.bver), senmlVersion)}
			}
			version = v
		}
		if f.must != nil {
			return fault{NotKnown, fmt.Sprintf("record %d has the field %s, which must be understood and is not", n+1, show(f.must))}
		}
		if err := f.checkBase(); err != nil {
			return fault{BadSyntax, fmt.Sprintf("record %d: %v", n+1, err)}
		}
		if i = skipBlanks(payload, end); payload[i] == ']' {
			return fault{}
		}
	}
}

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
	kinds := 0
	for _, raw := range [][]byte{f.v, f.vs, f.vb, f.vd} {
		if raw != nil {
			kinds++
		}
	}
	if kinds > 1 {
		return fmt.Errorf("%q has %d values, want one", rec.name, kinds)
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

// decodeSenML gives what the reads ask for. Records of one name may have
// several units: those that do not suit a read's quantity are not for it.
func (p *part) decodeSenML(payload []byte, received time.Time, b *batch) fault {
	bad, whole := resolve(payload, func(rec record) {
		for i := range p.reads {
			r := &p.reads[i]
			if r.At != rec.name || !r.suits(rec.unit) || (rec.kind == noKind && rec.hasSum) {
				continue
			}
			v, f := r.senmlValue(rec)
			measured, late := rec.measured(received)
			p.take(i, v, f, measured, b)
			if late.bad() {
				b.add(Problem{Probe: r.probe, Cause: late.cause, Detail: late.detail})
			}
		}
	})
	if whole.bad() {
		return whole
	}
	return bad
}

// suits reports whether a record in unit may be meant by r.
func (r *read) suits(unit string) bool {
	if unit == "" || len(r.units.fit) == 0 {
		return true
	}
	_, ok := r.units.find(unit)
	return ok
}

func (r *read) senmlValue(rec record) (float64, fault) {
	switch rec.kind {
	case floatKind:
		if r.Quantity == alarms.Contact {
			return r.number(rec.value, nil) // any unit: "/" is used for on and off
		}
		return r.number(rec.value, []byte(rec.unit))
	case textKind:
		return r.text(rec.text)
	case boolKind:
		if r.Quantity == alarms.Contact {
			return r.contact(rec.yes), fault{}
		}
		return 0, fault{WrongType, fmt.Sprintf("got %v, want a number", rec.yes)}
	}
	return 0, fault{WrongType, "got data, want a number"}
}

// measured is when the record was taken; zero if the pack states no time.
func (rec record) measured(received time.Time) (time.Time, fault) {
	text := fmt.Appendf(nil, "%v", rec.time)
	switch {
	case !rec.timed || rec.time == 0:
		return time.Time{}, fault{}
	case math.IsInf(rec.time, 0):
		return time.Time{}, fault{BadTime, "the base time and the time together are infinite"}
	case rec.time < -100*365*86400:
		return sane(time.Time{}, text)
	case rec.time < relativeBelow:
		return received.Add(time.Duration(math.Round(rec.time*1e6)) * time.Microsecond), fault{}
	}
	return fractionTime(rec.time, text)
}
