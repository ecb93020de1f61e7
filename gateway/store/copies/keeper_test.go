package copies

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms/say"
)

// keeping is a keeper whose time a test moves.
type keeping struct {
	*Keeper
	t    *testing.T
	mu   sync.Mutex
	core time.Time
}

func newKeeper(t *testing.T, g *garden, dir string) *keeping {
	k := &keeping{t: t, core: start.Add(24 * time.Hour)}
	to := target(dir)
	to.Now = k.now
	k.Keeper = &Keeper{Source: g.source(), Target: to, Every: 24 * time.Hour, LateAfter: 72 * time.Hour, Core: k.now, Notes: &g.store.Notes, Look: time.Millisecond}
	return k
}

func (k *keeping) now() time.Time {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.core
}

func (k *keeping) after(d time.Duration) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.core = k.core.Add(d)
}

// run runs it until stop is called.
func (k *keeping) run() (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- k.Run(ctx) }()
	return sync.OnceFunc(func() { cancel(); ok(k.t, <-done) })
}

func (k *keeping) until(what string, is func(State) bool) {
	k.t.Helper()
	for deadline := time.Now().Add(2 * time.Minute); time.Now().Before(deadline); time.Sleep(time.Millisecond) {
		if is(k.State()) {
			return
		}
	}
	k.t.Fatalf("not in time: %s; it is %+v", what, k.State())
}

func TestKeeperMakesCopiesAndSaysWhenTheyAreLate(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(30)
	dir := t.TempDir()
	k := newKeeper(t, g, dir)
	stop := k.run()
	k.until("the first copy is made at once", func(s State) bool { return !s.Made.IsZero() })
	same(t, "age", k.State().Age, 0)
	k.after(23 * time.Hour)
	same(t, "late", k.State().Late, "")
	k.after(2 * time.Hour)
	k.until("the next one is made a day later", func(s State) bool { return s.Age == 0 })

	ok(t, os.Rename(dir, dir+"-pulled"))
	k.after(25 * time.Hour)
	k.until("a pulled disk is found", func(s State) bool { return strings.Contains(s.Fault, "is its disk plugged in and mounted?") })
	same(t, "late at once", k.State().Late, "")
	k.after(50 * time.Hour)
	k.until("it is late after three days", func(s State) bool {
		return strings.HasPrefix(say.English(s.Late), "no good copy since 07:00 on 3 July 2026: no copy was made in "+dir+": it is not there")
	})
	stop()

	// The next run knows it, and goes on from there.
	again := newKeeper(t, g, dir)
	again.core = k.now().Add(time.Minute)
	again.begin(context.Background())
	if s := again.State(); !strings.HasPrefix(say.English(s.Late), "no good copy since 07:00 on 3 July 2026") {
		t.Errorf("the next run says %+v", s)
	}
	ok(t, os.Rename(dir+"-pulled", dir))
	defer again.run()()
	again.until("it is well again", func(s State) bool { return s.Late == "" && s.Fault == "" && s.Age == 0 })
	if good, _ := onDisk(t, dir); len(good) != 3 {
		t.Errorf("there are %v", good)
	}
}

// No step of the wall clock makes a copy late or young.
func TestKeeperGoesByTheTimeThatNobodySets(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(3)
	k := newKeeper(t, g, t.TempDir())
	wall := start.AddDate(12, 0, 0) // it is wrong when the first copy is made
	k.Target.Now = func() time.Time { k.mu.Lock(); defer k.mu.Unlock(); return wall }
	defer k.run()()
	k.until("the first copy", func(s State) bool { return !s.Made.IsZero() })
	k.mu.Lock()
	wall = start
	k.mu.Unlock()
	k.after(25 * time.Hour)
	k.until("the next one", func(s State) bool { return s.Age == 0 && s.Made.Equal(start) })
	all, err := list(k.Target.Dir)
	ok(t, err)
	if len(all) != 2 || !all[1].Made.Equal(start) {
		t.Errorf("the newest is not the last: %v", all)
	}
}

// A disk that does not answer keeps nobody waiting, not at the end either.
func TestKeeperLeavesADiskThatDoesNotAnswer(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(3)
	k := newKeeper(t, g, t.TempDir())
	held, release := make(chan struct{}), make(chan struct{})
	k.Target.named = sync.OnceFunc(func() { close(held); <-release })
	stop := k.run()
	<-held
	k.after(80 * time.Hour)
	if s := k.State(); !strings.HasPrefix(say.English(s.Late), "there is no good copy yet: the disk of ") {
		t.Errorf("it says %+v", s)
	}
	g.turns(50) // nobody is held up
	stop()
	close(release)
}

func TestKeeperTakesNoOtherDiskForItsOwn(t *testing.T) {
	t.Parallel()
	g := newGarden(t, t.TempDir())
	g.turns(3)
	k := newKeeper(t, g, t.TempDir())
	k.begin(context.Background())
	k.note.Apart = true // as after a copy onto a disk of its own
	c, err := k.make(context.Background())
	if err == nil || !strings.Contains(err.Error(), "is its own disk not mounted?") || c.Path != "" {
		t.Errorf("made %s, %v", c.Path, err)
	}
	if entries, _ := os.ReadDir(k.Target.Dir); len(entries) > 0 {
		t.Errorf("it wrote %v", entries)
	}
}

func TestNoKeeperIsNeverLate(t *testing.T) {
	var k *Keeper
	if s := k.State(); s != (State{Known: true}) {
		t.Errorf("it is %+v", s)
	}
	if !SameDisk(os.TempDir(), os.TempDir()) || SameDisk(os.TempDir(), filepath.Join(os.TempDir(), "no such directory")) {
		t.Error("disks are not told apart")
	}
}
