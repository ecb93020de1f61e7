package export

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// FileOptions say where and how to write to a file.
type FileOptions struct {
	Path string // folders above it must exist
	// MaxBytes is the size after which the file is put aside and a new one
	// begun, default 64 MiB; negative: never.
	MaxBytes int64
	Daily    bool // put it aside at midnight too, in the zone of the clock
	Keep     int  // files put aside to keep, the newest; 0: all
	// NoSync leaves it to the system when lines reach the disk: less wear, but
	// a power cut costs about the last half minute. Otherwise each flush waits
	// for the disk.
	NoSync bool
}

// FileStats is the state of the file sink.
type FileStats struct {
	Lines    uint64 // written
	Bytes    uint64 // written
	Failures uint64 // writes that failed
	Dropped  uint64 // lines given up
	Files    uint64 // put aside
	Last     string // the last thing that went wrong, a sentence
}

// fileSink appends batches to a file. It is used by one goroutine.
type fileSink struct {
	opt  FileOptions
	now  func() time.Time
	file *os.File
	size int64
	day  string // of what is in it
}

func newFileSink(o FileOptions, now func() time.Time) (*fileSink, error) {
	if o.Path == "" {
		return nil, errors.New("export to a file: path: is not given")
	}
	if o.Keep < 0 {
		return nil, fmt.Errorf("export to a file: keep: got %d, want 0 for all or a number of files", o.Keep)
	}
	if o.MaxBytes == 0 {
		o.MaxBytes = 64 << 20
	}
	f := &fileSink{opt: o, now: now}
	if err := f.open(); err != nil {
		return nil, fmt.Errorf("export to a file: %w", err)
	}
	return f, nil
}

// open opens the file and cuts off a line that a crash has left unfinished.
func (f *fileSink) open() error {
	file, err := os.OpenFile(f.opt.Path, os.O_CREATE|os.O_RDWR, 0o640)
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
func (f *fileSink) write(b batch) (putAside bool, err error) {
	if f.file == nil {
		if err := f.open(); err != nil {
			return false, err
		}
	}
	full := f.opt.MaxBytes > 0 && f.size > 0 && f.size+int64(len(b.text)) > f.opt.MaxBytes
	if full || (f.opt.Daily && f.size > 0 && f.day != f.dayOf(f.now())) {
		if err := f.rotate(); err != nil {
			return false, err
		}
		putAside = true
	}
	_, err = f.file.Write(b.text)
	if err == nil && !f.opt.NoSync {
		err = f.file.Sync()
	}
	if err != nil {
		// No half line may stay. The next write opens the file anew.
		err = errors.Join(err, f.file.Truncate(f.size), f.file.Close())
		f.file = nil
		return putAside, err
	}
	f.size += int64(len(b.text))
	f.day = f.dayOf(f.now())
	return putAside, nil
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
	if err := os.Rename(f.opt.Path, name); err != nil {
		return err
	}
	if err := f.prune(); err != nil {
		return err
	}
	return f.open()
}

// parts splits the path into what comes before and after the time.
func (f *fileSink) parts() (stem, ext string) {
	ext = filepath.Ext(f.opt.Path)
	return strings.TrimSuffix(f.opt.Path, ext) + "-", ext
}

// asideLayout is the time in the name of a file put aside, in UTC.
const asideLayout = "20060102T150405.000"

// asideName is later than the name of every file put aside before, whatever
// the clock says.
func (f *fileSink) asideName() (string, error) {
	aside, err := f.aside()
	if err != nil {
		return "", err
	}
	at := f.now().UTC().Truncate(time.Millisecond)
	if n := len(aside); n > 0 && !at.After(aside[n-1].at) {
		at = aside[n-1].at.Add(time.Millisecond)
	}
	stem, ext := f.parts()
	return stem + at.Format(asideLayout) + ext, nil
}

// asideFile is a file that was put aside.
type asideFile struct {
	path string
	at   time.Time
}

// aside lists the files put aside, oldest first. Other files are left alone.
func (f *fileSink) aside() ([]asideFile, error) {
	stem, ext := f.parts()
	dir := filepath.Dir(f.opt.Path)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var all []asideFile
	for _, e := range entries {
		stamp, ok := strings.CutPrefix(e.Name(), filepath.Base(stem))
		if !ok || !strings.HasSuffix(stamp, ext) {
			continue
		}
		if at, err := time.Parse(asideLayout, strings.TrimSuffix(stamp, ext)); err == nil {
			all = append(all, asideFile{filepath.Join(dir, e.Name()), at})
		}
	}
	slices.SortFunc(all, func(a, b asideFile) int { return a.at.Compare(b.at) })
	return all, nil
}

// prune removes the oldest files put aside beyond Keep.
func (f *fileSink) prune() error {
	if f.opt.Keep == 0 {
		return nil
	}
	aside, err := f.aside()
	errs := []error{err}
	for len(aside) > f.opt.Keep {
		errs = append(errs, os.Remove(aside[0].path))
		aside = aside[1:]
	}
	return errors.Join(errs...)
}

func (f *fileSink) close() error {
	if f.file == nil {
		return nil
	}
	err := errors.Join(f.file.Sync(), f.file.Close())
	f.file = nil
	return err
}
