package link

import (
	"bufio"
	"bytes"
	"io"
	"net"
	"testing"
	"testing/synctest"
	"time"
)

var (
	ack  = []byte{0x40, 2, 0, 1} // PUBACK of packet 1
	ping = []byte{0xc0, 0}       // PINGREQ
)

// recorder is a connection whose reads wait for bytes on in and whose writes
// are kept one by one.
type recorder struct {
	net.Conn
	in     chan []byte
	writes [][]byte
}

func (r *recorder) Read(p []byte) (int, error) {
	b, ok := <-r.in
	if !ok {
		return 0, io.EOF
	}
	return copy(p, b), nil
}

func (r *recorder) Write(p []byte) (int, error) {
	r.writes = append(r.writes, bytes.Clone(p))
	return len(p), nil
}

func (r *recorder) SetWriteDeadline(time.Time) error { return nil }

func (r *recorder) wrote(t *testing.T, when string, want ...[]byte) {
	t.Helper()
	if len(r.writes) != len(want) {
		t.Fatalf("%s: %d writes %x, want %x", when, len(r.writes), r.writes, want)
	}
	for i := range want {
		if !bytes.Equal(r.writes[i], want[i]) {
			t.Errorf("%s: write %d is %x, want %x", when, i, r.writes[i], want[i])
		}
	}
	r.writes = nil
}

// TestAcknowledgementsTogether: they wait for one another while there is more
// to read, and never longer.
func TestAcknowledgementsTogether(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rec := &recorder{in: make(chan []byte, 1)}
		b := &buffered{Conn: rec, r: bufio.NewReaderSize(rec, readBuffer)}
		write := func(p []byte) {
			t.Helper()
			if n, err := b.Write(p); n != len(p) || err != nil {
				t.Fatal(n, err)
			}
		}
		rec.in <- []byte("two")
		one := make([]byte, 1)
		read := func() {
			if _, err := b.Read(one); err != nil && err != io.EOF {
				t.Error(err)
			}
		}
		read() // two bytes are left
		write(ack)
		write(ack)
		rec.wrote(t, "more to read")
		write(ping)
		rec.wrote(t, "something else goes at once, behind them", bytes.Join([][]byte{ack, ack, ping}, nil))
		read()
		read() // nothing left
		write(ack)
		rec.wrote(t, "the reader has not come back")
		go read()
		synctest.Wait()
		rec.wrote(t, "the reader waits", ack)
		write(ack)
		rec.wrote(t, "the reader is waiting", ack)
		close(rec.in)
		synctest.Wait()
		for range ackBatch / len(ack) {
			write(ack)
		}
		rec.wrote(t, "not yet many")
		write(ack)
		rec.wrote(t, "many", bytes.Repeat(ack, ackBatch/len(ack)+1))
	})
}
