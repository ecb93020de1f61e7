package copies

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func same[T comparable](t testing.TB, what string, got, want T) {
	t.Helper()
	if got != want {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

var start = time.Date(2026, time.July, 1, 6, 0, 0, 0, time.UTC)

// plan is the Long House with two benches, warm enough for alarms.
func plan() alarms.Plan {
	place := func(id alarms.PlaceID, probe alarms.ProbeID) alarms.Place {
		return alarms.Place{ID: id, Name: string(id),
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(30), HighHigh: alarms.At(36)}}},
			Probes: []alarms.Probe{{ID: probe, Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}
	}
	return alarms.Plan{Houses: []alarms.House{{ID: "long-house", Name: "Long House",
		Places: []alarms.Place{place("bench", "bench-1"), place("ridge", "ridge-1")}}}}
}

// garden is a store with the core that writes it, as a watch has them.
type garden struct {
	t      *testing.T
	dir    string // with store, config and secrets
	store  *store.Store
	engine *engine.Engine

	mu     sync.Mutex
	step   int
	states map[time.Time]string // of the core, by its time, whenever all was on disk
	saved  []string             // transitions
}

// newGarden begins one in dir, or takes it up.
func newGarden(t *testing.T, dir string) *garden {
	t.Helper()
	g := &garden{t: t, dir: dir, states: map[time.Time]string{}}
	s, err := store.Open(filepath.Join(dir, "store"), store.Options{})
	ok(t, err)
	g.store = s
	t.Cleanup(func() { _ = s.Close() }) // it may be closed
	snapshot, inputs, err := s.Recover()
	ok(t, err)
	g.engine, _, err = play(plan(), snapshot, inputs)
	ok(t, err)
	if _, err := os.Stat(filepath.Join(dir, "garden.toml")); err != nil {
		ok(t, os.WriteFile(filepath.Join(dir, "garden.toml"), []byte("# the config\n"), 0o644))
		ok(t, os.WriteFile(filepath.Join(dir, "mail-password"), []byte("very secret\n"), 0o600))
		ok(t, os.WriteFile(filepath.Join(dir, "store", "page-key"), []byte("key\n"), 0o600))
	}
	return g
}

func (g *garden) source() Source {
	return Source{Store: filepath.Join(g.dir, "store"), Keys: []string{"page-key", "push-key"}, Config: filepath.Join(g.dir, "garden.toml"),
		Named: []NamedFile{{"mail-password", filepath.Join(g.dir, "mail-password")}}, Plan: plan()}
}

func target(dir string) Target {
	return Target{Dir: dir, Keep: 3, Version: "test", Now: func() time.Time { return start.Add(24 * time.Hour) }}
}

// turn does what a watch does in some seconds: two readings, a tick, what comes of
// them, and now and then a checkpoint.
func (g *garden) turn() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	at := start.Add(time.Duration(g.step) * 20 * time.Second)
	g.step++
	swing := 12 * math.Sin(2*math.Pi*float64(g.step)/60)
	var made []alarms.Transition
	for i, p := range []alarms.ProbeID{"bench-1", "ridge-1"} {
		in := alarms.Input{At: at.Add(time.Duration(i) * time.Second), Kind: alarms.ReadingIn, Probe: p, Quantity: alarms.Temperature,
			Value: math.Round(10*(27+swing+float64(i))) / 10}
		g.store.Append(in)
		made = append(made, say.Step(g.engine, in)...)
	}
	tick := alarms.Input{At: at.Add(2 * time.Second), Kind: alarms.Tick}
	g.store.Append(tick)
	made = append(made, say.Step(g.engine, tick)...)
	if err := g.keep(made); err != nil {
		return err
	}
	state, err := g.engine.Snapshot()
	if err != nil {
		return err
	}
	g.states[g.engine.Now()] = string(state)
	if g.step%400 == 0 {
		return g.store.Checkpoint(state)
	}
	return nil
}

func (g *garden) keep(made []alarms.Transition) error {
	if len(made) == 0 {
		return g.store.Sync()
	}
	var rows []reach.Outgoing
	for _, t := range made {
		rows = append(rows, reach.Outgoing{ID: t.ID + "|slip", Transition: t.ID, Alarm: t.Alarm, Channel: "slip", Person: "grower"})
	}
	err := g.store.Save(made, rows)
	for _, t := range made {
		g.saved = append(g.saved, t.ID)
	}
	return err
}

func (g *garden) turns(n int) {
	g.t.Helper()
	for range n {
		ok(g.t, g.turn())
	}
}

// writing has turns follow one another as fast as they can, until stop is called.
func (g *garden) writing() (stop func()) {
	quit, done := make(chan struct{}), make(chan error, 1)
	go func() {
		for {
			select {
			case <-quit:
				done <- nil
				return
			default:
			}
			if err := g.turn(); err != nil {
				done <- err
				return
			}
		}
	}()
	return sync.OnceFunc(func() { close(quit); ok(g.t, <-done) })
}

func (g *garden) savedSoFar() []string {
	g.mu.Lock()
	defer g.mu.Unlock()
	return append([]string(nil), g.saved...)
}

// holds demands that the copy brings a core to a state that the live one had, with
// every alarm that was saved before the copy was begun.
func (g *garden) holds(c Copy, saved []string) {
	g.t.Helper()
	ctx := context.Background()
	if _, err := Open(ctx, c.Path); err != nil {
		g.t.Fatal(err)
	}
	found, err := store.Inspect(ctx, filepath.Join(c.Path, inStore))
	ok(g.t, err)
	engine, _, err := play(plan(), found.Snapshot, found.Replay)
	ok(g.t, err)
	state, err := engine.Snapshot()
	ok(g.t, err)
	g.mu.Lock()
	live, known := g.states[engine.Now()]
	g.mu.Unlock()
	if !known || live != string(state) {
		g.t.Errorf("at %v the copy brings the core to another state than the live one had (known %v)", engine.Now(), known)
	}
	s, closeIt, err := store.OpenToRead(filepath.Join(c.Path, inStore), store.Options{})
	ok(g.t, err)
	defer closeIt() //nolint:errcheck // it was read
	log, err := s.Log.Transitions(ctx, store.LogQuery{Limit: 1000})
	ok(g.t, err)
	there := map[string]bool{}
	for _, t := range log {
		there[t.ID] = true
	}
	for _, id := range saved {
		if !there[id] {
			g.t.Errorf("%s was saved before the copy was begun, and is not in it", id)
		}
	}
	if len(saved) > 1000 {
		g.t.Fatal("too many to be judged")
	}
}

// onDisk lists what is in a directory, and fails for what has a good copy's name
// and is none.
func onDisk(t *testing.T, dir string) (good, rest []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	ok(t, err)
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		if numberOf(path) == 0 {
			rest = append(rest, e.Name())
			continue
		}
		if _, err := Open(context.Background(), path); err != nil {
			t.Errorf("%s has the name of a good copy: %v", path, err)
			continue
		}
		good = append(good, path)
	}
	return good, rest
}

// TestMain lets the test binary also be what makes copies until it is killed.
func TestMain(m *testing.M) {
	if dir := os.Getenv("TELLTALE_COPIES_BACK"); dir != "" {
		fmt.Println("error", putOn(dir, os.Getenv("TELLTALE_COPIES_FROM")))
		os.Exit(1)
	}
	if dir := os.Getenv("TELLTALE_COPIES_VICTIM"); dir != "" {
		err := copyOn(dir, os.Getenv("TELLTALE_COPIES_INTO"))
		fmt.Println("error", err)
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// copyOn makes copies, and says of each that it was made.
func copyOn(dir, into string) error {
	g := &garden{dir: dir}
	for {
		c, err := Make(context.Background(), g.source(), target(into))
		if err != nil {
			return errors.Join(err)
		}
		fmt.Println("made", c.Path)
	}
}

// putOn puts a copy back again and again, and says each time that it did.
func putOn(dir, from string) error {
	for {
		c, err := Open(context.Background(), from)
		if err != nil {
			return err
		}
		if _, err := PutBack(context.Background(), c, into(dir)); err != nil {
			return err
		}
		fmt.Println("put")
	}
}
