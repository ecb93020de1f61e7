package decode

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
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
	var pack []json.RawMessage
	if json.Unmarshal(payload, &pack) != nil || pack == nil {
		return fault{}, fault{BadSyntax, fmt.Sprintf("got %s, want a SenML pack, which is a JSON list of records", show(payload))}
	}
	records, whole := checkPack(pack)
	if whole.bad() {
		return fault{}, whole
	}
	var bs base
	for _, f := range records {
		rec, given, err := f.resolve(&bs)
		switch {
		case err != nil && !bad.bad():
			bad = fault{BadSyntax, "a record is not SenML: " + err.Error()}
		case err == nil && given:
			give(rec)
		}
	}
	return bad, fault{}
}

// checkPack looks for what forbids using any of a pack: a newer version, a
// field that must be understood, a record that is none, a base field that
// would spoil all that follow.
func checkPack(pack []json.RawMessage) (records []fields, whole fault) {
	version := float64(senmlVersion)
	for n, raw := range pack {
		var f fields
		if raw[0] != '{' || json.Unmarshal(raw, &f) != nil {
			return nil, fault{BadSyntax, fmt.Sprintf("record %d is %s, want an object", n+1, show(raw))}
		}
		if bver := f["bver"]; bver != nil {
			v, ok := f.float("bver")
			if !ok || v != math.Trunc(v) || v < 1 || v > senmlVersion || (n > 0 && v != version) {
				return nil, fault{BadVersion, fmt.Sprintf("record %d has the version %s; versions 1 to %d can be read, the same in the whole pack", n+1, show(bver), senmlVersion)}
			}
			version = v
		}
		for _, label := range slices.Sorted(maps.Keys(f)) {
			if strings.HasSuffix(label, "_") {
				return nil, fault{NotKnown, fmt.Sprintf("record %d has the field %s, which must be understood and is not", n+1, show([]byte(label)))}
			}
		}
		if err := f.checkBase(); err != nil {
			return nil, fault{BadSyntax, fmt.Sprintf("record %d: %v", n+1, err)}
		}
		records = append(records, f)
	}
	return records, fault{}
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
