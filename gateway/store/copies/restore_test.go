package copies

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/store"
)

func into(dir string) Into {
	return Into{Store: filepath.Join(dir, "store"), Plan: plan(), Forget: []string{"runs"}, Now: start.Add(48 * time.Hour)}
}

// copied makes a garden with alarms, some of which wait to be told, and a copy.
func copied(t *testing.T) (*garden, Copy) {
	t.Helper()
	g := newGarden(t, t.TempDir())
	g.turns(950)
	ok(t, g.store.Notes.Keep(context.Background(), "runs", "under way"))
	c, err := Make(context.Background(), g.source(), target(t.TempDir()))
	ok(t, err)
	return g, c
}

func TestACopyPutBackIsTheStoreItWas(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	g, c := copied(t)
	g.turns(30) // which the copy has not
	garden, err := g.store.Notes.Garden(ctx)
	ok(t, err)
	waiting, err := g.store.Outbox.Counts(ctx)
	ok(t, err)
	if waiting.Waiting < 5 {
		t.Fatalf("only %d messages wait: too few", waiting.Waiting)
	}
	ok(t, g.store.Close())

	at := t.TempDir()
	c, err = Open(ctx, c.Path)
	ok(t, err)
	r, err := PutBack(ctx, c, into(at))
	ok(t, err)
	same(t, "put aside", r.Aside, "")
	for _, words := range []string{"put back from a copy made at 06:00 on 2 July 2026", "from 11:16 on 1 July 2026 to 06:00 on 3 July 2026 is missing", "are old and are not sent"} {
		if said := say.English(r.Words); !strings.Contains(said, words) {
			t.Errorf("it says %q, want %q in it", said, words)
		}
	}

	s, err := store.Open(filepath.Join(at, "store"), store.Options{})
	ok(t, err)
	defer s.Close()
	same(t, "losses", strings.Join(s.Losses(), "; "), r.Words)
	snapshot, inputs, err := s.Recover()
	ok(t, err)
	for in := range inputs {
		t.Fatalf("the journal is not played to its end: %+v", in)
	}
	engine, err := engine.Restore(plan(), snapshot)
	ok(t, err)
	again, err := engine.Snapshot()
	ok(t, err)
	if g.states[engine.Now()] != string(again) {
		t.Errorf("at %v the state is not the one that the copied store had", engine.Now())
	}
	sums, err := s.Outbox.Counts(ctx)
	ok(t, err)
	if sums.Waiting != 0 || sums.Cancelled == 0 {
		t.Errorf("messages: %+v", sums)
	}
	now, err := s.Notes.Garden(ctx)
	ok(t, err)
	if now == garden {
		t.Error("the garden has the ID of the one that was copied")
	}
	runs, err := s.Notes.Kept(ctx, "runs")
	ok(t, err)
	same(t, "how the last run ended", runs, "")
	key, err := os.ReadFile(filepath.Join(at, "store", "page-key"))
	ok(t, err)
	same(t, "the key", string(key), "key\n")
	rs, err := s.History.Readings(ctx, "bench-1", alarms.Temperature, start, start.Add(48*time.Hour), 0)
	ok(t, err)
	same(t, "readings", len(rs), 950)
}

func TestTheStoreThatIsThereIsPutAside(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	g, c := copied(t)
	dir := into(g.dir).Store
	_, err := PutBack(ctx, c, into(g.dir))
	if !errors.Is(err, store.ErrInUse) || !strings.Contains(err.Error(), "stop it first") {
		t.Fatalf("while a watch has it: %v", err)
	}
	g.turns(1) // which it still has
	ok(t, g.store.Close())
	was, err := os.ReadFile(filepath.Join(dir, "telltale.db"))
	ok(t, err)
	asides := map[string]bool{}
	for range 2 {
		r, err := PutBack(ctx, c, into(g.dir))
		ok(t, err)
		if !strings.HasPrefix(r.Aside, real(dir)+".before-20260703-060000") {
			t.Errorf("put aside as %s", r.Aside)
		}
		asides[r.Aside] = true
	}
	same(t, "put aside", len(asides), 2)
	is, err := os.ReadFile(filepath.Join(real(dir)+".before-20260703-060000", "telltale.db"))
	ok(t, err)
	if !bytes.Equal(is, was) {
		t.Error("what was put aside was changed")
	}
	if _, err := os.Stat(dir + ".restoring"); err == nil {
		t.Error("something is left of it")
	}
}

// Through a link, as a service manager makes one, the directory itself is replaced.
func TestAStoreBehindALinkAndAnEmptyOne(t *testing.T) {
	t.Parallel()
	_, c := copied(t)
	at := t.TempDir()
	ok(t, os.Mkdir(filepath.Join(at, "private"), 0o700))
	ok(t, os.Symlink(filepath.Join(at, "private"), filepath.Join(at, "store")))
	r, err := PutBack(context.Background(), c, into(at))
	ok(t, err)
	same(t, "put aside", r.Aside, "") // it was empty
	if _, err := os.Stat(filepath.Join(at, "private", "telltale.db")); err != nil {
		t.Error(err)
	}
	if target, err := os.Readlink(filepath.Join(at, "store")); err != nil || target != filepath.Join(at, "private") {
		t.Errorf("the link is %s (%v)", target, err)
	}
}

// One changed byte, anywhere in a copy, and it is refused with nothing changed.
func TestADamagedCopyIsRefused(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	_, c := copied(t)
	tried := 0
	files := []string{listName, sumName}
	for _, f := range c.Files {
		files = append(files, f.Path)
	}
	for _, name := range files {
		path := filepath.Join(c.Path, name)
		whole, err := os.ReadFile(path)
		ok(t, err)
		for _, at := range []int{0, len(whole) / 3, len(whole) / 2, len(whole) - 1} {
			tried++
			bad := bytes.Clone(whole)
			bad[at] ^= 0x20
			ok(t, os.WriteFile(path, bad, 0o600))
			if _, err := Open(ctx, c.Path); !errors.Is(err, errBad) || !strings.Contains(err.Error(), c.Path) {
				t.Errorf("%s, byte %d changed: %v", name, at, err)
			}
		}
		for _, cut := range [][]byte{whole[:len(whole)-1], append(bytes.Clone(whole), 'x'), nil} {
			tried++
			ok(t, os.WriteFile(path, cut, 0o600))
			if _, err := Open(ctx, c.Path); !errors.Is(err, errBad) {
				t.Errorf("%s of %d bytes instead of %d: %v", name, len(cut), len(whole), err)
			}
		}
		ok(t, os.Remove(path))
		if _, err := Open(ctx, c.Path); !errors.Is(err, errBad) {
			t.Errorf("without %s: %v", name, err)
		}
		ok(t, os.WriteFile(path, whole, 0o600))
	}
	_, err := Open(ctx, c.Path)
	ok(t, err)
	if tried < 40 {
		t.Errorf("only %d changes were tried", tried)
	}
	// What changes after it was read is found when it is unpacked.
	path := filepath.Join(c.Path, inStore, "telltale.db")
	whole, err := os.ReadFile(path)
	ok(t, err)
	whole[len(whole)/2] ^= 1
	ok(t, os.WriteFile(path, whole, 0o600))
	at := t.TempDir()
	if _, err := PutBack(ctx, c, into(at)); err == nil {
		t.Error("a copy that was changed is put back")
	}
	if entries, _ := os.ReadDir(at); len(entries) > 0 {
		t.Errorf("left is %v", entries)
	}
}

func TestTheDirectoryOfCopiesIsNoCopy(t *testing.T) {
	t.Parallel()
	_, c := copied(t)
	_, err := Open(context.Background(), filepath.Dir(c.Path))
	if !errors.Is(err, errBad) || !strings.Contains(err.Error(), "it holds copies, the newest is "+c.Path) {
		t.Errorf("it says %v", err)
	}
}

func TestConfigAndSecretsArePutWhereTheyAreMissing(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(3)
	deep := filepath.Join(g.dir, "secrets", "phone")
	ok(t, os.Mkdir(filepath.Dir(deep), 0o700))
	ok(t, os.WriteFile(deep, []byte("secret of the phone"), 0o600))
	away := filepath.Join(t.TempDir(), "away")
	ok(t, os.WriteFile(away, []byte("elsewhere"), 0o600))
	s := g.source()
	s.Named = append(s.Named, NamedFile{"secrets/phone", deep}, NamedFile{away, away}, NamedFile{"secrets/phone", deep})
	c, err := Make(context.Background(), s, target(t.TempDir()))
	ok(t, err)
	same(t, "named files", len(c.Named()), 3)

	at := filepath.Join(t.TempDir(), "etc")
	file := filepath.Join(at, "garden.toml")
	ok(t, os.Remove(away))
	p, err := c.PutConfig(file, "")
	ok(t, err)
	same(t, "written", fmt.Sprint(p.Written), fmt.Sprint([]string{file, filepath.Join(at, "mail-password"), filepath.Join(at, "secrets", "phone")}))
	if len(p.Differ) > 0 || len(p.Left) != 1 || p.Left[0].As != away {
		t.Errorf("differ %v, left %v", p.Differ, p.Left)
	}
	if _, err := os.Stat(away); err == nil {
		t.Error("a file was written outside of the config's folder")
	}
	for name, mode := range map[string]os.FileMode{"garden.toml": 0o644, "mail-password": 0o600, "secrets/phone": 0o600} {
		info, err := os.Stat(filepath.Join(at, name))
		ok(t, err)
		same(t, "mode of "+name, info.Mode().Perm(), mode)
	}
	ok(t, os.WriteFile(filepath.Join(at, "mail-password"), []byte("a newer one"), 0o600))
	p, err = c.PutConfig(file, "")
	ok(t, err)
	same(t, "differ", fmt.Sprint(p.Differ), fmt.Sprint([]string{filepath.Join(at, "mail-password")}))
	if text, _ := os.ReadFile(filepath.Join(at, "mail-password")); string(text) != "a newer one" || len(p.Written) > 0 {
		t.Errorf("written over: %q, %v", text, p.Written)
	}
	credentials := t.TempDir()
	p, err = c.PutConfig(file, credentials)
	ok(t, err)
	same(t, "with the folder of a service manager", fmt.Sprint(p.Written), fmt.Sprint([]string{filepath.Join(credentials, "mail-password")}))
}

// A copy that somebody made up must not write outside of where it belongs.
func TestACopyNamesNothingOutsideOfItself(t *testing.T) {
	t.Parallel()
	_, c := copied(t)
	for _, path := range []string{"../x", "/etc/hostname", "store/../../x"} {
		bad := c
		bad.Files = append([]File{{Path: path}}, c.Files...)
		if err := bad.check(context.Background()); err == nil || !strings.Contains(err.Error(), "outside") {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// Killed at any moment there is a whole store in its place, or none and the one of
// before beside it; and the next try goes through.
func TestKilledWhileItIsPutBack(t *testing.T) {
	t.Parallel()
	_, c := copied(t)
	at := t.TempDir()
	dir := into(at).Store
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 3))
	cut := 0
	for range sample(8, 60) {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "TELLTALE_COPIES_BACK="+at, "TELLTALE_COPIES_FROM="+c.Path)
		out, err := cmd.StdoutPipe()
		ok(t, err)
		ok(t, cmd.Start())
		lines := bufio.NewScanner(out)
		if !lines.Scan() || lines.Text() != "put" {
			t.Fatalf("it said %q", lines.Text())
		}
		time.Sleep(time.Duration(random.Int64N(int64(60 * time.Millisecond)))) // the moment
		ok(t, cmd.Process.Kill())
		for lines.Scan() {
			if lines.Text() != "put" {
				t.Errorf("it said %q", lines.Text())
			}
		}
		_ = cmd.Wait() // killed
		if _, err := os.Stat(dir + ".restoring"); err == nil {
			cut++
		}
		found, err := store.Inspect(context.Background(), dir)
		before, _ := filepath.Glob(dir + ".before-*")
		if err != nil && len(before) == 0 || err == nil && len(found.Problems) > 0 {
			t.Errorf("there is %+v (%v), and beside it %v", found, err, before)
		}
		for _, b := range before {
			ok(t, os.RemoveAll(b))
		}
	}
	if cut == 0 {
		t.Error("nothing was cut short: this tried nothing")
	}
	_, err := PutBack(context.Background(), c, into(at))
	ok(t, err)
	if _, err := os.Stat(dir + ".restoring"); err == nil {
		t.Error("something of a try before is left")
	}
}

// A disk that is mounted as the store's directory cannot be renamed: what is on it
// goes into a directory there.
func TestAStoreThatIsADiskOfItsOwn(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	_, c := copied(t)
	at := t.TempDir()
	dir := into(at).Store
	ok(t, os.Mkdir(dir, 0o750))
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=32m"); err != nil {
		t.Skipf("a disk cannot be mounted here: %v", err)
	}
	defer syscall.Unmount(dir, 0)
	ok(t, os.Mkdir(filepath.Join(dir, "lost+found"), 0o700))
	for n := range 3 {
		r, err := PutBack(ctx, c, into(at))
		ok(t, err)
		if want := real(filepath.Join(dir, "store.before-20260703-060000")); n > 0 && !strings.HasPrefix(r.Aside, want) {
			t.Errorf("put aside as %s, want %s", r.Aside, want)
		}
		found, err := store.Inspect(ctx, dir)
		ok(t, err)
		same(t, "problems", strings.Join(found.Problems, "; "), "")
		if n > 0 {
			before, err := store.Inspect(ctx, r.Aside)
			ok(t, err)
			same(t, "readings put aside", before.Readings, found.Readings)
		}
		if _, err := os.Stat(filepath.Join(dir, ".restoring")); err == nil {
			t.Error("something is left of it")
		}
	}
	s, err := store.Open(dir, store.Options{})
	ok(t, err)
	if lost := s.Losses(); len(lost) != 1 {
		t.Errorf("lost is %v", lost)
	}
	ok(t, s.Close())
}
