package store

import (
	"encoding/binary"
	"errors"
	"math"
	"time"
)

// maxExp is the largest number of decimals tried for a compact value.
const maxExp = 6

var pow10 = [maxExp + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6}

// rawExp marks a value that is no short decimal.
const rawExp = maxExp + 1

// decimal finds the smallest exponent from guess on for which v is exactly
// i / 10^exp, and rawExp if there is none. Dividing two exact integers rounds
// to the same float64 as reading the decimal does.
func decimal(v float64, guess int) (i int64, exp int) {
	for exp = guess; exp <= maxExp; exp++ {
		f := math.Round(v * pow10[exp])
		if math.Abs(f) >= 1<<47 || f != f {
			break
		}
		if f/pow10[exp] == v && (f != 0 || !math.Signbit(v)) {
			return int64(f), exp
		}
	}
	return 0, rawExp
}

func fromDecimal(i int64, exp int) float64 { return float64(i) / pow10[exp] }

func zigzag(i int64) uint64   { return uint64(i)<<1 ^ uint64(i>>63) }
func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

func appendZigzag(b []byte, i int64) []byte { return binary.AppendUvarint(b, zigzag(i)) }

func appendFloat(b []byte, v float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
}

func appendText(b []byte, s string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(s))), s...)
}

var errShort = errors.New("record ends too early")

// cursor reads what the append functions wrote. After the first mistake every
// read gives zero and err stays set.
type cursor struct {
	b   []byte
	err error
}

func (c *cursor) fail() {
	c.b = nil
	if c.err == nil {
		c.err = errShort
	}
}

func (c *cursor) uvarint() uint64 {
	v, n := binary.Uvarint(c.b)
	if n <= 0 {
		c.fail()
		return 0
	}
	c.b = c.b[n:]
	return v
}

func (c *cursor) zigzag() int64 { return unzigzag(c.uvarint()) }

func (c *cursor) byte() byte {
	if len(c.b) == 0 {
		c.fail()
		return 0
	}
	v := c.b[0]
	c.b = c.b[1:]
	return v
}

func (c *cursor) float() float64 {
	if len(c.b) < 8 {
		c.fail()
		return 0
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(c.b))
	c.b = c.b[8:]
	return v
}

func (c *cursor) text() string {
	n := c.uvarint()
	if n > uint64(len(c.b)) {
		c.fail()
		return ""
	}
	s := string(c.b[:n])
	c.b = c.b[n:]
	return s
}

// nanosOf gives t for a column; the zero time is 0.
func nanosOf(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixNano()
}

func timeOf(nanos int64) time.Time { return time.Unix(0, nanos).UTC() }

func timeOrNone(nanos int64) time.Time {
	if nanos == 0 {
		return time.Time{}
	}
	return timeOf(nanos)
}
