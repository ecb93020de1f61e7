package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// point is one reading in the history: ms is its history time.
type point struct {
	ms    int64
	value float64
}

// extent says over what times and values some points go.
type extent struct {
	first, last   int64 // smallest and largest time, ms
	n             int
	min, max, sum float64
}

func (e *extent) add(p point) {
	if e.n == 0 {
		*e = extent{first: p.ms, last: p.ms, min: p.value, max: p.value}
	}
	e.n++
	e.sum += p.value
	e.first, e.last = min(e.first, p.ms), max(e.last, p.ms)
	e.min, e.max = min(e.min, p.value), max(e.max, p.value)
}

// join adds all that o covers.
func (e *extent) join(o extent) {
	if e.n == 0 || o.n == 0 {
		if o.n > 0 {
			*e = o
		}
		return
	}
	e.n += o.n
	e.sum += o.sum
	e.first, e.last = min(e.first, o.first), max(e.last, o.last)
	e.min, e.max = min(e.min, o.min), max(e.max, o.max)
}

func (e *extent) mean() float64 {
	m := e.sum / float64(e.n)
	if math.IsInf(m, 0) { // a sum of huge values
		m = e.min/2 + e.max/2
	}
	return min(max(m, e.min), e.max)
}

// A block packs the points of one stream as they come: the change of the step
// between times, then the value. A value is an even number, the change of the
// decimal at the present exponent, doubled; or 1, a new exponent and the whole
// decimal; or 3 and the eight bytes. Steady readings cost 2 to 4 bytes.
const (
	newExponent = 1
	rawValue    = 3
	maxBlock    = 4096 // points in a block
)

// block is a packed run of points and what it covers.
type block struct {
	extent
	data []byte
}

// packer adds points to a block.
type packer struct {
	block
	prev  point
	step  int64
	whole int64
	exp   int
}

func (p *packer) add(pt point) {
	if p.n == 0 {
		p.data = appendZigzag(p.data, pt.ms)
		p.prev.ms, p.step, p.exp = pt.ms, 0, rawExp
	} else {
		step := pt.ms - p.prev.ms
		p.data = appendZigzag(p.data, step-p.step)
		p.step = step
	}
	p.packValue(pt.value)
	p.prev = pt
	p.extent.add(pt)
}

func (p *packer) packValue(v float64) {
	guess := p.exp
	if guess == rawExp {
		guess = 0
	}
	i, exp := decimal(v, guess)
	switch {
	case exp == rawExp:
		p.data = appendFloat(append(p.data, rawValue), v)
		return // the exponent and the decimal before stay in force
	case exp == p.exp:
		p.data = binary.AppendUvarint(p.data, zigzag(i-p.whole)<<1)
	default:
		p.data = append(p.data, newExponent, byte(exp))
		p.data = appendZigzag(p.data, i)
	}
	p.whole, p.exp = i, exp
}

// reset empties p and keeps its memory.
func (p *packer) reset() { *p = packer{block: block{data: p.data[:0]}} }

var errBlock = errors.New("history block cannot be read")

// unpack gives yield the n points of a block.
func unpack(data []byte, n int, yield func(point)) error {
	c := cursor{b: data}
	var pt point
	var step, whole int64
	exp := rawExp
	for i := range n {
		if i == 0 {
			pt.ms = c.zigzag()
		} else {
			step += c.zigzag()
			pt.ms += step
		}
		switch u := c.uvarint(); {
		case u&1 == 0 && exp <= maxExp:
			whole += unzigzag(u >> 1)
			pt.value = fromDecimal(whole, exp)
		case u == newExponent:
			if exp = int(c.byte()); exp > maxExp {
				return errBlock
			}
			whole = c.zigzag()
			pt.value = fromDecimal(whole, exp)
		case u == rawValue:
			pt.value = c.float()
		default:
			return errBlock
		}
		if c.err != nil {
			return fmt.Errorf("%w after %d of %d readings: %w", errBlock, i, n, c.err)
		}
		yield(pt)
	}
	return nil
}
