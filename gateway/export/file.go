package export

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// putAsideAt is the size after which a file is put aside and a new one begun.
const putAsideAt = 64 << 20

// FileStats is the state of the file sink.
type FileStats struct {
	Lines    uint64 // written
	Failures uint64 // writes that failed
	Dropped  uint64 // lines given up
	Last     string // the last thing that went wrong, a sentence
}

// fileSink appends batches to a file, which is put aside when it is large, and
// at midnight in the zone of the clock. It is used by one goroutine.
type fileSink struct {
	path string
	most int64 // bytes
	now  func() time.Time
	file *os.File
	size int64
	day  string // of what is in it
}

// newFileSink opens a file in a folder that exists.
func newFileSink(path string, now func() time.Time) (*fileSink, error) {
	f := &fileSink{path: path, most: putAsideAt, now: now}
	if err := f.open(); err != nil {
		return nil, fmt.Errorf("export to a file: %w", err)
	}
	return f, nil
}

// open opens the file and cuts off a line that a crash has left unfinished.
func (f *fileSink) open() error {
	file, err := os.OpenFile(f.path, os.O_CREATE|os.O_RDWR, 0o640)
	if err != nil {
		return err
	}
	info, err := file.Stat()
	if err == nil {
		f.size, err = wholeLines(file, info.Size())
	}
	if err == nil {
		err = file.Truncate(f.size)
	}
	if err == nil {
		_, err = file.Seek(f.size, io.SeekStart)
	}
	if err != nil {
		return errors.Join(err, file.Close())
	}
	f.file = file
	f.day = f.dayOf(f.now())
	if f.size > 0 {
		f.day = f.dayOf(info.ModTime().In(f.now().Location()))
	}
	return nil
}

func (f *fileSink) dayOf(t time.Time) string { return t.Format("2006-01-02") }

// wholeLines returns where the last line end of a file of this size is.
func wholeLines(r io.ReaderAt, size int64) (int64, error) {
	block := make([]byte, 64<<10)
	for size > 0 {
		n := min(size, int64(len(block)))
		if _, err := r.ReadAt(block[:n], size-n); err != nil && err != io.EOF {
			return 0, err
		}
		if i := bytes.LastIndexByte(block[:n], '\n'); i >= 0 {
			return size - n + int64(i) + 1, nil
		}
		size -= n
	}
	return 0, nil
}

// write appends a batch whole or not at all.
func (f *fileSink) write(b batch) error {
	if f.file == nil {
		if err := f.open(); err != nil {
			return err
		}
	}
	if f.size > 0 && (f.size+int64(len(b.text)) > f.most || f.day != f.dayOf(f.now())) {
		if err := f.rotate(); err != nil {
			return err
		}
	}
	_, err := f.file.Write(b.text)
	if err == nil {
		err = f.file.Sync()
	}
	if err != nil {
		// No half line may stay. The next write opens the file again.
		err = errors.Join(err, f.file.Truncate(f.size), f.file.Close())
		f.file = nil
		return err
	}
	f.size += int64(len(b.text))
	f.day = f.dayOf(f.now())
	return nil
}

// rotate puts the file aside under a name with the time and begins a new one.
func (f *fileSink) rotate() error {
	if err := f.close(); err != nil {
		return err
	}
	name, err := f.asideName()
	if err != nil {
		return err
	}
	if err := os.Rename(f.path, name); err != nil {
		return err
	}
	return f.open()
}

// asideLayout is the time in the name of a file put aside, in UTC.
const asideLayout = "20060102T150405.000"

// asideName is later than the name of every file put aside before, whatever
// the clock says.
func (f *fileSink) asideName() (string, error) {
	ext := filepath.Ext(f.path)
	stem := strings.TrimSuffix(f.path, ext) + "-"
	entries, err := os.ReadDir(filepath.Dir(f.path))
	if err != nil {
		return "", err
	}
	at := f.now().UTC().Truncate(time.Millisecond)
	for _, e := range entries {
		stamp, ours := strings.CutPrefix(strings.TrimSuffix(e.Name(), ext), filepath.Base(stem))
		if before, err := time.Parse(asideLayout, stamp); ours && err == nil && !at.After(before) {
			at = before.Add(time.Millisecond)
		}
	}
	return stem + at.Format(asideLayout) + ext, nil
}

func (f *fileSink) close() error {
	if f.file == nil {
		return nil
	}
	err := errors.Join(f.file.Sync(), f.file.Close())
	f.file = nil
	return err
}
