package config

import (
	"cmp"
	"fmt"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/decode"
)

// probeSite is a probe with its table.
type probeSite struct {
	t       *table
	where   value[string] // house/place
	probe   alarms.Probe
	sources []decode.Source
	reads   []readSite
}

// readSite is one quantity of a probe with its place in the file.
type readSite struct {
	t      *table
	topic  value[string]
	form   decode.Form
	read   decode.Read
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

func readProbes(root *table) []*probeSite {
	out := walk.Each(root.children("probe"), readProbe)
	if len(out) == 0 && !root.bare() {
		root.problem(root.spot("probe"), "is missing: without a probe nothing is watched; add one, for example [probe.bench-1]")
	}
	return out
}

func readProbe(t *table) *probeSite {
	defer t.done()
	t.checkID("a probe")
	site := &probeSite{t: t, where: need(t, t.text("place"), "say where the probe hangs, as house/place")}
	p := &site.probe
	p.ID, p.Name = alarms.ProbeID(t.name), t.text("name").or(t.name)
	p.Kind = wordOf(t, "kind", alarms.ProbeKinds[1:]).V // the first is what need not be said
	p.Circuit = alarms.CircuitID(t.text("circuit").V)
	p.Every = t.span("every", time.Second, day).V
	p.MissesAllowed = t.number("misses-allowed", 1, 100, tongue.Text("intervals")).V
	p.Priority = t.priority("priority")
	topic, form := t.filter("topic"), wordOf(t, "form", decode.Forms)
	clockAt, clockUnit := t.text("time-from"), wordOf(t, "time-unit", decode.TimeUnits)
	for _, q := range alarms.Quantities {
		if sub := t.table(string(q)); sub.seen {
			site.add(readQuantity(sub, q, topic, form))
		}
	}
	if len(site.reads) == 0 {
		t.problem(t.at, "measures nothing: add a table for each quantity, for example [%s.temperature]", t.at.path)
	}
	site.group()
	site.clock(clockAt, clockUnit)
	return site
}

func (p *probeSite) add(one readSite) {
	p.reads = append(p.reads, one)
	p.probe.Streams = append(p.probe.Streams, one.stream)
}

// readQuantity reads one quantity of a probe. Topic and form are the probe's unless
// the quantity has its own.
func readQuantity(t *table, q alarms.Quantity, topic value[string], form value[decode.Form]) readSite {
	defer t.done()
	out := readSite{t: t, topic: topic, form: form.or(decode.Number)}
	if own := t.filter("topic"); own.Seen {
		out.topic = own
	}
	if own := wordOf(t, "form", decode.Forms); own.Set {
		out.form = own.V
	}
	if !out.topic.Seen {
		t.problem(t.at, "has no topic: give it one here, or give the probe one")
	}
	out.read = readValue(t, q, out.form)
	out.vague = t.r.told(t.spot("from"))
	out.stream = readStream(t, q)
	return out
}

// keyOf are the keys by which a Read's fields are written.
var keyOf = map[decode.Field]string{decode.FieldAt: "from", decode.FieldUnit: "unit", decode.FieldFactor: "factor", decode.FieldInverted: "inverted"}

func readValue(t *table, q alarms.Quantity, form decode.Form) decode.Read {
	factor := t.number("factor", -1e6, 1e6, "")
	read := decode.Read{Quantity: q, At: t.from(), Measurement: t.text("measurement").V, Tags: readTags(t), Unit: t.text("unit").V,
		Factor: factor.V, Inverted: t.flag("inverted").V, Optional: t.flag("optional").V}
	if factor.Set && factor.V == 0 {
		t.problem(factor.at, "must not be 0: every reading would be 0")
	}
	for _, w := range read.Check(form) {
		at := t.at
		if key, own := keyOf[w.Field]; own {
			at = t.spot(key)
		}
		if !t.r.told(at) {
			t.wrong(at, w.Err)
		}
	}
	return read
}

// from reads where in the payload a value stands; empty is the whole of it.
func (t *table) from() string {
	return read(t, "from", func(raw any) (string, error) {
		s, ok := raw.(string)
		if !ok {
			return "", tongue.Put("must be text in quotes (got %s)", got(raw))
		}
		return s, nil
	}).V
}

func readTags(t *table) map[string]string {
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

// readStream reads how the readings of q are believed.
func readStream(t *table, q alarms.Quantity) alarms.Stream {
	f := q.Facts()
	lo, hi := 5*f.Lowest-4*f.Highest, 5*f.Highest-4*f.Lowest
	s := alarms.Stream{Quantity: q}
	s.Min, s.Max = limit(t.amount("min", q, lo, hi)), limit(t.amount("max", q, lo, hi))
	s.Offset = t.step("offset", q, -width(q), width(q), "").V
	s.Jump = t.jump(q)
	s.StuckFor = t.spanOr("stuck-after", "never", 10*time.Minute, 60*day).V
	weak := t.number("weak-below", f.Lowest, f.Highest, f.Unit)
	s.Weak = limit(weak)
	if weak.Seen && !f.Weak.Set {
		t.problem(weak.at, "is for battery and signal alone; limits of %s belong to the place", q)
	}
	return s
}

// jump reads the largest believable step, or "any".
func (t *table) jump(q alarms.Quantity) float64 {
	if t.keys["jump"] == any("any") {
		t.ask("jump")
		return -1
	}
	return t.step("jump", q, 0.01, width(q), "").V
}

// group makes the sources: one for each topic and form.
func (p *probeSite) group() {
	for _, one := range p.reads {
		if !one.topic.Set {
			continue
		}
		i := p.source(one)
		if one.form == decode.Number && len(p.sources[i].Reads) > 0 {
			one.t.problem(one.t.at, "a plain number carries one quantity, and %s is read from the topic %q already; give each its own topic or another form",
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
	p.sources = append(p.sources, decode.Source{Probe: p.probe.ID, Filter: one.topic.V, Form: one.form,
		Where: fmt.Sprintf("%s:%d", p.t.r.file, p.t.at.line)})
	return len(p.sources) - 1
}

// clock spreads the probe's clock over the sources that can have one.
func (p *probeSite) clock(at value[string], unit value[decode.TimeUnit]) {
	var used decode.Clock
	for i := range p.sources {
		s := &p.sources[i]
		s.Clock = decode.Clock{At: at.V, Unit: unit.V}.For(s.Form)
		used.At, used.Unit = cmp.Or(used.At, s.Clock.At), cmp.Or(used.Unit, s.Clock.Unit)
	}
	if err := (decode.Clock{At: at.V}).Check(decode.JSON); err != nil {
		p.t.wrong(at.at, err)
	}
	if at.Set && used.At == "" {
		p.t.problem(at.at, "is for form = \"json\" alone: senml and line carry their time where their standard says, a number has none")
	} else if unit.Set && used.Unit == "" {
		p.t.problem(unit.at, "has no number to go with it: give time-from with json, or leave it out")
	}
}
