package say

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/walk"
)

// speaker says things of a plan in one locale.
type speaker struct {
	Locale
	plan *alarms.Plan
	gone *alarms.Names // how what the plan no longer has was called; nil: nothing
}

// called is how something is called that the plan does not have: as it was, else
// by its ID.
func called(id, was, name string) string {
	if id == was && name != "" {
		return name
	}
	return id
}

// house is the house of an ID, an empty one of that name where the plan has none.
func (s *speaker) house(id alarms.HouseID) *alarms.House {
	if h := s.plan.House(id); h != nil {
		return h
	}
	h := &alarms.House{ID: id, Name: string(id), Day: alarms.DayRule{Zone: s.Zone}}
	if g := s.gone; g != nil {
		h.Name = called(h.Name, g.House.ID, g.House.Name)
	}
	return h
}

// place is a place of h, an empty one where it has none of that ID.
func (s *speaker) place(h *alarms.House, id alarms.PlaceID) *alarms.Place {
	if p := h.Place(id); p != nil {
		return p
	}
	p := &alarms.Place{ID: id, Name: string(id)}
	if g := s.gone; g != nil {
		p.Name = called(p.Name, g.Place.ID, g.Place.Name)
	}
	return p
}

// probe is what a probe is called.
func (s *speaker) probe(id alarms.ProbeID) string {
	for i := range s.plan.Houses {
		for j := range s.plan.Houses[i].Places {
			for _, p := range s.plan.Houses[i].Places[j].Probes {
				if p.ID == id {
					return p.Name
				}
			}
		}
	}
	if g := s.gone; g != nil {
		return called(string(id), string(g.Probe.ID), g.Probe.Name)
	}
	return string(id)
}

// measuring is how many probes of p measure q.
func measuring(p *alarms.Place, q alarms.Quantity) (n int) {
	for i := range p.Probes {
		for _, st := range p.Probes[i].Streams {
			if st.Quantity == q {
				n++
			}
		}
	}
	return n
}

// circuit says "circuit" of a circuit of h unless its name does.
func (s *speaker) circuit(h *alarms.House, id alarms.CircuitID) string {
	name := string(id)
	if g := s.gone; g != nil {
		name = called(name, g.Circuit.ID, g.Circuit.Name)
	}
	if c := h.Circuit(id); c != nil {
		name = c.Name
	}
	if strings.Contains(strings.ToLower(name), s.say("circuit")) {
		return name
	}
	return s.say("circuit %s", name)
}

// drive is a drive of h, an empty one where it has none of that ID.
func (s *speaker) drive(h *alarms.House, id alarms.DriveID) *alarms.Drive {
	if d := h.Drive(id); d != nil {
		return d
	}
	d := &alarms.Drive{ID: id, Name: string(id)}
	if g := s.gone; g != nil {
		d.Name = called(d.Name, g.Drive.ID, g.Drive.Name)
	}
	return d
}

// control is what a thermostat of h is called.
func (s *speaker) control(h *alarms.House, id alarms.ControlID) string {
	if c := walk.Find(h.Controls, func(c *alarms.Control) bool { return c.ID == id }); c != nil {
		return c.Name
	}
	if g := s.gone; g != nil {
		return called(string(id), g.Control.ID, g.Control.Name)
	}
	return string(id)
}

// opening is an opening of h, an empty one where it has none of that ID.
func (s *speaker) opening(h *alarms.House, id alarms.OpeningID) *alarms.HandOpening {
	if o := walk.Find(h.Openings, func(o *alarms.HandOpening) bool { return o.ID == id }); o != nil {
		return o
	}
	if g := s.gone; g != nil && g.Opening != nil && g.Opening.ID == id {
		return g.Opening
	}
	return &alarms.HandOpening{ID: id, Name: string(id)}
}

// exposure is an exposure of p, nil where it has none of that ID.
func (s *speaker) exposure(p *alarms.Place, id alarms.ExposureID) *alarms.Exposure {
	if x := walk.Find(p.Exposures, func(x *alarms.Exposure) bool { return x.ID == id }); x != nil {
		return x
	}
	if g := s.gone; g != nil && g.Exposure != nil && g.Exposure.ID == id {
		return g.Exposure
	}
	return nil
}

// where names house and place: "Long House, bench".
func (s *speaker) where(o *alarms.Subject) string {
	switch {
	case o.Place != "":
		h := s.house(o.House)
		return h.Name + ", " + s.place(h, o.Place).Name
	case o.House != "":
		return s.house(o.House).Name
	}
	return s.say("The watch")
}

// withThe puts the article before a name that has none.
func (s *speaker) withThe(name string) string {
	return s.say("the %s", strings.TrimPrefix(name, "the "))
}

func capital(s string) string {
	if s == "" {
		return s
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

func (s *speaker) isOrAre(names []string) string {
	if len(names) == 1 {
		return s.say("is|one thing")
	}
	return s.say("are|several")
}

// list writes names as a person lists them.
func (m Locale) list(names []string) string {
	n := len(names)
	if n < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:n-1], ", ") + m.say(" and ") + names[n-1]
}

func (s *speaker) orSomebody(name string) string {
	if name == "" {
		return s.say("Somebody")
	}
	return s.Who(name)
}

func because(note string) string {
	if note == "" {
		return ""
	}
	return " (" + note + ")"
}
