// Package tape is bytes that are written or read, one value after the other: with one
// order for both, what is saved small cannot be read otherwise than it was written.
package tape

import (
	"encoding/binary"
	"math"
)

// Tape is written, or read if it was made by Read.
type Tape struct {
	Data  []byte
	Bad   bool // what was read is too short, or no number
	reads bool
}

// Read returns a tape to read from.
func Read(data []byte) Tape { return Tape{Data: data, reads: true} }

// Bits passes the lowest bytes of a number, the lowest first.
func (t *Tape) Bits(v *uint64, bytes int) {
	if !t.reads {
		for i := range bytes {
			t.Data = append(t.Data, byte(*v>>(8*i)))
		}
		return
	}
	if len(t.Data) < bytes {
		t.Data, t.Bad = nil, true
		return
	}
	*v = 0
	for i, b := range t.Data[:bytes] {
		*v |= uint64(b) << (8 * i)
	}
	t.Data = t.Data[bytes:]
}

// Bool passes a yes or no, in a byte.
func (t *Tape) Bool(v *bool) {
	u := uint64(0)
	if *v {
		u = 1
	}
	t.Bits(&u, 1)
	*v = u == 1
	t.Bad = t.Bad || u > 1
}

// Trail passes whole numbers each of which is near the one before it, mostly in a byte
// each: the differences, as variable-length integers.
func (t *Tape) Trail(all []int16) {
	last := int64(0)
	for i := range all {
		by := int64(all[i]) - last
		t.Varint(&by)
		last += by
		t.Bad = t.Bad || last != int64(int16(last))
		all[i] = int16(last)
	}
}

// Varint passes a whole number, the nearer to none the shorter, as encoding/binary has it.
func (t *Tape) Varint(v *int64) {
	if !t.reads {
		t.Data = binary.AppendVarint(t.Data, *v)
		return
	}
	got, n := binary.Varint(t.Data)
	if n <= 0 {
		t.Data, t.Bad = nil, true
		return
	}
	*v, t.Data = got, t.Data[n:]
}

// Short passes a whole number of two bytes.
func (t *Tape) Short(v *int16) {
	u := uint64(uint16(*v))
	t.Bits(&u, 2)
	*v = int16(uint16(u))
}

// Floats passes numbers in single precision.
func (t *Tape) Floats(all []float32) {
	for i := range all {
		t.Float(&all[i])
	}
}

// Float passes a number in single precision.
func (t *Tape) Float(v *float32) {
	u := uint64(math.Float32bits(*v))
	t.Bits(&u, 4)
	*v = math.Float32frombits(uint32(u))
	t.Bad = t.Bad || *v-*v != 0
}

// Double passes a number.
func (t *Tape) Double(v *float64) {
	u := math.Float64bits(*v)
	t.Bits(&u, 8)
	*v = math.Float64frombits(u)
	t.Bad = t.Bad || math.IsNaN(*v)
}

// Int passes a whole number.
func (t *Tape) Int(v *int64) {
	u := uint64(*v)
	t.Bits(&u, 8)
	*v = int64(u)
}
