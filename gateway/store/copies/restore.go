package copies

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/store"
)

// Placed is what PutConfig did and did not do.
type Placed struct {
	Written []string // files that were missing
	Differ  []string // that are there, stay, and are not as in the copy
	// Left are files of the copy, and where the config looks for them: elsewhere
	// than beside itself, where nothing is written.
	Left []NamedFile
}

// PutConfig puts the config of the copy to file, and what it names to where it
// looks for it, if that is missing. A name without a folder counts from
// credentials, if that is given. Nothing that is there is written over.
func (c Copy) PutConfig(file, credentials string) (p Placed, err error) {
	beside := filepath.Dir(file)
	if err := os.MkdirAll(beside, 0o755); err != nil {
		return p, err
	}
	for _, f := range c.Files {
		if f.Path != config {
			continue
		}
		if err := c.put(f, file, &p); err != nil {
			return p, err
		}
	}
	for _, f := range c.Named() {
		to, home := f.As, beside
		switch {
		case filepath.IsAbs(f.As):
		case credentials != "" && filepath.Base(f.As) == f.As:
			to, home = filepath.Join(credentials, f.As), credentials
		default:
			to = filepath.Join(beside, f.As)
		}
		if _, err := os.Stat(to); err != nil && !within(to, home) {
			p.Left = append(p.Left, NamedFile{As: to, Path: c.at(f)})
			continue
		}
		if err := c.put(f, to, &p); err != nil {
			return p, err
		}
	}
	return p, nil
}

// put puts one file to where it is missing.
func (c Copy) put(f File, to string, p *Placed) error {
	data, err := os.ReadFile(c.at(f))
	if err != nil {
		return err
	}
	there, err := os.ReadFile(to)
	switch {
	case err == nil && !bytes.Equal(there, data):
		p.Differ = append(p.Differ, to)
		return nil
	case err == nil:
		return nil
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return err
	}
	if err := errors.Join(store.WriteNew(to, data), os.Chmod(to, fs.FileMode(f.Mode).Perm())); err != nil {
		return err
	}
	p.Written = append(p.Written, to)
	return store.SyncDir(filepath.Dir(to))
}

// Into is where a copy is put back.
type Into struct {
	Store  string      // directory of the store
	Plan   alarms.Plan // of the config
	Forget []string    // names of what was kept that no other run should know
	Now    time.Time   // by the wall clock
}

// Restored says what PutBack did.
type Restored struct {
	Aside string // where the store of before lies now; "": there was none
	Words string // what the watch tells at its next start, as tongue.Keep has it
}

// PutBack makes a store of a copy that Open has read, in the place of the one that
// is there, which is put aside. It fails, with all as it was, where a watch has
// that one, or where the copy cannot be brought to life.
func PutBack(ctx context.Context, c Copy, into Into) (r Restored, err error) {
	at := real(into.Store)
	release, err := taken(at)
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, release()) }()
	stage, around := at+".restoring", filepath.Dir(at)
	if mounted(at) {
		stage, around = filepath.Join(at, ".restoring"), at
	}
	if err := os.RemoveAll(stage); err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(stage)) }()
	if err := roomFor(filepath.Join(c.Path, inStore), around); err != nil {
		return r, fmt.Errorf("the copy cannot be put into %s: %w", around, err)
	}
	if err := c.unpack(ctx, stage); err != nil {
		return r, fmt.Errorf("the copy cannot be put into %s: %w", around, err)
	}
	if r.Words, err = revive(ctx, stage, into, c); err != nil {
		return r, fmt.Errorf("%s cannot be brought to life; nothing was changed: %w", c.Path, err)
	}
	if mounted(at) {
		r.Aside, err = swapInside(stage, at, into.Now)
	} else {
		r.Aside, err = swap(stage, at, into.Now)
	}
	return r, err
}

// taken takes a store, if there is one.
func taken(dir string) (release func() error, err error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return func() error { return nil }, nil
	}
	if err != nil {
		return nil, err
	}
	release, err = store.Take(dir)
	if errors.Is(err, store.ErrInUse) {
		return nil, fmt.Errorf("a watch is running on %s: stop it first (it is %w)", dir, store.ErrInUse)
	}
	return release, err
}

// unpack copies the store of the copy into a new directory, and holds what it
// wrote against the list.
func (c Copy) unpack(ctx context.Context, to string) error {
	if err := os.Mkdir(to, 0o700); err != nil {
		return err
	}
	for _, f := range c.stored() {
		name := filepath.Join(to, filepath.Base(f.Path))
		if err := copyFile(ctx, c.at(f), name); err != nil {
			return err
		}
		got, err := sumOf(ctx, name)
		if err != nil {
			return err
		}
		if got.SHA256 != f.SHA256 {
			return fmt.Errorf("%s is not as it was when it was copied", c.at(f))
		}
	}
	return store.SyncDir(to)
}

// revive brings the store in stage to the schema of this version, and its state to
// the end of its journal, and makes it one of its own.
func revive(ctx context.Context, stage string, into Into, c Copy) (words string, err error) {
	found, err := store.Inspect(ctx, stage)
	if err == nil {
		_, err = fits(into.Plan, found)
	}
	if err != nil {
		return "", err
	}
	beside := filepath.Join(stage, "store.id") // the next start makes one where it belongs
	s, err := store.Open(stage, store.Options{IDFile: beside})
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, s.Close(), os.Remove(beside)) }()
	if err := s.Refusing(); err != nil {
		return "", err
	}
	snapshot, inputs, err := s.Recover()
	if err != nil {
		return "", err
	}
	engine, made, err := play(into.Plan, snapshot, inputs)
	if err != nil {
		return "", err
	}
	// Told they were by the store that was copied.
	if err := s.Save(made, nil); err != nil {
		return "", err
	}
	state, err := engine.Snapshot()
	if err != nil {
		return "", err
	}
	if err := s.Checkpoint(state); err != nil {
		return "", err
	}
	err = s.Renew(ctx, func(cancelled int) string {
		words = restoredWords(into, c, engine.Wall(engine.Now()), cancelled)
		return words
	}, into.Forget...)
	return words, err
}

func restoredWords(into Into, c Copy, last time.Time, cancelled int) string {
	if c.Last.IsZero() {
		last = c.Made
	}
	words := tongue.Keep("this store was put back from a copy made at %s: what was measured, done and set from %s to %s is missing",
		tongue.Moment(c.Made), tongue.Moment(last), tongue.Moment(into.Now))
	switch cancelled {
	case 0:
	case 1:
		words = tongue.Keep("%s; a message that waited to be sent then is old and is not sent", words)
	default:
		words = tongue.Keep("%s; %d messages that waited to be sent then are old and are not sent", words, cancelled)
	}
	return words
}
