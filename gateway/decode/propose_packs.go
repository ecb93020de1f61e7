package decode

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

func looksSenML(text []byte) bool {
	var records []map[string]json.RawMessage
	if json.Unmarshal(text, &records) != nil || len(records) == 0 {
		return false
	}
	for _, r := range records {
		named, valued := false, false
		for k := range r {
			named = named || k == "n" || k == "bn"
			valued = valued || k == "v" || k == "vs" || k == "vb" || k == "vd" || k == "s" || k == "bv" || k == "bs"
		}
		if named && valued {
			return true
		}
	}
	return slices.ContainsFunc(records, func(r map[string]json.RawMessage) bool { return r["bn"] != nil })
}

func (p *proposer) findSenML(payload []byte) {
	_, _ = resolve(payload, func(rec record) { // what is bad in it gives nothing
		parts := strings.FieldsFunc(rec.name, func(r rune) bool { return strings.ContainsRune(":/._", r) })
		near := slices.Clone(parts)
		slices.Reverse(near)
		group := parts[:max(0, len(parts)-1)]
		names := nameWords(near[:min(len(near), 2)]...)
		decode := func(r *read) (float64, fault) { return r.senmlValue(rec) }
		switch rec.kind {
		case floatKind:
			p.add(Read{At: rec.name}, names, group, rec.unit, strings.TrimSpace(fmt.Sprintf("%v %s", rec.value, rec.unit)), false, rec.value, decode)
		case boolKind:
			v := 0.0
			if rec.yes {
				v = 1
			}
			p.add(Read{At: rec.name}, names, group, rec.unit, strconv.FormatBool(rec.yes), true, v, decode)
		case textKind:
			p.addText(Read{At: rec.name}, names, group, rec.unit, rec.text)
		}
	})
}

func looksLine(text []byte) bool {
	d := lineprotocol.NewDecoderWithBytes(text)
	if !d.Next() {
		return false
	}
	if _, err := d.Measurement(); err != nil {
		return false
	}
	for {
		key, _, err := d.NextTag()
		if err != nil {
			return false
		}
		if key == nil {
			break
		}
	}
	key, _, err := d.NextField()
	return err == nil && key != nil
}

func (p *proposer) findLine(text []byte) {
	for d := lineprotocol.NewDecoderWithBytes(text); d.Next(); {
		name, err := d.Measurement()
		if err != nil {
			continue
		}
		place := Read{Measurement: string(name), Tags: map[string]string{}}
		group := []string{place.Measurement}
		for key, value, err := d.NextTag(); key != nil && err == nil; key, value, err = d.NextTag() {
			place.Tags[string(key)] = string(value)
			group = append(group, string(key)+"="+string(value))
		}
		if len(place.Tags) == 0 {
			place.Tags = nil
		}
		for key, v, err := d.NextField(); key != nil && err == nil; key, v, err = d.NextField() {
			place.At = string(key)
			p.addField(place, nameWords(place.At, place.Measurement), group, v)
		}
		if stamp, err := d.TimeBytes(); err == nil && len(stamp) > 0 {
			p.lineTime(stamp)
		}
	}
}

func (p *proposer) addField(place Read, names, group []string, v lineprotocol.Value) {
	decode := func(r *read) (float64, fault) { return r.lineValue(v) }
	switch v.Kind() {
	case lineprotocol.Float:
		p.add(place, names, group, "", v.String(), false, v.FloatV(), decode)
	case lineprotocol.Int:
		p.add(place, names, group, "", v.String(), false, float64(v.IntV()), decode)
	case lineprotocol.Uint:
		p.add(place, names, group, "", v.String(), false, float64(v.UintV()), decode)
	case lineprotocol.String:
		p.addText(place, names, group, "", bytes.TrimSpace(v.BytesV()))
	case lineprotocol.Bool:
		n := 0.0
		if v.BoolV() {
			n = 1
		}
		p.add(place, names, group, "", v.String(), true, n, decode)
	}
}

// lineTime tells from the first stamp what it counts; nanoseconds need no
// word.
func (p *proposer) lineTime(stamp []byte) {
	n, err := strconv.ParseInt(string(stamp), 10, 64)
	if err != nil || !p.time.IsZero() {
		return
	}
	for _, u := range []TimeUnit{Nanoseconds, Microseconds, Milliseconds, Seconds} {
		if t, bad := wholeTime(n, u, stamp); !bad.bad() && t.Sub(p.samples[0].At).Abs() < 400*24*time.Hour {
			p.time = t
			if u != Nanoseconds {
				p.clock.Unit = u
			}
			return
		}
	}
}
