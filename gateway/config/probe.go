package config

import (
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
)

// Source says what one probe publishes under one topic filter.
type Source struct {
	Probe  alarms.ProbeID
	Filter string // MQTT topic filter, + and # allowed
	Form   string // number, json, senml or line
	Reads  []Read
	// ClockAt (json) is the pointer to the payload's own time; empty: none.
	ClockAt string
	// ClockUnit is what a number there counts since 1970: s, ms, us or ns;
	// empty: the form's default.
	ClockUnit string
	Where     string // file:line of the probe
}

// Read chooses one quantity out of a payload.
type Read struct {
	Quantity    alarms.Quantity
	At          string // json: RFC 6901 pointer; senml: resolved name; line: field key
	Measurement string // line: empty for any
	Tags        map[string]string
	Unit        string  // as sent; empty: the payload's own, else the core's
	Factor      float64 // times the number sent is the value in Unit; 0 means 1
	Inverted    bool    // contact: 1 and on mean open
	Optional    bool    // not in every payload
}

// Forms are the ways a payload may be written.
var Forms = []string{"number", "json", "senml", "line"}

// probeSite is a probe with its table.
type probeSite struct {
	t       *table
	where   value[string] // house/place
	probe   alarms.Probe
	sources []Source
	reads   []readSite
}

// readSite is one quantity of a probe with its place in the file.
type readSite struct {
	t      *table
	topic  value[string]
	form   string
	read   Read
	vague  bool // where the value stands is not known, which was told
	stream alarms.Stream
}

func (p *probeSite) stream(q alarms.Quantity) (alarms.Stream, bool) {
	for _, s := range p.probe.Streams {
		if s.Quantity == q {
			return s, true
		}
	}
	return alarms.Stream{}, false
}

func (r *reader) probes(root *table) []*probeSite {
	var out []*probeSite
	for _, t := range root.children("probe") {
		out = append(out, r.probe(t))
	}
	if len(out) == 0 && !r.bare(root) {
		r.problem(root.spot("probe"), "is missing: without a probe nothing is watched; add one, for example [probe.bench-1]")
	}
	return out
}

func (r *reader) probe(t *table) *probeSite {
	defer t.done()
	r.checkID(t, "probe")
	site := &probeSite{t: t, where: need(t, t.text("place"), "say where the probe hangs, as house/place")}
	p := &site.probe
	p.ID, p.Name = alarms.ProbeID(t.name), t.text("name").or(t.name)
	p.Kind = alarms.ProbeKind(t.oneOf("kind", kindNames()...).V)
	p.Circuit = alarms.CircuitID(t.text("circuit").V)
	p.Every = t.span("every", time.Second, day).V
	p.MissesAllowed = t.number("misses-allowed", 1, 100, "intervals").V
	p.Priority = t.priority("priority")
	topic, form := t.filter("topic"), t.oneOf("form", Forms...)
	clockAt, clockUnit := t.text("time-from"), t.oneOf("time-unit", "s", "ms", "us", "ns")
	for _, q := range alarms.Quantities {
		if sub := t.table(string(q)); sub.seen {
			site.add(r.readOf(sub, q, topic, form))
		}
	}
	if len(site.reads) == 0 {
		r.problem(t.at, "measures nothing: add a table for each quantity, for example [%s.temperature]", t.at.path)
	}
	site.group(r)
	site.clock(r, clockAt, clockUnit)
	return site
}

func (p *probeSite) add(one readSite) {
	p.reads = append(p.reads, one)
	p.probe.Streams = append(p.probe.Streams, one.stream)
}

// readOf reads one quantity of a probe. Topic and form are the probe's unless
// the quantity has its own.
func (r *reader) readOf(t *table, q alarms.Quantity, topic value[string], form value[string]) readSite {
	defer t.done()
	out := readSite{t: t, topic: topic, form: form.or("number")}
	if q.Derived() {
		r.problem(t.at, "is worked out from temperature and humidity; no probe may claim it")
	}
	if own := t.filter("topic"); own.Seen {
		out.topic = own
	}
	if own := t.oneOf("form", Forms...); own.Set {
		out.form = own.V
	}
	if !out.topic.Seen {
		r.problem(t.at, "has no topic: give it one here, or give the probe one")
	}
	out.read = r.readKeys(t, q, out.form)
	out.vague = t.has("from") && out.read.At == "" && t.keys["from"] != any("") ||
		!t.has("from") && (out.form == "senml" || out.form == "line")
	out.stream = r.streamKeys(t, q)
	return out
}

func (r *reader) readKeys(t *table, q alarms.Quantity, form string) Read {
	read := Read{Quantity: q, Factor: t.number("factor", -1e6, 1e6, "").V, Inverted: t.flag("inverted").V, Optional: t.flag("optional").V}
	if t.has("factor") && read.Factor == 0 {
		r.problem(t.spot("factor"), "must not be 0: every reading would be 0")
	}
	if read.Inverted && q != alarms.Contact {
		r.problem(t.spot("inverted"), "is for contacts alone")
	}
	if u := t.text("unit"); u.Set {
		read.Unit = u.V
		if known := unitNames(q); !slices.Contains(known, u.V) {
			if len(known) == 0 {
				r.problem(u.at, "must be left out: %s has no unit (got %q)", q, u.V)
			} else {
				r.problem(u.at, "must be %s (got %q)", either(plainUnits(known)), u.V)
			}
		}
	}
	at := t.from(form)
	read.At = at.V
	if !at.Seen && form != "number" && form != "json" {
		r.problem(t.spot("from"), "is missing: say where in the payload %s stands", q)
	}
	read.Measurement = t.text("measurement").V
	read.Tags = r.tags(t)
	if form != "line" && (t.has("measurement") || t.has("tags")) {
		r.problem(t.at, "measurement and tags are for form = \"line\" alone (the form is %q)", form)
	}
	return read
}

func (r *reader) tags(t *table) map[string]string {
	sub := t.table("tags")
	if len(sub.keys) == 0 {
		return nil
	}
	out := map[string]string{}
	for _, k := range sub.sortedKeys() {
		out[k] = sub.text(k).V
	}
	return out
}

// streamKeys reads how the readings of q are believed.
func (r *reader) streamKeys(t *table, q alarms.Quantity) alarms.Stream {
	f := quantityFacts[q]
	lo, hi := r.scale.from(q, 5*f.lo-4*f.hi), r.scale.from(q, 5*f.hi-4*f.lo)
	s := alarms.Stream{Quantity: q}
	low, high := t.number("min", lo, hi, r.scale.unit(q)), t.number("max", lo, hi, r.scale.unit(q))
	if low.Set && high.Set && low.V >= high.V {
		r.problem(high.at, "must be above min (got %s, min is %s)", figure(high.V), figure(low.V))
	}
	low.V, high.V = r.scale.into(q, low.V), r.scale.into(q, high.V)
	s.Min, s.Max = limit(low), limit(high)
	s.Offset = r.step(t, "offset", q, -width(q), width(q), "").V
	s.Jump = t.jump(r, q)
	s.StuckFor = t.spanOr("stuck-after", "never", 10*time.Minute, 60*day).V
	weak := t.number("weak-below", f.lo, f.hi, f.unit)
	s.Weak = limit(weak)
	if weak.Seen && q != alarms.Battery && q != alarms.Signal {
		r.problem(weak.at, "is for battery and signal alone; limits of %s belong to the place", q)
	}
	return s
}

// jump reads the largest believable step, or "any".
func (t *table) jump(r *reader, q alarms.Quantity) float64 {
	if t.keys["jump"] == any("any") {
		t.ask("jump")
		return -1
	}
	return r.step(t, "jump", q, 0.01, width(q), "").V
}

// group makes the sources: one for each topic and form.
func (p *probeSite) group(r *reader) {
	for _, one := range p.reads {
		if !one.topic.Set {
			continue
		}
		i := p.source(one)
		if one.form == "number" && len(p.sources[i].Reads) > 0 {
			r.problem(one.t.at, "a plain number carries one quantity, and %s is read from the topic %q already; give each its own topic or another form",
				p.sources[i].Reads[0].Quantity, one.topic.V)
			continue
		}
		p.sources[i].Reads = append(p.sources[i].Reads, one.read)
	}
}

func (p *probeSite) source(one readSite) int {
	for i, s := range p.sources {
		if s.Filter == one.topic.V && s.Form == one.form {
			return i
		}
	}
	p.sources = append(p.sources, Source{Probe: p.probe.ID, Filter: one.topic.V, Form: one.form,
		Where: fmt.Sprintf("%s:%d", p.t.r.file, p.t.at.line)})
	return len(p.sources) - 1
}

// clock spreads the probe's clock over the sources that can have one.
func (p *probeSite) clock(r *reader, at, unit value[string]) {
	if at.Set {
		if wrong := badPointer(at.V); wrong != "" {
			r.problem(at.at, "%s", wrong)
		}
	}
	used := false
	for i := range p.sources {
		s := &p.sources[i]
		switch s.Form {
		case "json":
			s.ClockAt = at.V
			s.ClockUnit = unit.V
			used = used || at.Set
		case "line":
			s.ClockUnit = unit.V
			used = used || unit.Set && !at.Seen
		}
		if s.ClockAt == "" && s.Form == "json" {
			s.ClockUnit = ""
		}
	}
	if at.Seen && !used {
		r.problem(at.at, "is for form = \"json\" alone: senml and line carry their time where their standard says, a number has none")
	} else if unit.Seen && !used {
		r.problem(unit.at, "has no number to go with it: give time-from with json, or leave it out")
	}
}

func kindNames() []string {
	var out []string
	for _, k := range alarms.ProbeKinds {
		if k != alarms.KindPlain {
			out = append(out, string(k))
		}
	}
	return out
}
