package dayahead

import (
	"errors"

	"telltale/alarms/tape"
)

// form is the first byte of what is saved; it changes with what follows.
const form = 1

// Save returns all that a Course knows, but for where it is, in about 0.6 kB.
func (c *Course) Save() []byte {
	t := tape.Tape{Data: make([]byte, 0, 650)}
	c.state.pass(&t)
	return t.Data
}

// Load brings it back into a Course that New made. What it cannot read
// leaves the Course as it is.
func (c *Course) Load(data []byte) error {
	t := tape.Read(data)
	var s state
	s.pass(&t)
	if t.Bad || len(t.Data) > 0 {
		return errors.New("dayahead: what was saved is not of this form")
	}
	c.state = s
	return nil
}

// pass is the one order in which all is written and read.
func (s *state) pass(t *tape.Tape) {
	kind := uint64(form)
	t.Bits(&kind, 1)
	t.Bad = t.Bad || kind != form
	t.Int(&s.Heard)
	t.Int(&s.Ahead)
	t.Float(&s.Now)
	t.Float(&s.Mean)
	t.Bool(&s.Span.Night)
	t.Int(&s.Span.Since)
	t.Int(&s.Span.Until)
	t.Int(&s.Past.Slot)
	t.Bool(&s.Past.Night)
	t.Trail(s.Past.Values[:])
	t.Trail(s.Past.Extreme[:])
	for i := range s.Asked {
		a := &s.Asked[i]
		t.Bool(&a.Open)
		for _, v := range []*int16{&a.Yesterday, &a.Rise, &a.Mean, &a.MeanRise, &a.Now, &a.Since} {
			t.Short(v)
		}
	}
	for half := range s.Records {
		for i := range s.Records[half] {
			s.Records[half][i].pass(t)
		}
	}
}

func (r *record) pass(t *tape.Tape) {
	t.Float(&r.Days)
	for i := range r.Errors {
		u := uint64(r.Errors[i])
		t.Bits(&u, 2)
		r.Errors[i] = uint16(u)
	}
	for _, v := range []*float32{&r.Off, &r.XY, &r.XX, &r.Low, &r.High} {
		t.Float(v)
	}
	t.Bad = t.Bad || r.XX <= 0 // what is divided by
}
