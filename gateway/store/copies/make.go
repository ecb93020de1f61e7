package copies

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/store"
)

// Source is what is copied.
type Source struct {
	Store  string      // directory of the store
	Keys   []string    // names of files beside its database, copied where they are there
	Config string      // file of the config
	Named  []NamedFile // what that names
	Plan   alarms.Plan // by it, into which the state of the alarms must fit
}

// NamedFile is a file that the config names.
type NamedFile struct {
	As   string // in the config
	Path string
}

// Target is where copies go.
type Target struct {
	Dir     string
	Keep    int // copies of one store; at least 1
	Version string
	Now     func() time.Time // the wall clock

	copying store.Copying // tests
	named   func()        // tests: called before a copy gets its name
}

const (
	makingPrefix   = ".making-"
	removingPrefix = ".removing-"
	spare          = 16 << 20 // bytes that stay free on the disk of the store
)

// errBusy: another copy is being made there.
var errBusy = errors.New("another copy is being made there")

// Make makes a copy, checks it and gives it its name; then it removes the oldest
// copies of the same store beyond those that are kept. An error beside a copy with
// a path says what could not be removed.
func Make(ctx context.Context, s Source, t Target) (c Copy, err error) {
	fail := func(err error) (Copy, error) {
		return Copy{}, fmt.Errorf("no copy was made in %s: %w", t.Dir, plain(err, t.Dir))
	}
	if within(t.Dir, s.Store) {
		return fail(fmt.Errorf("it lies inside the store %s, and would be lost with it; name another directory, best on another disk", s.Store))
	}
	release, err := t.take()
	if err != nil {
		return fail(err)
	}
	defer func() { err = errors.Join(err, release()) }()
	if err := errors.Join(t.clear(), roomFor(s.Store, t.Dir)); err != nil {
		return fail(err)
	}
	making, err := os.MkdirTemp(t.Dir, makingPrefix) // with mode 0700
	if err != nil {
		return fail(err)
	}
	c, err = t.make(ctx, s, making)
	if err != nil {
		return fail(errors.Join(err, os.RemoveAll(making)))
	}
	return c, t.prune(c)
}

// take takes the directory for this process.
func (t Target) take() (release func() error, err error) {
	info, err := os.Stat(t.Dir)
	if err == nil && !info.IsDir() {
		err = errors.New("it is no directory")
	}
	if err != nil {
		return nil, err
	}
	f, err := os.Open(t.Dir)
	if err != nil {
		return nil, err
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		err = errBusy
	} else if err != nil { // a disk that knows no locks
		err = nil
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f.Close, nil
}

// clear removes what earlier tries left.
func (t Target) clear() error {
	entries, err := os.ReadDir(t.Dir)
	for _, e := range entries {
		if n := e.Name(); strings.HasPrefix(n, makingPrefix) || strings.HasPrefix(n, removingPrefix) {
			err = errors.Join(err, os.RemoveAll(filepath.Join(t.Dir, n)))
		}
	}
	return err
}

// make makes a copy in the directory making, checks it and renames it.
func (t Target) make(ctx context.Context, s Source, making string) (Copy, error) {
	c := Copy{Form: form, Version: t.Version, Path: making}
	if err := errors.Join(os.Mkdir(filepath.Join(making, inStore), 0o700), os.Mkdir(filepath.Join(making, inFiles), 0o700)); err != nil {
		return c, err
	}
	if err := store.Copy(ctx, s.Store, filepath.Join(making, inStore), t.copying); err != nil {
		return c, err
	}
	if err := s.copyBeside(ctx, making, &c); err != nil {
		return c, err
	}
	if err := c.listStore(making); err != nil {
		return c, err
	}
	for i, f := range c.Files {
		sum, err := sumOf(ctx, c.at(f))
		if err != nil {
			return c, err
		}
		c.Files[i].Bytes, c.Files[i].SHA256 = sum.Bytes, sum.SHA256
		c.Bytes += sum.Bytes
	}
	found, err := store.Inspect(ctx, filepath.Join(making, inStore))
	if err == nil {
		c.Store = found.Name
		c.Last, err = fits(s.Plan, found)
	}
	if err != nil {
		return c, fmt.Errorf("the copy does not stand its check: %w", err)
	}
	return t.finish(ctx, c)
}

// finish writes the list, reads all of the copy again and gives it its name.
func (t Target) finish(ctx context.Context, c Copy) (Copy, error) {
	making := c.Path
	c.Made = t.Now().UTC().Truncate(time.Second)
	text, err := json.MarshalIndent(c, "", "\t")
	if err != nil {
		return c, err
	}
	err = errors.Join(store.WriteNew(filepath.Join(making, listName), text), store.WriteNew(filepath.Join(making, sumName), []byte(sumLine(text))),
		store.SyncDir(filepath.Join(making, inStore)), store.SyncDir(filepath.Join(making, inFiles)), store.SyncDir(making))
	if err != nil {
		return c, err
	}
	if _, err := Open(ctx, making); err != nil {
		return c, err
	}
	if t.named != nil {
		t.named()
	}
	number, err := t.next()
	if err != nil {
		return c, err
	}
	c.Path = filepath.Join(t.Dir, nameOf(number, c.Made))
	return c, errors.Join(os.Rename(making, c.Path), store.SyncDir(t.Dir))
}

// next is the number of the next copy: above all that are there, good or not.
func (t Target) next() (int, error) {
	entries, err := os.ReadDir(t.Dir)
	most := 0
	for _, e := range entries {
		most = max(most, numberOf(e.Name()))
	}
	return most + 1, err
}

// copyBeside copies all but the store's own.
func (s Source) copyBeside(ctx context.Context, making string, c *Copy) error {
	add := func(from string, f File) error {
		if info, err := os.Stat(from); err == nil && f.As != "" {
			f.Mode = uint32(info.Mode().Perm())
		}
		c.Files = append(c.Files, f)
		return copyFile(ctx, from, filepath.Join(making, f.Path))
	}
	if err := add(s.Config, File{Path: config, As: filepath.Base(s.Config)}); err != nil {
		return err
	}
	for _, key := range s.Keys {
		err := add(filepath.Join(s.Store, key), File{Path: filepath.Join(inStore, key)})
		if errors.Is(err, fs.ErrNotExist) {
			c.Files = c.Files[:len(c.Files)-1]
		} else if err != nil {
			return err
		}
	}
	for i, n := range s.Named {
		if slices.ContainsFunc(s.Named[:i], func(before NamedFile) bool { return before == n }) {
			continue
		}
		if err := add(n.Path, File{Path: filepath.Join(inFiles, fmt.Sprintf("%02d-%s", i+1, filepath.Base(n.As))), As: n.As}); err != nil {
			return err
		}
	}
	return nil
}

// listStore lists what was copied of the store, which no key is.
func (c *Copy) listStore(making string) error {
	entries, err := os.ReadDir(filepath.Join(making, inStore))
	for _, e := range entries {
		f := File{Path: filepath.Join(inStore, e.Name())}
		if !slices.ContainsFunc(c.Files, func(has File) bool { return has.Path == f.Path }) {
			c.Files = append(c.Files, f)
		}
	}
	return err
}

// fits restores what was found into a core, and returns the time of its last
// input by the wall clock, zero where there is none.
func fits(plan alarms.Plan, found *store.Contents) (time.Time, error) {
	if len(found.Problems) > 0 {
		return time.Time{}, errors.New(strings.Join(found.Problems, "; "))
	}
	engine, _, err := play(plan, found.Snapshot, found.Replay)
	if err != nil {
		return time.Time{}, err
	}
	if found.Snapshot == nil && found.Inputs == 0 {
		return time.Time{}, nil
	}
	return engine.Wall(engine.Now()), nil
}

// play brings a core to the state in which a store left it, and returns what it
// said on the way.
func play(plan alarms.Plan, snapshot []byte, inputs iter.Seq2[alarms.Input, error]) (e *engine.Engine, made []alarms.Transition, err error) {
	if snapshot == nil {
		e, err = engine.New(plan)
	} else {
		e, err = engine.Restore(plan, snapshot)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("the state of the alarms does not fit: %w", err)
	}
	for in, err := range inputs {
		if err != nil {
			return nil, nil, err
		}
		made = append(made, say.Step(e, in)...)
	}
	return e, made, nil
}

// prune removes the oldest copies of c's store beyond those that are kept.
func (t Target) prune(c Copy) error {
	if c.Store == "" { // an older version wrote it: whose the others are cannot be told
		return nil
	}
	all, err := list(t.Dir)
	if err != nil {
		return err
	}
	same := slices.DeleteFunc(all, func(o Copy) bool { return o.Store != c.Store || numberOf(o.Path) > numberOf(c.Path) })
	var errs []error
	for len(same) > max(t.Keep, 1) {
		old := same[0]
		same = same[1:]
		gone := filepath.Join(t.Dir, removingPrefix+filepath.Base(old.Path))
		if err := os.Rename(old.Path, gone); err != nil { // so that half of it never looks whole
			errs = append(errs, err)
			continue
		}
		errs = append(errs, os.RemoveAll(gone))
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("an old copy cannot be removed: %w", err)
	}
	return nil
}
