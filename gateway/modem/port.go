package modem

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"time"

	"go.bug.st/serial"
)

// Port is an open serial line. Read returns 0 and no error when the time set
// has passed, and ends when the port is closed.
type Port interface {
	io.ReadWriteCloser
	SetReadTimeout(time.Duration) error
}

// Open opens a serial device, 8 data bits, no parity, one stop bit, no flow
// control, which is what modems take.
func Open(device string, baud int) (Port, error) {
	p, err := serial.Open(device, &serial.Mode{BaudRate: baud})
	if err != nil {
		return nil, openError(device, err)
	}
	return &port{p}, nil
}

func openError(device string, err error) error {
	var pe *serial.PortError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("there is no device %s; is the modem plugged in and powered?", device)
	case errors.As(err, &pe) && pe.Code() == serial.PermissionDenied:
		return fmt.Errorf("the device %s may not be opened; let the service's user read and write it (often by the group dialout)", device)
	case errors.As(err, &pe) && pe.Code() == serial.PortBusy:
		return fmt.Errorf("the device %s is used by another program; stop that, or choose another of the modem's devices", device)
	}
	return fmt.Errorf("the device %s cannot be opened as a serial line: %w", device, err)
}

// port throws away what was not sent before it closes: the system would wait
// for a modem that takes nothing any more.
type port struct{ serial.Port }

func (p *port) Close() error {
	_ = p.ResetOutputBuffer() // a device that is gone has none
	return p.Port.Close()
}

// line is an open port with the goroutine that reads it.
type line struct {
	port Port
	in   chan []byte // closed when the port gives no more
	stop chan struct{}
	done chan struct{}
	err  error // why, once in is closed
}

const readTime = 500 * time.Millisecond // one read waits at most this long

func startLine(p Port) (*line, error) {
	if err := p.SetReadTimeout(readTime); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	l := &line{port: p, in: make(chan []byte), stop: make(chan struct{}), done: make(chan struct{})}
	go l.read() // waited for by close
	return l, nil
}

func (l *line) read() {
	defer close(l.done)
	defer close(l.in)
	for {
		buf := make([]byte, 512)
		n, err := l.port.Read(buf)
		if n > 0 {
			select {
			case l.in <- buf[:n]:
			case <-l.stop:
				return
			}
		}
		if err != nil {
			l.err = err
			return
		}
		select {
		case <-l.stop:
			return
		default:
		}
	}
}

// close closes the port and waits for the reader.
func (l *line) close() error {
	close(l.stop)
	err := l.port.Close()
	<-l.done
	return err
}
