package thermal

import (
	"errors"

	"telltale/alarms/tape"
)

// form is the first byte of what is saved; it changes with what follows.
const form = 1

// Save returns all that a House knows, but for where it is, in about 1.6 kB.
func (h *House) Save() []byte {
	t := tape.Tape{Data: make([]byte, 0, 1700)}
	h.pass(&t)
	return t.Data
}

// Load brings it back into a House that New made. What it cannot read leaves
// the House as it is.
func (h *House) Load(data []byte) error {
	t := tape.Read(data)
	fresh := *h
	fresh.pass(&t)
	if t.Bad || len(t.Data) > 0 {
		return errors.New("thermal: what was saved is not of this form")
	}
	*h = fresh
	return nil
}

// pass is the one order in which all is written and read.
func (h *House) pass(t *tape.Tape) {
	kind := uint64(form)
	t.Bits(&kind, 1)
	t.Bad = t.Bad || kind != form
	f := &h.f
	for i := range f.x {
		t.Double(&f.x[i])
	}
	t.Floats(f.p[:])
	for _, v := range []*float32{&f.rough, &f.usual, &h.brightest, &h.learned} {
		t.Float(v)
	}
	for _, v := range []*float64{&h.day.mean, &h.day.cos, &h.day.sin, &h.sun} {
		t.Double(v)
	}
	t.Int(&h.at)
	t.Int(&h.wall)
	t.Int(&h.heard)
	t.Floats(h.ran[:])
	t.Floats(h.stood[:])
	t.Floats(h.stops[:])
	for d := range drives {
		t.Double(&h.share[d])
		t.Double(&h.usual[d])
		h.trials[d].pass(t)
		for i := range h.errors[d] {
			h.errors[d][i].pass(t)
		}
	}
	t.Float(&h.cold)
	t.Float(&h.today.heard)
	t.Floats(h.today.ran[:])
	t.Floats(h.today.stood[:])
	for _, v := range []*float64{&h.inside.mean, &h.inside.cos, &h.inside.sin} {
		t.Double(v)
	}
}

func (r *trial) pass(t *tape.Tape) {
	next := uint64(r.next)
	t.Bool(&r.on)
	t.Bool(&r.stopped)
	t.Bits(&next, 1)
	t.Bad = t.Bad || next > marks
	r.next = int(min(next, marks))
	t.Int(&r.at)
	t.Int(&r.until)
	t.Double(&r.air)
	t.Double(&r.last)
	t.Floats(r.told[:])
}

func (s *spread) pass(t *tape.Tape) {
	t.Floats(s.q[:])
	t.Float(&s.size)
	t.Float(&s.n)
}
