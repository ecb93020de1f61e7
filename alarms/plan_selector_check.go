package alarms

import "slices"

func (f *fitting) selector(s *Selector) {
	f.claimPart("a selector", string(s.ID))
	who := "selector " + string(s.ID)
	if len(s.Positions) < 2 {
		f.fail("%s: %s needs two positions or more (got %d)", f.where, who, len(s.Positions))
		return
	}
	var names []string
	for i := range s.Positions {
		p := &s.Positions[i]
		if p.Name == "" || slices.Contains(names, p.Name) {
			f.fail("%s: %s: each position needs a name of its own (got %q)", f.where, who, p.Name)
		}
		names = append(names, p.Name)
		f.known(who+", position "+p.Name, p.drives()...)
		f.sameDrives(who, &s.Positions[0], p)
	}
	if s.At != "" && !slices.Contains(names, s.At) {
		f.fail("%s: %s starts in position %q, which it does not have", f.where, who, s.At)
	}
	f.covered(who, s)
	f.loopByHand(who, s)
	f.teller(who, s)
	for _, id := range s.Positions[0].drives() {
		if other, taken := f.taken[id]; taken && other != s.ID {
			f.fail("%s: drive %s hangs on selector %s and on selector %s", f.where, id, other, s.ID)
		}
		f.taken[id] = s.ID
	}
}

// drives are all drives that a position says something of.
func (p *Position) drives() []DriveID { return slices.Concat(p.Follow, p.On, p.Off) }

// sameDrives demands that p says of each drive of the first position what
// becomes of it, and of no other.
func (f *fitting) sameDrives(who string, first, p *Position) {
	for _, pair := range [2][2]*Position{{first, p}, {p, first}} {
		says := pair[1].drives()
		for _, id := range pair[0].drives() {
			if !slices.Contains(says, id) {
				f.fail("%s: %s: position %s does not say what becomes of drive %s", f.where, who, pair[1].Name, id)
			}
		}
	}
}

// teller checks what tells the position: a contact, the season or nothing.
func (f *fitting) teller(who string, s *Selector) {
	var seasons []Season
	closed := 0
	for i := range s.Positions {
		seasons = append(seasons, s.Positions[i].Seasons...)
		if s.Positions[i].Closed {
			closed++
		}
	}
	switch {
	case s.Probe != "" && len(seasons) > 0:
		f.fail("%s: %s is told by probe %s and by the season: one of them is enough", f.where, who, s.Probe)
	case s.Probe != "" && !f.reads[streamKey{s.Probe, Contact}]:
		f.fail("%s: %s is told by probe %q, which is no contact of the house", f.where, who, s.Probe)
	case s.Probe != "" && (len(s.Positions) != 2 || closed != 1):
		f.fail("%s: %s is told by a contact, so it has two positions and one of them is closed (got %d and %d)", f.where, who,
			len(s.Positions), closed)
	case s.Probe == "" && closed > 0:
		f.fail("%s: %s has a position with a closed contact and no probe", f.where, who)
	case len(seasons) > 0 && len(seasons) < len(Seasons):
		f.fail("%s: %s is told by the season, so each of %q needs its position", f.where, who, Seasons)
	}
	f.seasons(who, seasons)
}
