package decode

import (
	"bytes"
	"cmp"
	"encoding/json"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/topic"
)

// Sample is one payload of a topic as it came.
type Sample struct {
	Payload []byte
	At      time.Time // when it came
}

// Sure says how far a proposal can be trusted.
type Sure uint8

// Degrees of being sure.
const (
	Unsure  Sure = iota // somebody must choose
	Likely              // name or range speak for it
	Certain             // the payload says so itself, or name and range agree
)

// Proposal is one way to read a topic as one probe. What it would read is
// worked out by the decoder itself, so it is what the probe will give.
type Proposal struct {
	Of       string // which part of the payload, where it serves several probes
	Form     Form
	Clock    Clock
	Measured time.Time // of the newest sample by that clock; zero: it has none
	Spots    []Spot
}

// Measures names the quantities proposed, as tongue.Keep has it.
func (p Proposal) Measures() (said string) {
	for _, s := range p.Spots {
		if s.Use >= 0 {
			said = tongue.KeepList("%s, %s", said, tongue.Keep(NameOf(s.Choices[s.Use].Read.Quantity)))
		}
	}
	return cmp.Or(said, tongue.Keep("what it measures it does not say"))
}

// Spot is one value of the payload.
type Spot struct {
	Where   string // pointer, name or field; empty: the payload is the value
	Sent    string // newest value as sent
	Choices []Choice
	Use     int // of Choices; -1: it is not proposed
	Sure    Sure
	Why     string // a sentence, as tongue.Keep has it
	Ask     string // a question to the grower, as tongue.Keep has it; empty: none
}

// Choice is one way to read a spot, and what that gives.
type Choice struct {
	Read  Read
	Value float64 // in the core's unit
}

// mostSpots bounds how many values of one payload are looked at.
const mostSpots = 60

// Propose says how the newest payloads of a topic, newest first, could be
// read. Where nothing can be, why says so in a sentence, as tongue.Keep has it.
func Propose(topic string, samples []Sample) (proposals []Proposal, why string) {
	var kept []Sample
	for _, s := range samples {
		if len(s.Payload) > 0 {
			kept = append(kept, s)
		}
	}
	if len(kept) == 0 {
		return nil, tongue.Keep("No payload has come yet.")
	}
	form, why := formOf(kept[0].Payload)
	if form == "" {
		return nil, why
	}
	same := kept[:1]
	for _, s := range kept[1:] {
		if f, _ := formOf(s.Payload); f == form {
			same = append(same, s)
		}
	}
	p := &proposer{topic: topic, form: form, samples: same}
	p.find()
	proposals = p.proposals()
	if len(proposals) == 0 {
		return nil, tongue.Keep("There is no number in it that a probe could measure.")
	}
	return proposals, ""
}

// formOf reports how a payload is written, or why it cannot be read.
func formOf(b []byte) (Form, string) {
	text := bytes.TrimSpace(bytes.Trim(b, "\x00"))
	switch {
	case !utf8.Valid(text) || bytes.ContainsFunc(text, func(r rune) bool { return r < ' ' && r != '\n' && r != '\r' && r != '\t' }):
		return "", tongue.Keep("It is binary, not text. Let the probe send a number, JSON, SenML or line protocol.")
	case len(text) == 0:
		return "", tongue.Keep("It is empty.")
	case (text[0] == '{' || text[0] == '[') && !json.Valid(text):
		return "", tongue.Keep("It begins like JSON but is none: perhaps it is longer than can be looked at here.")
	case text[0] == '[' && looksSenML(text):
		return SenML, ""
	case json.Valid(text) && (text[0] == '{' || text[0] == '[' || text[0] == '"'):
		return JSON, ""
	}
	if _, ok := contactWord(text); ok {
		return Number, ""
	}
	if _, rest, ok, _ := scanNumber(text); ok && len(bytes.Fields(rest)) <= 1 && !bytes.ContainsAny(rest, ",=0123456789") {
		return Number, ""
	}
	if looksLine(text) {
		return Line, ""
	}
	if _, bad := new(read).text(text); bad.cause == Comma {
		return "", tongue.Keep("It is no number as probes send it: got %s: write a decimal point and no commas, as in 21.5.", show(text))
	}
	return "", tongue.Keep("It is text, but neither a number, nor JSON, SenML or line protocol.")
}

// Claims reports whether s reads a topic.
func (s Source) Claims(name string) bool { return topic.Matches(s.Filter, name) }

// proposer works on one topic.
type proposer struct {
	topic   string
	form    Form
	samples []Sample // newest first, of one form
	found   []*found
	clock   Clock
	time    time.Time
}

// found is one value of the payloads before it is known what it means.
type found struct {
	read    Read     // where it stands
	names   []string // words of its name, the nearest first
	group   []string // parts of its name from the outermost
	unit    string   // as the payload states it
	values  []float64
	text    string                       // newest, as sent
	boolean bool                         // true and false, or the words of a contact
	decode  func(*read) (float64, fault) // the newest, by the decoder itself
	missing bool                         // not in every sample
}

// try gives the value that a read takes from the newest sample that has it.
func (p *proposer) try(f *found, in Read) (float64, bool) {
	r := read{Read: in, form: p.form, units: unitsOf(in.Quantity), scale: same, factor: 1}
	if in.Unit != "" {
		u, ok := r.units.find(in.Unit)
		if !ok {
			return 0, false
		}
		r.scale = u.scale
	}
	if in.Factor != 0 {
		r.factor = in.Factor
	}
	v, bad := f.decode(&r)
	return v, !bad.bad()
}

// proposals weighs what was found and makes one proposal of each group.
func (p *proposer) proposals() []Proposal {
	spots := walk.Each(p.found, p.spot)
	var out []Proposal
	var names []string
	for i, name := range p.groups(spots) {
		at := slices.Index(names, name)
		if at < 0 {
			at = len(names)
			names = append(names, name)
			out = append(out, Proposal{Of: name, Form: p.form, Clock: p.clock, Measured: p.time})
		}
		if len(spots[i].Choices) > 0 {
			out[at].Spots = append(out[at].Spots, spots[i])
		}
	}
	out = slices.DeleteFunc(out, func(o Proposal) bool { return len(o.Spots) == 0 })
	for i := range out {
		onlyOnce(out[i].Spots)
		slices.SortStableFunc(out[i].Spots, func(a, b Spot) int { return cmp.Compare(a.rank(), b.rank()) })
		if len(out) == 1 {
			out[i].Of = ""
		}
	}
	return out
}

// rank puts what is proposed first, in the order of the quantities.
func (s Spot) rank() int {
	if s.Use < 0 {
		return len(alarms.Quantities)
	}
	return slices.Index(alarms.Quantities, s.Choices[s.Use].Read.Quantity)
}

// onlyOnce leaves of several spots for one quantity the surest, the first of
// equals: a probe measures each once.
func onlyOnce(spots []Spot) {
	for i := range spots {
		for j := range spots {
			a, b := &spots[i], &spots[j]
			if i == j || a.Use < 0 || b.Use < 0 || a.Choices[a.Use].Read.Quantity != b.Choices[b.Use].Read.Quantity {
				continue
			}
			if b.Sure > a.Sure || b.Sure == a.Sure && j < i {
				a.Why = tongue.Keep("It may be %s too, which is read from %s already; a probe measures it once. Add this one as a probe of its own.",
					NameOf(a.Choices[a.Use].Read.Quantity), cmp.Or(b.Where, tongue.Keep("elsewhere")))
				a.Use, a.Ask, a.Sure = -1, "", Unsure
			}
		}
	}
}

// groups says for each spot which probe it belongs to. Where a quantity comes
// several times the payload serves several probes, told apart where the names
// of its values part.
func (p *proposer) groups(spots []Spot) []string {
	out := make([]string, len(spots))
	depth := -1
	for i := range spots {
		for j := range i {
			if spots[i].Use < 0 || spots[j].Use < 0 || spots[i].Choices[spots[i].Use].Read.Quantity != spots[j].Choices[spots[j].Use].Read.Quantity {
				continue
			}
			if n := parting(p.found[i].group, p.found[j].group); n >= 0 && (depth < 0 || n < depth) {
				depth = n
			}
		}
	}
	if depth < 0 {
		return out
	}
	first := ""
	for i, f := range p.found {
		if len(f.group) > depth {
			out[i] = strings.Join(f.group[:depth+1], "/")
			first = cmp.Or(first, out[i])
		}
	}
	for i := range out {
		out[i] = cmp.Or(out[i], first) // what all share goes to the first
	}
	return out
}

// parting is where two names part before their last part; -1: not before.
func parting(a, b []string) int {
	for i := 0; i < min(len(a), len(b)); i++ {
		if a[i] != b[i] {
			return i
		}
	}
	return -1
}
