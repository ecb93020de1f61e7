package store

import (
	"bytes"
	"math"
	"os"
	"testing"
	"time"

	"telltale/alarms"
)

func FuzzSegment(f *testing.F) {
	path, _ := write(f, [][]alarms.Input{everyKind(start), everyKind(start.Add(time.Minute))})
	b, err := os.ReadFile(path)
	ok(f, err)
	b = bytes.TrimRight(b, "\x00")
	f.Add(b)
	f.Add(b[:len(b)-3])
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, b []byte) {
		n := 0
		found, _ := readSegment(b, 1, func(alarms.Input) bool { n++; return true })
		if found.inputs != n || found.end < segmentHead {
			t.Fatalf("%+v with %d inputs", found, n)
		}
		// What is kept after cutting reads the same again, with no tail.
		if int(found.end) <= len(b) && found.frames > 0 {
			again, _ := readSegment(b[:found.end], 1, func(alarms.Input) bool { return true })
			found.torn = false
			same(t, "after cutting", again, found)
		}
		var d decoder
		_, _, _ = d.frame(b, func(alarms.Input) bool { return true })
		_ = unpack(b, 100, func(point) {})
		_, _ = unpackSlots(b, 1)
	})
}

func FuzzFrame(f *testing.F) {
	b := appendZigzag(nil, start.UnixMilli())
	b = appendDefine(b, 0, name{"bench-1", alarms.Temperature})
	b, _ = appendReading(b, everyKind(start)[1], 0, start.UnixMilli(), 0)
	for _, in := range everyKind(start) {
		b = appendAny(b, in, start.UnixMilli())
	}
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		var d decoder
		var first []alarms.Input
		if _, _, err := d.frame(b, func(in alarms.Input) bool { first = append(first, in); return true }); err != nil {
			return
		}
		// Whatever can be read is written and read again the same.
		again, prev := appendZigzag(nil, 0), int64(0)
		for _, in := range first {
			again = appendAny(again, in, prev)
			prev = in.At.UnixMilli()
		}
		i := 0
		_, _, err := new(decoder).frame(again, func(in alarms.Input) bool {
			want := first[i]
			i++
			if math.Float64bits(in.Value) != math.Float64bits(want.Value) {
				t.Fatalf("value %v, want %v", in.Value, want.Value)
			}
			in.Value, want.Value = 0, 0
			same(t, "input", in, want)
			return true
		})
		ok(t, err)
		same(t, "inputs", i, len(first))
	})
}
