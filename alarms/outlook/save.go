package outlook

import (
	"errors"
	"math"

	"telltale/alarms/tape"
)

// form is the first byte of what is saved; it changes with what follows.
const form = 1

// spare are the lowest bits of a number, which are not kept: 16 of its binary
// digits are.
const spare = 8

// short is what is kept of a number, in memory as where it is saved.
func short(v float64) float32 {
	return math.Float32frombits((math.Float32bits(float32(v)) + 1<<(spare-1)) &^ (1<<spare - 1))
}

// Save returns all that a Course knows, but for where it is, in about 1.9 kB.
func (c *Course) Save() []byte {
	t := shorter{tape.Tape{Data: make([]byte, 0, 3000)}}
	c.pass(&t)
	return t.Data
}

// Load brings it back into a Course that New made. What it cannot read
// leaves the Course as it is.
func (c *Course) Load(data []byte) error {
	t, fresh := shorter{tape.Read(data)}, *c
	fresh.pass(&t)
	if t.Bad || len(t.Data) > 0 {
		return errors.New("outlook: what was saved is not of this form")
	}
	*c = fresh
	return nil
}

// shorter is a tape on which numbers are as short as they are kept.
type shorter struct{ tape.Tape }

// pass is the one order in which all is written and read.
func (c *Course) pass(t *shorter) {
	kind := uint64(form)
	t.Bits(&kind, 1)
	t.Bad = t.Bad || kind != form
	for _, v := range []*int64{&c.wall, &c.last, &c.heard} {
		t.Int(v)
	}
	for _, v := range []*uint16{&c.whole, &c.day} {
		u := uint64(*v)
		t.Bits(&u, 2)
		*v = uint16(u)
	}
	t.Double(&c.now)
	t.Bad = t.Bad || c.now-c.now != 0
	for _, v := range []*float32{&c.high, &c.low, &c.every} {
		t.float(v)
	}
	t.Trail(c.past.values[:])
	t.Trail(c.past.high[:])
	t.Trail(c.past.low[:])
	t.floats(c.model.upper[:])
	t.floats(c.model.diagonal[:])
	for side := range sides {
		t.floats(c.model.size[side][:])
		for h := range horizons {
			t.floats(c.model.weights[side][h][:])
			r := &c.records[side][h]
			for i := range r.loss {
				t.floats(r.quantiles[i][:])
				t.floats(r.loss[i][:])
			}
			t.floats(r.stretch[:])
			t.float(&c.likely[side][h].shift)
			t.float(&c.likely[side][h].slope)
			for i := range c.sizes {
				t.floats(c.sizes[i][side][h][:])
			}
		}
	}
	t.floats(c.peak[:])
	t.floats(c.usual[:])
	t.float(&c.learned)
	t.floats(c.unseen[:])
}

func (t *shorter) floats(all []float32) {
	for i := range all {
		t.float(&all[i])
	}
}

func (t *shorter) float(v *float32) {
	u := uint64(math.Float32bits(*v)) >> spare
	t.Bits(&u, 3)
	*v = math.Float32frombits(uint32(u) << spare)
	t.Bad = t.Bad || *v-*v != 0
}
