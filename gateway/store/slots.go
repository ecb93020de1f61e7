package store

import (
	"encoding/binary"
	"errors"
	"math"
	"slices"
)

// A day's row holds up to 144 slots of 10 minutes. A slot is packed as its
// distance from the one before, the count, and then either an exponent and
// three whole numbers (minimum as the change from the slot before, maximum and
// mean as distances from the minimum), or rawExp and three floats. The mean is
// rounded to a thousandth of the readings' last decimal at least.
const (
	slotMillis  = 10 * 60 * 1000
	slotsPerDay = dayMillis / slotMillis
	meanDigits  = 1000
)

// slot is what happened in 10 minutes. Its number counts from midnight UTC.
type slot struct {
	number int
	extent
}

// daySum collects one stream's points of one UTC day.
type daySum struct {
	start int64 // ms
	slots [slotsPerDay]extent
}

func (d *daySum) add(p point) {
	if i := p.ms - d.start; i >= 0 && i < dayMillis {
		d.slots[i/slotMillis].add(p)
	}
}

// pack returns the whole day's extent and the packed slots.
func (d *daySum) pack() (whole extent, data []byte) {
	prevNumber, prevMin, guess := -1, int64(0), 0
	for i := range d.slots {
		e := d.slots[i]
		if e.n == 0 {
			continue
		}
		whole.join(e)
		data = binary.AppendUvarint(data, uint64(i-prevNumber-1))
		data = binary.AppendUvarint(data, uint64(e.n))
		data, prevMin, guess = packSlot(data, e, prevMin, guess)
		prevNumber = i
	}
	return whole, data
}

func packSlot(b []byte, e extent, prevMin int64, guess int) ([]byte, int64, int) {
	_, exp := decimal(e.min, guess)
	hi, exp := decimal(e.max, exp)
	lo, both := decimal(e.min, min(exp, maxExp))
	if exp == rawExp || both != exp {
		b = append(b, rawExp)
		return appendFloat(appendFloat(appendFloat(b, e.min), e.max), e.mean()), prevMin, guess
	}
	mean := int64(math.Round((e.mean()*pow10[exp] - float64(lo)) * meanDigits))
	b = appendZigzag(append(b, byte(exp)), lo-scale(prevMin, guess, exp))
	b = binary.AppendUvarint(b, uint64(hi-lo))
	return appendZigzag(b, mean), lo, exp
}

// scale brings a whole number from one exponent to a larger one.
func scale(i int64, from, to int) int64 {
	for ; from < to; from++ {
		i *= 10
	}
	return i
}

var errSlots = errors.New("10-minute values cannot be read")

// unpackSlots reads a day's slots back. first and last of each are its bounds.
func unpackSlots(data []byte, day int64) ([]slot, error) {
	c := cursor{b: data}
	var all []slot
	number, prevMin, guess := -1, int64(0), 0
	for len(c.b) > 0 {
		gap, n := c.uvarint(), c.uvarint()
		if gap >= slotsPerDay || n == 0 || n > math.MaxInt32 {
			return nil, errSlots
		}
		if number += int(gap) + 1; number >= slotsPerDay {
			return nil, errSlots
		}
		sl := slot{number: number}
		var mean float64
		switch exp := int(c.byte()); {
		case exp == rawExp:
			sl.min, sl.max, mean = c.float(), c.float(), c.float()
		case exp > rawExp || exp < guess:
			return nil, errSlots
		default:
			lo := c.zigzag() + scale(prevMin, guess, exp)
			sl.min, sl.max = fromDecimal(lo, exp), fromDecimal(lo+int64(c.uvarint()), exp)
			mean = (float64(lo) + float64(c.zigzag())/meanDigits) / pow10[exp]
			prevMin, guess = lo, exp
		}
		if c.err != nil {
			return nil, errSlots
		}
		sl.n, sl.sum = int(n), mean*float64(n)
		sl.first = day*dayMillis + int64(number)*slotMillis
		sl.last = sl.first + slotMillis - 1
		all = append(all, sl)
	}
	return slices.Clip(all), nil
}
