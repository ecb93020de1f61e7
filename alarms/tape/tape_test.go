package tape

import (
	"math"
	"testing"
)

// all is something that is passed in one order.
type all struct {
	bits   uint64
	floats [2]float32
	double float64
	int    int64
	yes    bool
	shorts [2]int16
}

func (a *all) pass(t *Tape) {
	t.Bits(&a.bits, 3)
	t.Floats(a.floats[:])
	t.Double(&a.double)
	t.Int(&a.int)
	t.Bool(&a.yes)
	t.Trail(a.shorts[:])
	t.Varint(&a.int)
}

func TestWhatIsWrittenIsRead(t *testing.T) {
	a := all{0xabcdef, [2]float32{-1.5, 1e-30}, math.Pi, math.MinInt64, true, [2]int16{math.MinInt16, 300}}
	var w Tape
	a.pass(&w)
	var b all
	r := Read(w.Data)
	b.pass(&r)
	if a != b || r.Bad || len(r.Data) != 0 {
		t.Errorf("%+v came back as %+v, bad %v, %d bytes left", a, b, r.Bad, len(r.Data))
	}
	for n := range w.Data {
		r, b := Read(w.Data[:n]), all{}
		if b.pass(&r); !r.Bad {
			t.Errorf("%d of %d bytes were taken", n, len(w.Data))
		}
	}
	two, v := Read([]byte{2}), false
	if two.Bool(&v); !two.Bad {
		t.Error("2 was taken for a yes or no")
	}
	for _, bad := range []all{{floats: [2]float32{float32(math.NaN())}}, {floats: [2]float32{float32(math.Inf(1))}}, {double: math.NaN()}} {
		var w Tape
		bad.pass(&w)
		r := Read(w.Data)
		if b.pass(&r); !r.Bad {
			t.Errorf("%+v was taken", bad)
		}
	}
}
