package record

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"unicode/utf16"
)

// plain is a file as plain text that can be read from any place.
type plain struct {
	io.ReaderAt
	size  int64
	begin int64    // of the text: behind a byte order mark
	notes []string // what was done to it
	close func() error
}

// openPlain opens a file; what grows meanwhile is read as it is now.
func openPlain(name string) (*plain, error) {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return nil, bare(err)
	case info.IsDir():
		return nil, errors.New("it is a directory, want a file with readings")
	case !info.Mode().IsRegular():
		return nil, errors.New("it is no ordinary file: it is read twice, so save what comes from it in a file first")
	case info.Size() == 0:
		return nil, errors.New("the file is empty")
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, bare(err)
	}
	p, err := plainOf(f, info.Size(), f.Close)
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return p, nil
}

// bare is an error without the name of the file, which whoever called knows.
func bare(err error) error {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		return fmt.Errorf("it cannot be opened: %w", p.Err)
	}
	return err
}

// plainOf looks at how a file is packed and encoded. If it is not plain text
// already, it becomes so in a temporary file, and closeIt is called.
func plainOf(r io.ReaderAt, size int64, closeIt func() error) (*plain, error) {
	p := &plain{ReaderAt: r, size: size, close: closeIt}
	head := make([]byte, 512)
	n, err := r.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return nil, err
	}
	head = head[:n]
	if bytes.HasPrefix(head, []byte{0x1f, 0x8b}) {
		return p.unpack()
	}
	if order := utf16Order(head); order != nil {
		return p.spool(newUTF16(io.NewSectionReader(r, 0, size), order), "It is written in UTF-16.")
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		p.begin = 3
	}
	return p, nil
}

func (p *plain) unpack() (*plain, error) {
	z, err := gzip.NewReader(io.NewSectionReader(p.ReaderAt, 0, p.size))
	if err != nil {
		return nil, fmt.Errorf("it begins like a compressed file (gzip), but is none: %w", err)
	}
	cut := ""
	out, err := p.spool(&untilCut{z, &cut}, "It is compressed (gzip) and was unpacked.")
	if err != nil {
		return nil, err
	}
	if cut != "" {
		out.notes = append(out.notes, cut)
	}
	inner, err := plainOf(out.ReaderAt, out.size, out.close)
	if err != nil {
		return nil, errors.Join(err, out.close())
	}
	inner.notes = append(out.notes, inner.notes...)
	if inner.size == 0 {
		return nil, errors.Join(errors.New("the compressed file is empty"), inner.close())
	}
	return inner, nil
}

// untilCut ends where a compressed file is broken off, and says so.
type untilCut struct {
	r   io.Reader
	cut *string
}

func (u *untilCut) Read(b []byte) (int, error) {
	n, err := u.r.Read(b)
	if err != nil && err != io.EOF {
		*u.cut = fmt.Sprintf("The compressed file is broken off or damaged (%v): what came before that is read.", err)
		return n, io.EOF
	}
	return n, err
}

// spool lays text down in a temporary file that has no name any more.
func (p *plain) spool(r io.Reader, note string) (*plain, error) {
	f, err := os.CreateTemp("", "telltale-readings-*")
	if err != nil {
		return nil, err
	}
	shut := func() error { return errors.Join(f.Close(), os.Remove(f.Name())) }
	size, err := io.Copy(f, r)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("laying the plain text down in a temporary file: %w", err), shut())
	}
	if err := p.close(); err != nil {
		return nil, errors.Join(err, shut())
	}
	return &plain{ReaderAt: f, size: size, notes: append(p.notes, note), close: shut}, nil
}

// utf16Order tells UTF-16 by its mark, or by every second byte being zero.
func utf16Order(head []byte) binary.ByteOrder {
	var even, odd, pairs int
	for i := 0; i+1 < len(head); i += 2 {
		pairs++
		if head[i] == 0 && head[i+1] != 0 {
			even++
		}
		if head[i] != 0 && head[i+1] == 0 {
			odd++
		}
	}
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}), pairs > 4 && odd > pairs*3/4:
		return binary.LittleEndian
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}), pairs > 4 && even > pairs*3/4:
		return binary.BigEndian
	}
	return nil
}

// utf16Reader gives UTF-16 as UTF-8, without its mark.
type utf16Reader struct {
	r     *bufio.Reader
	order binary.ByteOrder
	rest  []byte
	room  []byte
	high  rune // first half of a pair; 0: none
}

func newUTF16(r io.Reader, order binary.ByteOrder) *utf16Reader {
	return &utf16Reader{r: bufio.NewReaderSize(r, 64<<10), order: order}
}

func (u *utf16Reader) Read(b []byte) (int, error) {
	if len(u.rest) == 0 {
		if err := u.fill(); err != nil {
			return 0, err
		}
	}
	n := copy(b, u.rest)
	u.rest = u.rest[n:]
	return n, nil
}

func (u *utf16Reader) fill() error {
	u.room = u.room[:0]
	var two [2]byte
	for len(u.room) < 4<<10 {
		if _, err := io.ReadFull(u.r, two[:]); err != nil {
			if len(u.room) > 0 || u.high == 0 {
				break // what is left of half a character is dropped
			}
			u.high = 0
			u.room = append(u.room, "\ufffd"...)
			break
		}
		u.take(rune(u.order.Uint16(two[:])))
	}
	if u.rest = u.room; len(u.rest) == 0 {
		return io.EOF
	}
	return nil
}

func (u *utf16Reader) take(c rune) {
	const mark = '\ufeff'
	switch {
	case u.high != 0:
		u.room = append(u.room, string(utf16.DecodeRune(u.high, c))...)
		u.high = 0
	case c >= 0xd800 && c < 0xdc00:
		u.high = c
	case c != mark:
		u.room = append(u.room, string(c)...)
	}
}
