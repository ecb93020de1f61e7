package decode

import (
	"encoding/json"
	"fmt"
	"time"

	"telltale/alarms"
)

// decodeJSON reads what all pointers of the part find.
func (p *part) decodeJSON(payload []byte, b *batch) fault {
	if !json.Valid(payload) {
		return notJSON(payload)
	}
	p.finder.scan(payload)
	for _, o := range p.owners {
		measured, late := p.jsonTime(o)
		any := false
		for i := o.from; i < o.to; i++ {
			raw := p.finder.found[i]
			if raw == nil {
				continue
			}
			any = true
			v, f := p.reads[i].jsonValue(raw)
			p.take(i, v, f, measured, b)
		}
		if any && late.bad() {
			b.add(Problem{Probe: o.probe, Cause: late.cause, Detail: late.detail})
		}
	}
	return fault{}
}

func notJSON(payload []byte) fault {
	var any json.RawMessage
	err := json.Unmarshal(payload, &any)
	return fault{BadSyntax, fmt.Sprintf("got %s, which is not JSON: %v", show(payload), err)}
}

// jsonTime reads the time of one source; no time is no problem unless the
// config says where it should be.
func (p *part) jsonTime(o owner) (time.Time, fault) {
	if o.clockAt < 0 {
		return time.Time{}, fault{}
	}
	raw := p.finder.found[o.clockAt]
	if raw == nil {
		return time.Time{}, fault{BadTime, fmt.Sprintf("no time is at the pointer %q", o.clock.At)}
	}
	if raw[0] == '"' {
		raw = unquote(raw)
	}
	return unixTime(raw, o.clock.Unit)
}

// jsonValue reads one JSON value: a number, text that is one, a boolean for a
// contact.
func (r *read) jsonValue(raw []byte) (float64, fault) {
	switch raw[0] {
	case '"':
		return r.text(unquote(raw))
	case 't', 'f':
		if r.Quantity == alarms.Contact {
			return r.contact(raw[0] == 't'), fault{}
		}
		return 0, fault{WrongType, fmt.Sprintf("got %s, want a number", raw)}
	case 'n':
		return 0, fault{NoValue, "got null: the probe says that it has no value"}
	case '{', '[':
		return 0, fault{WrongType, fmt.Sprintf("got %s, want a number", show(raw))}
	}
	v, _, ok, _ := scanNumber(raw)
	if !ok {
		return 0, fault{NotFinite, fmt.Sprintf("got %s, which is too large to be a reading", show(raw))}
	}
	return r.number(v, nil)
}
