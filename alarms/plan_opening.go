package alarms

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// OpeningID names a door, a window or a lid; unique in a house.
type OpeningID string

// OpeningKind is what it is that people open and shut by hand.
type OpeningKind string

// Kinds of opening.
const (
	KindDoor   OpeningKind = "door"
	KindWindow OpeningKind = "window" // also a flap or vent in the roof
	KindLid    OpeningKind = "lid"    // of a cold frame or propagator
)

// OpeningKinds lists every kind.
var OpeningKinds = []OpeningKind{KindDoor, KindWindow, KindLid}

// HandOpening is a door, a window or the lid of a cold frame that people open and
// shut by hand, with a contact that shows which it is. It is told when it stands
// open where that harms: after ShutBy while it is cold, or while the place cools
// fast towards its low limit. Nothing is told while the house needs air.
type HandOpening struct {
	ID   OpeningID
	Name string // default its kind where the house has one of it, else the ID
	Kind OpeningKind
	// Place is where air of outside comes in: its temperature and its low limit say
	// whether that harms. An alarm of a temperature names the opening to shut, or to
	// open. That of a lid is of its place alone, others are of the whole house.
	Place PlaceID
	Probe ProbeID // its contact; shut when that is closed
	// Inverted says that it is shut when the contact is open.
	Inverted bool
	// ShutBy is when it should be shut where the night will be cold, after local
	// midnight, from noon on; 0: by sunset, or by the end of a day with fixed hours;
	// negative: it may stand open at night. It ends with the night.
	ShutBy time.Duration
	// Falls is how fast the place may cool while it is open and the low limit is
	// near, K an hour; default 4. With a limit of its own for how fast it falls a
	// place is told by that alone, until the low limit is close.
	Falls    float64
	Priority Priority // default Medium; High where the low limit is close, always
}

// defaultFalls, in K an hour. Common practice, no source.
const defaultFalls = 4

// Bounds of Falls, K an hour.
const LeastFalls, MostFalls = 0.5, 100.0

// EarliestShutBy is the earliest ShutBy: before noon a day has only begun.
const EarliestShutBy = 12 * time.Hour

// openingDefaults leaves nothing of the openings of h to default.
func (h *House) openingDefaults() {
	h.Openings = slices.Clone(h.Openings)
	alike := map[OpeningKind]int{}
	for _, o := range h.Openings {
		alike[o.Kind]++
	}
	for i := range h.Openings {
		o := &h.Openings[i]
		if alike[o.Kind] == 1 {
			o.Name = cmp.Or(o.Name, string(o.Kind))
		}
		o.Name = cmp.Or(o.Name, strings.ReplaceAll(string(o.ID), "-", " "))
		if o.Falls == 0 {
			o.Falls = defaultFalls
		}
		o.Priority = cmp.Or(o.Priority, Medium)
	}
}

// opening checks the i-th opening.
func (f *housed) opening(at Path, i int) {
	o := &f.house.Openings[i]
	oneOf(f.checker, at.to("kind"), o.Kind, OpeningKinds)
	f.warm(at.to("place"), o.Place)
	f.contact(at.to("probe"), o.Probe, "must measure a contact, which shows whether it is shut (got %q)")
	for _, before := range f.house.Openings[:i] {
		if before.Probe == o.Probe {
			f.fail(at.to("probe"), "shows opening %s already (%s): each needs a contact of its own (got %q)", before.ID, f.at.to("opening", string(before.ID)), o.Probe)
		}
	}
	if o.ShutBy > 0 && (o.ShutBy < EarliestShutBy || o.ShutBy >= wholeDay) {
		f.fail(at.to("shut-by"), "must be from 12:00 to 23:59 (got %s)", ofDay(o.ShutBy))
	}
	if o.Falls != 0 {
		f.within(at.to("fall-per-hour"), Amount{Temperature, o.Falls, true}, Amount{Temperature, LeastFalls, true}, Amount{Temperature, MostFalls, true})
	}
}
