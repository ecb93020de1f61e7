package gateway

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"
	"golang.org/x/sys/unix"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
	"telltale/gateway/store"
	"telltale/gateway/trials"
)

// stall is a store whose writing side does not answer while it is held.
type stall struct {
	*store.Store
	*store.Outbox
	mu sync.Mutex
}

func stalling(s *store.Store) *stall { return &stall{Store: s, Outbox: &s.Outbox} }

func (s *stall) wait() {
	s.mu.Lock()
	defer s.mu.Unlock()
}

func (s *stall) Sync() error               { s.wait(); return s.Store.Sync() }
func (s *stall) Checkpoint(b []byte) error { s.wait(); return s.Store.Checkpoint(b) }
func (s *stall) Save(ts []alarms.Transition, rows []reach.Outgoing) error {
	s.wait()
	return s.Store.Save(ts, rows)
}
func (s *stall) Reached(ctx context.Context, channel, person string) (bool, error) {
	s.wait()
	return s.Outbox.Reached(ctx, channel, person)
}
func (s *stall) Attempted(ctx context.Context, a ...store.Attempt) error {
	s.wait()
	return s.Outbox.Attempted(ctx, a...)
}

// ears is a notifier that counts what it is told, by transition and person.
type ears struct {
	mu  sync.Mutex
	got map[string]int
}

func (h *ears) Tell(_ context.Context, t reach.Telling) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, e := range t.Events {
		h.got[fmt.Sprintf("%s %s %s", e.Alarm, e.Move, t.Person)]++
	}
	return nil
}

func (h *ears) heard(a alarms.AlarmID, m alarms.Move, person string) int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.got[fmt.Sprintf("%s %s %s", a, m, person)]
}

// heldUp is a running watch whose disk a test can hold.
type heldUp struct {
	*parts
	t     *testing.T
	dir   string
	ears  *ears
	probe mqtt.Client
	sent  int
	stop  func()
}

// holdable starts a watch in dir. change may put something in the place of its
// parts before it runs.
func holdable(t *testing.T, dir string, change func(p *parts)) *heldUp {
	t.Helper()
	h := &heldUp{t: t, dir: dir, ears: &ears{got: map[string]int{}}}
	var err error
	h.parts, err = buildVictimBy(victimConfig+"[metrics]\non-page = true\n", dir, h.ears, victimStart)
	ok(t, err)
	if change != nil {
		change(h.parts)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- h.parts.run(ctx, Options{Log: zerolog.Nop()}) }()
	h.stop = sync.OnceFunc(func() {
		cancel()
		if err := errors.Join(<-done, h.parts.close()); err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(h.stop)
	await(t, "the link is up", func() bool { return h.link.Stats().Up })
	at := h.running()
	h.probe = dial(t, at.Broker, at.User, at.Password)
	return h
}

// minutes has p0 report the same for some minutes.
func (h *heldUp) minutes(n int, value string) {
	h.t.Helper()
	for range 2 * n {
		h.send(value)
		h.clock.Step(30 * time.Second)
	}
}

// send has p0 report, and waits until the core has it.
func (h *heldUp) send(value string) {
	h.t.Helper()
	h.sent++
	value += strings.Repeat("0", h.sent) // so that it can be told from the one before
	token := h.probe.Publish("g/p0", 1, false, value)
	if !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
		h.t.Fatalf("a reading was not taken: %v", token.Error())
	}
	await(h.t, "the core has it", func() bool {
		n := uint64(0)
		for _, s := range h.table.Stats() {
			n += s.Values
		}
		return n >= uint64(h.sent)
	})
}

func (h *heldUp) get(path string) string {
	h.t.Helper()
	resp, err := (&http.Client{Timeout: 5 * time.Minute}).Get("http://" + h.page.Addr() + path)
	ok(h.t, err)
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	ok(h.t, err)
	if resp.StatusCode != http.StatusOK {
		h.t.Errorf("%s is answered with %s", path, resp.Status)
	}
	return string(text)
}

// throughAHang lets the bench get too hot while the disk does not answer; how
// says why it does not.
func (h *heldUp) throughAHang(how string, hold, release func()) {
	t := h.t
	t.Helper()
	h.minutes(1, "30.")
	hold()
	let := sync.OnceFunc(release)
	t.Cleanup(let) // before the stop
	h.minutes(5, "35.")
	await(t, "the alarm is told", func() bool { return h.ears.heard(benchHigh, alarms.Raise, "grower") > 0 })
	await(t, "the trouble is told", func() bool { return h.ears.heard(alarms.TroubleDisk, alarms.Raise, "grower") > 0 })
	if err := h.owner.pulse.Within(stuck)(); err != nil {
		t.Error(err)
	}
	if got := h.get("/healthz"); got != "ok\n" {
		t.Errorf("health is %q", got)
	}
	if got := h.get("/"); !strings.Contains(got, "The watch cannot save") || !strings.Contains(got, "Too hot in") {
		t.Error("the page shows neither alarm nor trouble")
	}
	if got := h.get("/metrics"); !strings.Contains(got, "telltale_core_steps_total") {
		t.Error("there are no metrics")
	}
	ok(t, h.watch.Do(context.Background(), alarms.Input{Kind: alarms.Acknowledge, Alarm: benchHigh, By: "grower"}))
	h.minutes(11, "35.") // the neighbour's ten are over
	h.minutes(5, "30.")
	await(t, "the end is told", func() bool { return h.ears.heard(benchHigh, alarms.Return, "grower") > 0 })
	let()
	await(t, "the trouble is over", func() bool {
		h.clock.Step(time.Second)
		return !stateOf(h.watch.Picture(), alarms.TroubleDisk).Active()
	})
	h.send("30.")
	await(t, "all is saved", h.settled)
	if n := h.ears.heard(benchHigh, alarms.Raise, "neighbour"); n > 0 {
		t.Error("the acknowledgement stopped nothing")
	}
	lost, twice := 0, 0
	for _, m := range []alarms.Move{alarms.Raise, alarms.Return} {
		if n := h.ears.heard(benchHigh, m, "grower"); n != 1 {
			t.Errorf("%s was told %d times", m, n)
			lost, twice = lost+max(0, 1-n), twice+max(0, n-1)
		}
	}
	h.nothingLost()
	trials.Report(t, how, trials.Lost(lost), trials.Twice(twice))
}

// idle reports whether all that was given is done.
func (w *writer) idle() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return !w.busy
}

// settled reports whether all is on disk.
func (h *heldUp) settled() bool {
	if h.waitsForDisk() {
		return false
	}
	log, err := h.store.Log.Transitions(context.Background(), store.LogQuery{Limit: 1000})
	return err == nil && uint64(len(log)) == h.owner.made.Load()
}

// nothingLost replays a copy of the store into another core.
func (h *heldUp) nothingLost() {
	h.t.Helper()
	sent, err := h.store.Outbox.Counts(context.Background())
	ok(h.t, err)
	await(h.t, "what was told is recorded", func() bool {
		sent, err = h.store.Outbox.Counts(context.Background())
		return err == nil && sent.Waiting == 0
	})
	twin := filepath.Join(h.t.TempDir(), "twin")
	ok(h.t, os.CopyFS(twin, os.DirFS(filepath.Join(h.dir, "store"))))
	s, err := store.Open(twin, store.Options{})
	ok(h.t, err)
	defer func() { ok(h.t, s.Close()) }()
	snap, inputs, err := s.Recover()
	ok(h.t, err)
	replayed, _, err := restore(h.cfg.Plan, snap)
	ok(h.t, err)
	n := 0
	for in, err := range inputs {
		ok(h.t, err)
		replayed.Step(in)
		if in.Kind == alarms.ReadingIn {
			n++
		}
	}
	if n != h.sent {
		h.t.Errorf("%d readings are in the journal, %d were sent", n, h.sent)
	}
	h.stop()
	end := alarms.Input{Kind: alarms.Tick, At: service.Later(replayed.Now(), h.owner.engine.Now())}
	var after [2][]byte
	for i, e := range []*engine.Engine{replayed, h.owner.engine} {
		e.Step(end)
		after[i], err = e.Snapshot()
		ok(h.t, err)
	}
	if !bytes.Equal(after[0], after[1]) {
		h.t.Errorf("the replay ends in\n%s\nwant\n%s", after[0], after[1])
	}
}

func TestADiskThatDoesNotAnswerHoldsUpNobody(t *testing.T) {
	t.Parallel()
	var s *stall
	h := holdable(t, t.TempDir(), func(p *parts) {
		s = stalling(p.store)
		p.owner.writer.store, p.owner.box.store = s, s
	})
	h.throughAHang("the disk does not answer for 20 minutes", s.mu.Lock, s.mu.Unlock)
}

// TestAStopDoesNotWaitForADiskThatDoesNotAnswer says what is not saved, and
// leaves the store as it is.
func TestAStopDoesNotWaitForADiskThatDoesNotAnswer(t *testing.T) {
	t.Parallel()
	p, err := buildVictim(t.TempDir(), &said{told: map[string]bool{}}, victimStart)
	ok(t, err)
	s := stalling(p.store)
	p.owner.writer.store, p.owner.box.store = s, s
	p.owner.writer.patience, p.owner.box.patience = 20*time.Millisecond, 20*time.Millisecond
	p.owner.begin()
	await(t, "the disk has what began", p.owner.writer.idle)
	s.mu.Lock()
	p.owner.apply(alarms.Input{Kind: alarms.TroubleOn, Alarm: alarms.TroubleTelling, At: victimStart, Note: "test"})
	p.owner.settle()
	if err := p.owner.finish(); err == nil || !strings.Contains(err.Error(), "2 moves of alarms are not saved") {
		t.Errorf("the stop says %v", err)
	}
	if err := p.close(); !errors.Is(err, errNoAnswer) {
		t.Errorf("the end says %v", err)
	}
	s.mu.Unlock()
	p.owner.writer.work.Wait()
	ok(t, p.page.Run(canceled()))
	ok(t, p.close())
}

// TestWhatFindsNoRoomIsCounted: what waits for a disk that does not answer is
// bounded, and people have room of their own.
func TestWhatFindsNoRoomIsCounted(t *testing.T) {
	t.Parallel()
	st, err := store.Open(t.TempDir(), store.Options{})
	ok(t, err)
	s := stalling(st)
	w := newWriter(s, &st.Notes)
	w.most = roomForPeople + 100
	s.mu.Lock()
	w.give(nil, toSync, s.Sync)
	reading := alarms.Input{At: victimStart, Kind: alarms.ReadingIn, Probe: "p0", Quantity: alarms.Temperature, Value: 20}
	tick := alarms.Input{At: victimStart, Kind: alarms.Tick}
	for range 150 {
		w.give([]alarms.Input{reading}, toSync, nil)
	}
	w.give([]alarms.Input{tick, tick, tick, {At: victimStart, Kind: alarms.Acknowledge, Alarm: benchHigh}}, toSync, nil)
	if n := w.dropped.Load(); n != 50 {
		t.Errorf("%d are counted as dropped, want 50", n)
	}
	if w.waiting != 102 {
		t.Errorf("%d wait, want 100 readings, a tick and what a person did", w.waiting)
	}
	s.mu.Unlock()
	ok(t, w.close())
	ok(t, st.Sync())
	if n := st.Stats().Inputs; n != 101 {
		t.Errorf("%d are journaled, want 101", n)
	}
	ok(t, st.Close())
}

// TestAnotherProgramsLockHoldsUpNobody has another connection write for long.
func TestAnotherProgramsLockHoldsUpNobody(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	h := holdable(t, dir, nil)
	var unlock func() error
	h.throughAHang("another program locks the database for 20 minutes", func() {
		var err error
		unlock, err = lockDatabase(filepath.Join(dir, "store"))
		ok(t, err)
	}, func() { ok(t, unlock()) })
}

// lockDatabase takes the lock of the one connection that writes to the open
// store in dir: byte 120 of the index of its WAL, as SQLite's document of that
// file has it (from memory).
func lockDatabase(dir string) (unlock func() error, err error) {
	index, err := os.OpenFile(filepath.Join(dir, "telltale.db-shm"), os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	lock := unix.Flock_t{Type: unix.F_WRLCK, Start: 120, Len: 1}
	if err := unix.FcntlFlock(index.Fd(), unix.F_OFD_SETLKW, &lock); err != nil {
		return nil, errors.Join(err, index.Close())
	}
	return index.Close, nil
}
