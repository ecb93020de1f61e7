package copies

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	_ "github.com/ncruces/go-sqlite3/driver" // another program's connection

	"telltale/gateway/store"
)

func TestACopyWhileTheStoreIsWrittenHasTheLiveState(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(500)
	stop := g.writing()
	defer stop()
	into := t.TempDir()
	for range 6 {
		saved := g.savedSoFar()
		c, err := Make(context.Background(), g.source(), target(into))
		ok(t, err)
		g.holds(c, saved)
	}
	stop()
	good, rest := onDisk(t, into)
	if len(good) != 3 || len(rest) != 0 { // as Target.Keep says
		t.Errorf("there are %v and %v", good, rest)
	}
	if n := numberOf(good[len(good)-1]); n != 6 {
		t.Errorf("the newest of six is number %d", n)
	}
}

func TestOnlyTheOwnerReadsACopy(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(10)
	c, err := Make(context.Background(), g.source(), target(t.TempDir()))
	ok(t, err)
	secret := false
	ok(t, filepath.WalkDir(c.Path, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s has mode %v", path, info.Mode())
		}
		if !d.IsDir() {
			text, _ := os.ReadFile(path)
			secret = secret || string(text) == "very secret\n"
		}
		return err
	}))
	if !secret {
		t.Error("the secret that the config names is not in the copy")
	}
}

// Of a copy that is cut short at any moment nothing looks good, and the next one
// clears it away.
func TestKilledAtAnyMomentNoHalfCopyLooksGood(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(700)
	into := t.TempDir()
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	halves := 0
	for range sample(12, 100) {
		halves += killOne(t, g.dir, into, random)
	}
	_, err := Make(context.Background(), g.source(), target(into))
	ok(t, err)
	good, rest := onDisk(t, into)
	if len(good) == 0 || len(good) > 3 || len(rest) > 0 {
		t.Errorf("at the end there are %v and %v", good, rest)
	}
	if halves == 0 {
		t.Error("nothing was cut short: this tried nothing")
	}
}

// killOne kills a process that makes copies some time after its first, and demands
// that all it said to have made are good. It returns how many were cut short.
func killOne(t *testing.T, dir, into string, random *rand.Rand) int {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "TELLTALE_COPIES_VICTIM="+dir, "TELLTALE_COPIES_INTO="+into)
	out, err := cmd.StdoutPipe()
	ok(t, err)
	ok(t, cmd.Start())
	lines := bufio.NewScanner(out)
	newest := ""
	if lines.Scan() {
		newest = lines.Text()
		time.Sleep(time.Duration(random.Int64N(int64(60 * time.Millisecond)))) // the moment
	}
	ok(t, cmd.Process.Kill())
	for lines.Scan() {
		newest = lines.Text()
	}
	_ = cmd.Wait() // killed
	if !strings.HasPrefix(newest, "made ") {
		t.Fatalf("it said %q", newest)
	}
	good, rest := onDisk(t, into)
	if want := strings.TrimPrefix(newest, "made "); len(good) == 0 || numberOf(good[len(good)-1]) < numberOf(want) {
		t.Errorf("of %v is left %v", want, good)
	}
	return len(rest)
}

func TestWhereNoCopyCanBeMade(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(50)
	file := filepath.Join(t.TempDir(), "file")
	ok(t, os.WriteFile(file, nil, 0o600))
	inside := filepath.Join(g.dir, "store", "copies")
	ok(t, os.Mkdir(inside, 0o700))
	link := filepath.Join(t.TempDir(), "link")
	ok(t, os.Symlink(inside, link))
	damaged := newGarden(t, t.TempDir())
	damaged.turns(400)
	ok(t, damaged.store.Close())
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(damaged.source().Store, "telltale.db"))
	ok(t, err)
	_, err = db.Exec(`UPDATE core SET crc = crc + 1`)
	ok(t, errors.Join(err, db.Close()))
	for _, c := range []struct {
		name string
		dir  string
		how  func(s *Source, to *Target)
		says string
		is   error
	}{
		{"not there", filepath.Join(t.TempDir(), "none"), nil, "it is not there; is its disk plugged in and mounted?", fs.ErrNotExist},
		{"a file", file, nil, "it is no directory", nil},
		{"inside the store", inside, nil, "it lies inside the store", nil},
		{"inside by a link", link, nil, "it lies inside the store", nil},
		{"no store", t.TempDir(), func(s *Source, _ *Target) { s.Store = filepath.Join(g.dir, "no-store") }, "there is no store in", store.ErrNone},
		{"no config", t.TempDir(), func(s *Source, _ *Target) { s.Config += "x" }, "garden.tomlx", fs.ErrNotExist},
		{"no secret", t.TempDir(), func(s *Source, _ *Target) { s.Named[0].Path += "x" }, "mail-passwordx", fs.ErrNotExist},
		{"the state of the alarms is damaged", t.TempDir(), func(s *Source, _ *Target) { s.Store = damaged.source().Store }, "does not stand its check", nil},
	} {
		s, to := g.source(), target(c.dir)
		if c.how != nil {
			c.how(&s, &to)
		}
		made, err := Make(context.Background(), s, to)
		if err == nil || made.Path != "" || !strings.HasPrefix(err.Error(), "no copy was made in "+c.dir+": ") || !strings.Contains(err.Error(), c.says) ||
			c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%s: made %q, and says %v", c.name, made.Path, err)
		}
		if entries, err := os.ReadDir(c.dir); err == nil && len(entries) > 0 {
			t.Errorf("%s: it left %v", c.name, entries)
		}
	}
}

func TestOneCopyAtATime(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(5)
	to := target(t.TempDir())
	inner := errors.New("not tried")
	to.named = func() { _, inner = Make(context.Background(), g.source(), target(to.Dir)) }
	_, err := Make(context.Background(), g.source(), to)
	ok(t, err)
	if !errors.Is(inner, errBusy) {
		t.Errorf("beside another one: %v", inner)
	}
}

// Copies of other stores in the same directory, and what is no copy, stay.
func TestOnlyCopiesOfTheSameStoreAreRemoved(t *testing.T) {
	t.Parallel()
	into := t.TempDir()
	one, other := newGarden(t, t.TempDir()), newGarden(t, t.TempDir())
	to := target(into)
	to.Keep = 0 // counts as one: the newest is never removed
	for _, g := range []*garden{one, other, one, one} {
		g.turns(3)
		_, err := Make(context.Background(), g.source(), to)
		ok(t, err)
	}
	broken := filepath.Join(into, nameOf(99, start))
	ok(t, os.MkdirAll(broken, 0o700))
	c, err := Make(context.Background(), one.source(), to)
	ok(t, err)
	same(t, "number, after a broken one of number 99", numberOf(c.Path), 100)
	all, err := list(into)
	ok(t, err)
	if len(all) != 2 || numberOf(all[0].Path) != 2 || all[1].Path != c.Path {
		t.Errorf("there are %v", all)
	}
	if _, err := os.Stat(broken); err != nil {
		t.Error(err)
	}
}

// A disk with too little room is left as it was, and the store is told from it.
func TestAFullDiskGetsNoCopy(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(900)
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=64k"); err != nil {
		t.Skipf("a small disk cannot be mounted here: %v", err)
	}
	defer syscall.Unmount(disk, 0)
	_, err := Make(context.Background(), g.source(), target(disk))
	if err == nil || !strings.Contains(err.Error(), "no room is left on the disk") {
		t.Errorf("it says %v", err)
	}
	// As if the room had gone while it was made.
	err = plain(store.ErrFull, disk)
	making := filepath.Join(disk, makingPrefix+"x")
	ok(t, os.Mkdir(making, 0o700))
	_, fault := target(disk).make(context.Background(), g.source(), making)
	if fault == nil || !errors.Is(fault, store.ErrFull) && !errors.Is(fault, syscall.ENOSPC) {
		t.Errorf("while it was made: %v", fault)
	}
	if !strings.Contains(plain(fault, disk).Error(), "make room there") {
		t.Errorf("it says %v, %v", plain(fault, disk), err)
	}
	ok(t, syscall.Mount("tmpfs", disk, "tmpfs", syscall.MS_REMOUNT, "size=8m"))
	c, err := Make(context.Background(), g.source(), target(disk))
	ok(t, err)
	g.holds(c, g.savedSoFar())
	if _, rest := onDisk(t, disk); len(rest) > 0 {
		t.Errorf("left is %v", rest)
	}
}

func TestWhatIsWrongWithTheDirectoryIsSaidPlainly(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	at := func(path string, err error) error { return &fs.PathError{Op: "mkdir", Path: path, Err: err} }
	for _, c := range []struct {
		err  error
		says string
	}{
		{at(filepath.Join(dir, "x"), syscall.EACCES), "this user may not write there; check its owner"},
		{at(dir, syscall.EACCES), "this user may not write there; check its owner"},
		{at(filepath.Join(dir, "x"), syscall.EROFS), "its disk takes no writes"},
		{at(filepath.Join(dir, "x"), syscall.ENOSPC), "no room is left on the disk; make room there"},
		{at(dir, syscall.ENOENT), "it is not there; is its disk plugged in and mounted?"},
		{at("/elsewhere", syscall.EACCES), "mkdir /elsewhere: permission denied"},
	} {
		got := plain(c.err, dir)
		if !strings.HasPrefix(got.Error(), c.says) || !errors.Is(got, c.err) {
			t.Errorf("%v: it says %q, want %q and the cause", c.err, got, c.says)
		}
	}
}
