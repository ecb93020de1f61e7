package decode

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// find collects the values of all samples.
func (p *proposer) find() {
	for i, s := range p.samples {
		text := bytes.TrimSpace(bytes.Trim(s.Payload, "\x00"))
		switch p.form {
		case Number:
			p.addText(Read{}, nameWords(p.topicNames()...), nil, "", text)
		case JSON:
			var any any
			d := json.NewDecoder(bytes.NewReader(text))
			d.UseNumber()
			if d.Decode(&any) == nil {
				p.walk(any, nil, "", s, i)
			}
		case SenML:
			p.findSenML(s.Payload)
		case Line:
			p.findLine(text)
		}
	}
	for _, f := range p.found {
		f.missing = len(f.values) < len(p.samples) && p.form != SenML && p.form != Line
	}
}

// add notes one value at a place; a place that is new is added.
func (p *proposer) add(place Read, names, group []string, unit, text string, boolean bool, v float64, decode func(*read) (float64, fault)) {
	key := fmt.Sprint(place.At, "\x00", place.Measurement, "\x00", place.Tags, "\x00", unit)
	i := slices.IndexFunc(p.found, func(f *found) bool {
		return fmt.Sprint(f.read.At, "\x00", f.read.Measurement, "\x00", f.read.Tags, "\x00", f.unit) == key
	})
	if i < 0 {
		if len(p.found) >= mostSpots {
			return
		}
		i = len(p.found)
		p.found = append(p.found, &found{read: place, names: names, group: group, unit: unit, text: text, boolean: boolean, decode: decode})
	}
	p.found[i].values = append(p.found[i].values, v)
}

// nameWords are the words of names, the nearest name first.
func nameWords(names ...string) []string {
	var out []string
	for _, n := range names {
		for _, piece := range strings.FieldsFunc(n, func(r rune) bool { return !unicode.IsLetter(r) }) {
			out = append(out, strings.ToLower(piece))
			if parts := camel(piece); len(parts) > 1 {
				out = append(out, parts...)
			}
		}
	}
	return out
}

// camel parts a name at its capitals: "airTemp" into air and temp.
func camel(name string) []string {
	var out []string
	begin := 0
	runes := []rune(name)
	for i := 1; i < len(runes); i++ {
		if unicode.IsUpper(runes[i]) && !unicode.IsUpper(runes[i-1]) {
			out = append(out, strings.ToLower(string(runes[begin:i])))
			begin = i
		}
	}
	return append(out, strings.ToLower(string(runes[begin:])))
}

// topicNames are the levels of the topic, the last first.
func (p *proposer) topicNames() []string {
	levels := strings.Split(p.topic, "/")
	slices.Reverse(levels)
	return levels[:min(len(levels), 2)]
}

// addText adds text that is a number, perhaps with its unit, or the word of a
// contact.
func (p *proposer) addText(place Read, names, group []string, unit string, text []byte) {
	decode := func(r *read) (float64, fault) { return r.text(text) }
	if closed, ok := contactWord(text); ok {
		v := 0.0
		if closed {
			v = 1
		}
		p.add(place, names, group, unit, string(text), true, v, decode)
		return
	}
	v, rest, ok, _ := scanNumber(text)
	rest = bytes.TrimSpace(rest)
	if !ok || len(rest) > 12 || bytes.ContainsAny(rest, ",:0123456789") {
		return
	}
	p.add(place, names, group, cmp.Or(string(rest), unit), string(text), false, v, decode)
}

// walk goes through a JSON value. index is the sample's; unit is what a
// neighbour called unit says.
func (p *proposer) walk(v any, tokens []string, unit string, s Sample, index int) {
	const deepest = 8
	if len(tokens) > deepest {
		return
	}
	switch v := v.(type) {
	case map[string]any:
		for _, k := range unitKeys {
			if u, ok := v[k].(string); ok {
				unit = u
			}
		}
		for _, k := range slices.Sorted(maps.Keys(v)) {
			if !slices.Contains(unitKeys, k) {
				p.walk(v[k], append(slices.Clone(tokens), k), unit, s, index)
			}
		}
	case []any:
		for i, one := range v {
			p.walk(one, append(slices.Clone(tokens), strconv.Itoa(i)), unit, s, index)
		}
	default:
		p.leaf(v, tokens, unit, s, index)
	}
}

var unitKeys = []string{"unit", "units", "uom"}

func (p *proposer) leaf(v any, tokens []string, unit string, s Sample, index int) {
	at := ""
	var near []string
	for _, t := range tokens {
		at += "/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(t)
		near = append(near, t)
	}
	slices.Reverse(near)
	if _, err := parsePointer(at); err != nil {
		return
	}
	if p.leafTime(v, at, near, s, index) {
		return
	}
	names := nameWords(near...)
	if len(near) > 0 && plainName(near[0]) && len(near) == 1 {
		names = append(names, nameWords(p.topicNames()...)...)
	}
	group := groupOf(tokens)
	decode := func(r *read) (float64, fault) { return r.jsonValue(fmt.Append(nil, v)) }
	switch v := v.(type) {
	case json.Number:
		f, err := v.Float64()
		if err == nil {
			p.add(Read{At: at}, names, group, unit, v.String(), false, f, decode)
		}
	case bool:
		n := 0.0
		if v {
			n = 1
		}
		p.add(Read{At: at}, names, group, unit, strconv.FormatBool(v), true, n, decode)
	case string:
		p.addText(Read{At: at}, names, group, unit, bytes.TrimSpace([]byte(v)))
	}
}

// plainName reports whether a key says nothing of what is measured.
func plainName(key string) bool {
	return slices.Contains([]string{"value", "v", "val", "reading", "data", "state"}, strings.ToLower(key))
}

// groupOf is a pointer's names without the last, and with the number at the
// end of the last one: temp2 belongs with hum2.
func groupOf(tokens []string) []string {
	if len(tokens) == 0 {
		return nil
	}
	last := tokens[len(tokens)-1]
	group := slices.Clone(tokens[:len(tokens)-1])
	if stem := strings.TrimRight(last, "0123456789"); stem != "" && stem != last && stem != "co" && stem != "pm" {
		group = append(group, last[len(stem):])
	}
	return group
}

// leafTime takes a value that tells when it was measured.
func (p *proposer) leafTime(v any, at string, near []string, s Sample, index int) bool {
	if len(near) == 0 || !slices.ContainsFunc(nameWords(near[0]), func(w string) bool { return slices.Contains(timeWords, w) }) {
		return false
	}
	text := fmt.Sprint(v)
	for _, u := range []TimeUnit{Seconds, Milliseconds, Microseconds, Nanoseconds} {
		t, bad := unixTime([]byte(text), u)
		if bad.bad() || t.Sub(s.At).Abs() > 400*24*time.Hour {
			continue
		}
		if p.clock.At == "" && index == 0 {
			p.clock.At, p.time = at, t
			if _, isText := v.(string); u != Seconds || !isText {
				p.clock.Unit = u
			}
		}
		return true
	}
	return false
}

var timeWords = []string{"time", "timestamp", "ts", "t", "date", "datetime", "measured", "at", "epoch", "when", "taken", "utc"}
