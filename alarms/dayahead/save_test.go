package dayahead

import (
	"bytes"
	"encoding/binary"
	"math"
	"testing"
	"time"
)

// What is saved is, byte for byte, what earlier versions saved by the layout of their
// state in encoding/binary: their snapshots are read.
func TestSavedAsBefore(t *testing.T) {
	c := New(52, -2, nil)
	for at := range 6 * 144 {
		c.Reading(time.Unix(1780000000+600*int64(at), 0), time.Hour, 20+8*math.Sin(float64(at)/23))
	}
	want, err := binary.Append([]byte{form}, binary.LittleEndian, &c.state)
	if err != nil {
		t.Fatal(err)
	}
	if got := c.Save(); !bytes.Equal(got, want) {
		t.Errorf("saved %x, before %x", got, want)
	}
	back := New(52, -2, nil)
	if err := back.Load(want); err != nil || back.state != c.state {
		t.Errorf("%v, came back as %+v, was %+v", err, back.state, c.state)
	}
}
