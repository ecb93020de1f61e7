package record

import (
	"bufio"
	"bytes"
	"io"
)

// maxLine is the longest line that is read, bytes; of a longer one nothing is.
const maxLine = 256 << 10

// lines gives the lines of a text one by one, each with its number and where
// it begins.
type lines struct {
	r   *bufio.Reader
	eol byte
	at  int64 // where the next line begins
	n   int64 // number of the next line, from 1
	buf []byte
}

// line is one line without its end. Its text holds until the next is read.
type line struct {
	text []byte
	at   int64
	n    int64
	long bool // longer than maxLine; text is empty
}

func newLines(r io.ReaderAt, size, at, n int64, eol byte) *lines {
	return &lines{r: bufio.NewReaderSize(io.NewSectionReader(r, at, size-at), 32<<10), eol: eol, at: at, n: n}
}

// next returns the next line; io.EOF after the last.
func (l *lines) next() (line, error) {
	out := line{at: l.at, n: l.n}
	text, err := l.r.ReadSlice(l.eol)
	l.at += int64(len(text))
	if err == bufio.ErrBufferFull {
		text, out.long, err = l.more(text)
	}
	if err == io.EOF && len(text) == 0 && !out.long || err != nil && err != io.EOF {
		return out, err
	}
	l.n++
	if !out.long {
		out.text = bytes.Trim(text, "\r\n\x00")
	}
	return out, nil
}

// more reads on in a line that is longer than the buffer.
func (l *lines) more(text []byte) (whole []byte, long bool, err error) {
	l.buf = append(l.buf[:0], text...)
	for {
		text, err = l.r.ReadSlice(l.eol)
		l.at += int64(len(text))
		if long = long || len(l.buf)+len(text) > maxLine; !long {
			l.buf = append(l.buf, text...)
		}
		if err != bufio.ErrBufferFull {
			break
		}
	}
	if long {
		return nil, true, err
	}
	return l.buf, false, err
}

// eolOf is the end of lines: a line feed, alone or after a carriage return, or
// the carriage return alone of old machines.
func eolOf(r io.ReaderAt, begin int64) (byte, error) {
	head := make([]byte, 64<<10)
	n, err := r.ReadAt(head, begin)
	if err != nil && err != io.EOF {
		return 0, err
	}
	if head = head[:n]; bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		return '\r', nil
	}
	return '\n', nil
}
