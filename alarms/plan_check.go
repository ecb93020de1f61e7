package alarms

import (
	"slices"
	"strings"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// Check returns everything that makes p impossible to judge by. New refuses what
// it finds.
func (p Plan) Check() []Problem {
	c := &checker{}
	for i := range p.Houses {
		h := &p.Houses[i]
		at := Path{"house", string(h.ID)}
		c.name(at, "a house", string(h.ID), "watch")
		for _, before := range p.Houses[:i] {
			if before.ID == h.ID {
				c.fail(at, "is the name of two houses: names must differ")
			}
		}
		c.house(at, h)
	}
	return c.found
}

type checker struct {
	found  []Problem
	probes []ProbeID // so far
}

// fail adds a problem, which may yet be completed.
func (c *checker) fail(at Path, text tongue.Text, args ...any) *Problem {
	c.found = append(c.found, Problem{At: at, Text: text, Args: args})
	return &c.found[len(c.found)-1]
}

func (p *Problem) rests(on ...Path) { p.Rests = append(p.Rests, on...) }

// reserved are the last words of alarm names.
var reserved = []string{"silent", "unwatched", "low", "high", "rising", "falling", "broker", "restart"}

// Reserved reports whether nothing may have the name id, since alarms have it.
func Reserved(id string) bool { return slices.Contains(reserved, id) || Quantity(id).reserved() }

// name demands that alarms and links can be named after id.
func (c *checker) name(at Path, what tongue.Text, id string, more ...string) {
	switch {
	case !IsName(id):
		c.fail(at, "the name of %s must be lower-case words joined by hyphens, such as \"north-bench\" (got %q)", what, id)
	case Quantity(id).reserved():
		c.fail(at, "%s must not be named like a quantity, because alarms are named after both (got %q)", what, id)
	case Reserved(id) || slices.Contains(more, id):
		c.fail(at, "%s must not be named %q: the watch uses that word for its own alarms", what, id)
	}
}

// IsName reports whether s is lower-case words joined by hyphens, 64 letters at most.
func IsName(s string) bool {
	for w := range strings.SplitSeq(s, "-") {
		if w == "" || strings.Trim(w, "abcdefghijklmnopqrstuvwxyz0123456789") != "" {
			return false
		}
	}
	return len(s) <= 64
}

// oneOf demands that got is one of all.
func oneOf[K ~string](c *checker, at Path, got K, all []K) bool {
	if slices.Contains(all, got) {
		return true
	}
	c.fail(at, "must be %s (got %q)", Either(all), got)
	return false
}

// within demands that v is from lo to hi.
func (c *checker) within(at Path, v, lo, hi Amount) {
	if !(v.Value >= lo.Value && v.Value <= hi.Value) {
		c.fail(at, "must be from %s to %s (got %s)", lo, hi, v)
	}
}

// between demands that a figure of no quantity is from lo to hi.
func (c *checker) between(at Path, v, lo, hi float64, unit string) {
	if !(v >= lo && v <= hi) {
		c.fail(at, "must be from %v to %v%s (got %v)", lo, hi, unit, v)
	}
}

// housed is what the checks of one house know.
type housed struct {
	*checker
	house *House
	at    Path
	names []owned
	taken map[DriveID]SelectorID // drives that hang on a selector
}

// owned is a name that alarms are named after.
type owned struct {
	id   string
	what tongue.Text
	at   Path
}

func (c *checker) house(at Path, h *House) {
	f := &housed{checker: c, house: h, at: at, taken: map[DriveID]SelectorID{}}
	for i := range h.Circuits {
		ci := &h.Circuits[i]
		at := f.part("a circuit", "circuit", string(ci.ID))
		f.witness(at, ci)
		f.fedBy(at, ci)
	}
	for i := range h.Places {
		f.place(f.part("a place", "place", string(h.Places[i].ID), "season"), &h.Places[i])
	}
	for i := range h.Controls {
		f.control(f.part("a control", "control", string(h.Controls[i].ID), "season"), &h.Controls[i])
	}
	for i := range h.Drives {
		f.drive(f.part("a drive", "drive", string(h.Drives[i].ID), "season"), &h.Drives[i])
	}
	for i := range h.Selectors {
		f.selector(f.part("a selector", "selector", string(h.Selectors[i].ID), "season"), i)
	}
	for i := range h.Openings {
		f.opening(f.part("an opening", "opening", string(h.Openings[i].ID), "season"), i)
	}
	f.loop()
}

// part takes the name of a part of the house that alarms are named after, and
// returns where that part is. What is said of it, with an article.
func (f *housed) part(what tongue.Text, key, id string, more ...string) Path {
	at := f.at.to(key, id)
	f.name(at, what, id, more...)
	if i := slices.IndexFunc(f.names, func(o owned) bool { return o.id == id }); i >= 0 {
		f.fail(at, "%s of this house has the same name (%s); alarms are named after both, so rename one", f.names[i].what, f.names[i].at)
		return at
	}
	f.names = append(f.names, owned{id, what, at})
	return at
}

func (f *housed) place(at Path, p *Place) {
	for _, q := range Quantities {
		f.bands(at, p, q)
	}
	for i := range p.Bands {
		if b := &p.Bands[i]; !b.Quantity.Facts().Limited {
			f.fail(at.to(string(b.Quantity)), "takes no limits; they are for %s", listing(having(func(f Facts) bool { return f.Limited })))
		}
	}
	for i := range p.Rates {
		f.rate(at.to(string(p.Rates[i].Quantity)), p, &p.Rates[i])
	}
	f.exposures(at, p)
	for i := range p.Probes {
		f.probe(&p.Probes[i])
	}
}

func (f *housed) probe(p *Probe) {
	at := Path{"probe", string(p.ID)}
	f.name(at, "a probe", string(p.ID))
	if slices.Contains(f.probes, p.ID) {
		f.fail(at, "is the name of two probes: names must differ")
	}
	f.probes = append(f.probes, p.ID)
	f.circuit(at.to("circuit"), p.Circuit)
	if len(p.Streams) == 0 {
		f.fail(at, "measures nothing")
	}
	for i, st := range p.Streams {
		at := at.to(string(st.Quantity))
		switch {
		case st.Quantity.Derived():
			f.fail(at, "is worked out from temperature and humidity; no probe may claim it")
		case !oneOf(f.checker, at, st.Quantity, Quantities):
		case slices.ContainsFunc(p.Streams[:i], func(o Stream) bool { return o.Quantity == st.Quantity }):
			f.fail(at, "is claimed twice by this probe")
		case st.Min.Set && st.Max.Set && !(st.Max.Value > st.Min.Value):
			f.fail(at.to("max"), "must be above min (got %s, min is %s)", Amount{st.Quantity, st.Max.Value, false}, Amount{st.Quantity, st.Min.Value, false})
		}
	}
}

// circuit demands that the house has a circuit that is named.
func (f *housed) circuit(at Path, id CircuitID) bool {
	if id == "" || f.house.Circuit(id) != nil {
		return true
	}
	known := walk.Each(f.house.Circuits, func(c Circuit) CircuitID { return c.ID })
	f.fail(at, "is no circuit of house %s (got %q)%s", f.house.ID, id, choice(id, known))
	return false
}

// fedBy demands that what feeds ci is another circuit of the house, which is itself
// fed by none.
func (f *housed) fedBy(at Path, ci *Circuit) {
	at = at.to("fed-by")
	if ci.FedBy == "" || !f.circuit(at, ci.FedBy) {
		return
	}
	switch by := f.house.Circuit(ci.FedBy); {
	case by.ID == ci.ID:
		f.fail(at, "must name another circuit (got %q, which is this one)", by.ID)
	case by.FedBy != "":
		f.fail(at, "must name a circuit that is itself fed by none (got %q, which is fed by %q, %s): name what feeds both, or leave one out",
			by.ID, by.FedBy, f.at.to("circuit", string(by.ID), "fed-by"))
	}
}

// witness demands that the witness of ci hangs on it and measures what should show
// that it has no power.
func (f *housed) witness(at Path, ci *Circuit) {
	zero := at.to("witness-zero")
	if ci.Witness == "" {
		if ci.Zero != "" {
			f.fail(zero, "needs a witness: name the probe, witness = \"plug-1\"").rests(at.to("witness"))
		}
		return
	}
	at = at.to("witness")
	pr := f.probeNamed(at, ci.Witness)
	switch {
	case pr == nil:
	case pr.Circuit != "" && pr.Circuit != ci.ID:
		f.fail(at, "must hang on this circuit (got %q, which is on %s, %s)", pr.ID, pr.Circuit, Path{"probe", string(pr.ID), "circuit"})
	case ci.Zero != "" && !pr.Gives(ci.Zero):
		f.fail(zero, "is not measured by probe %s (got %q); it measures %s", pr.ID, ci.Zero, pr.measuring())
	}
}

// probeNamed demands that id is a probe of the house.
func (f *housed) probeNamed(at Path, id ProbeID) *Probe {
	var known []ProbeID
	for i := range f.house.Places {
		for j := range f.house.Places[i].Probes {
			pr := &f.house.Places[i].Probes[j]
			if pr.ID == id {
				return pr
			}
			known = append(known, pr.ID)
		}
	}
	f.fail(at, "is no probe of house %s (got %q)%s", f.house.ID, id, choice(id, known))
	return nil
}

// measuredBy demands that probe is one of the house and measures q.
func (f *housed) measuredBy(at Path, probe ProbeID, q Quantity) {
	if pr := f.probeNamed(at.to("probe"), probe); pr != nil && !pr.Gives(q) {
		f.fail(at.to("quantity"), "is not measured by probe %s (got %q); it measures %s", probe, q, pr.measuring()).rests(at.to("probe"))
	}
}

// contact demands that probe, if it is one of the house, measures a contact; text says
// what for.
func (f *housed) contact(at Path, probe ProbeID, text tongue.Text) {
	if pr := f.probeNamed(at, probe); pr != nil && !pr.Gives(Contact) {
		f.fail(at, text, probe)
	}
}

// warm demands that id is a place of the house at which temperature is measured.
func (f *housed) warm(at Path, id PlaceID) {
	if p := f.placeNamed(at, id); p != nil && !p.Sees(Temperature) {
		f.fail(at, "needs a probe that measures temperature there (got %q)", id)
	}
}

// placeNamed demands that id is a place of the house.
func (f *housed) placeNamed(at Path, id PlaceID) *Place {
	p := f.house.Place(id)
	if p == nil {
		known := walk.Each(f.house.Places, func(p Place) PlaceID { return p.ID })
		f.fail(at, "is no place of house %s (got %q)%s", f.house.ID, id, choice(id, known))
	}
	return p
}

// Sees reports whether q is measured at p or follows from what is.
func (p *Place) Sees(q Quantity) bool {
	if q.Derived() {
		return !slices.ContainsFunc(q.Facts().From, func(of Quantity) bool { return !p.Sees(of) })
	}
	return slices.ContainsFunc(p.Probes, func(pr Probe) bool { return pr.Gives(q) })
}

// Gives reports whether p measures q.
func (p *Probe) Gives(q Quantity) bool {
	return slices.ContainsFunc(p.Streams, func(st Stream) bool { return st.Quantity == q })
}

// measuring lists what p measures.
func (p *Probe) measuring() string {
	return strings.Join(walk.Each(p.Streams, func(s Stream) string { return string(s.Quantity) }), ", ")
}

// seasons demands that each of the seasons of a list is one, and named once.
func (f *housed) seasons(at Path, key string, all []Season) {
	for i, s := range all {
		if at := at.nth(key, i); oneOf(f.checker, at, s, Seasons) && slices.Contains(all[:i], s) {
			f.fail(at, "is named twice (got %q)", s)
		}
	}
}

func (h *House) driveIDs() []DriveID {
	return walk.Each(h.Drives, func(d Drive) DriveID { return d.ID })
}

// drivesNamed demands that each of a list is a drive of the house, and named once.
func (f *housed) drivesNamed(at Path, key string, all []DriveID) {
	known := f.house.driveIDs()
	for i, id := range all {
		switch at := at.nth(key, i); {
		case !slices.Contains(known, id):
			f.fail(at, "is no drive of house %s (got %q)%s", f.house.ID, id, choice(id, known))
		case slices.Contains(all[:i], id):
			f.fail(at, "is named twice (got %q)", id)
		}
	}
}
