package gateway

import (
	"context"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/page/service"
	"telltale/gateway/store/copies"
)

// A watch on a store that was put back goes on from the copy: nobody hears again
// what the original has told, or had waiting; what is missing is said in one line.
func TestAWatchPutBackTellsNothingOld(t *testing.T) {
	t.Parallel()
	ctx, dir := context.Background(), t.TempDir()
	first, err := lives(dir, 0, 50)
	ok(t, err)
	ok(t, first.watch.Do(ctx, alarms.Input{Kind: alarms.SetSeason, House: "long-house", Season: alarms.SeasonWinter, By: "grower"}))
	ok(t, first.stop())
	first, err = lives(dir, 60, 110)
	ok(t, err)
	ok(t, first.allTold())
	waiting, err := first.store.Outbox.Counts(ctx)
	ok(t, err)
	if waiting.Waiting == 0 || waiting.Told == 0 {
		t.Fatalf("messages: %+v; some must wait", waiting)
	}
	source := CopySource(first.cfg)
	source.Config = filepath.Join(dir, "garden.toml")
	ok(t, os.WriteFile(source.Config, []byte(victimConfig), 0o600))
	into := t.TempDir()
	c, err := copies.Make(ctx, source, copies.Target{Dir: into, Keep: 1, Now: first.clock.Now})
	ok(t, err)
	first.tell.mu.Lock()
	heard := maps.Clone(first.tell.told)
	first.tell.mu.Unlock()
	log, err := first.watch.Log(ctx, service.LogOther, first.clock.Now().Add(time.Hour), 1000)
	ok(t, err)
	ok(t, first.stop())

	elsewhere := t.TempDir()
	cfg := *first.cfg
	cfg.Store.Directory = filepath.Join(elsewhere, "store")
	c, err = copies.Open(ctx, c.Path)
	ok(t, err)
	put, err := copies.PutBack(ctx, c, CopyInto(&cfg, stepTime(130)))
	ok(t, err)
	second, err := lives(elsewhere, 130, 160) // the neighbour would have been told in between
	ok(t, err)
	defer func() { ok(t, second.stop()) }()
	if s := second.tells(t, alarms.TroubleStore); !strings.Contains(s, say.English(put.Words)) {
		t.Errorf("it is told as %q, want %q in it", s, say.English(put.Words))
	}
	ok(t, second.allTold())
	second.tell.mu.Lock()
	defer second.tell.mu.Unlock()
	for id := range second.tell.told {
		if heard[id] {
			t.Errorf("told again: %s", id)
		}
	}
	if len(heard) == 0 || len(second.tell.told) == 0 {
		t.Errorf("told before %v, and then %v: too little", heard, second.tell.told)
	}
	if first.garden == second.garden || first.client == second.client && !first.cfg.Broker.Run {
		t.Errorf("it has the garden's ID of the original, %s", second.garden)
	}
	again, err := second.watch.Log(ctx, service.LogOther, first.clock.Now().Add(time.Hour), 1000)
	ok(t, err)
	there := map[string]bool{}
	for _, l := range again {
		there[l.ID] = true
	}
	for _, l := range log {
		if !there[l.ID] {
			t.Errorf("the log has lost %s", l.ID)
		}
	}
	if h := second.watch.Picture().Houses[0]; h.Season != alarms.SeasonWinter {
		t.Errorf("the season is %s: what people had set is lost", h.Season)
	}
}

func TestLateCopiesAreToldAtLowPriority(t *testing.T) {
	t.Parallel()
	dir, into := t.TempDir(), filepath.Join(t.TempDir(), "copies")
	l := playing{tell: &said{told: map[string]bool{}}}
	var err error
	l.parts, err = buildVictimBy(victimConfig+"[copies]\ndirectory = \""+into+"\"\nevery = \"1h\"\nlate-after = \"2h\"\n", dir, l.tell, victimStart)
	ok(t, err)
	l.keeper.Look = time.Millisecond
	l.keeper.Source.Config = filepath.Join(dir, "garden.toml")
	ok(t, os.WriteFile(l.keeper.Source.Config, []byte(victimConfig), 0o600))
	ctx, stop := context.WithCancel(context.Background())
	var all sync.WaitGroup
	var failed error
	all.Go(func() { defer close(l.gone); failed = l.owner.run(ctx, nil, nil) })
	all.Go(func() { _ = l.worker.Run(ctx) })
	all.Go(func() { _ = l.keeper.Run(ctx) })
	defer func() {
		stop()
		all.Wait()
		ok(t, errors.Join(failed, l.page.Run(canceled()), l.close()))
	}()
	is := func(want bool) func() bool {
		return func() bool {
			a := stateOf(l.watch.Picture(), alarms.TroubleCopies)
			return a.Active() == want
		}
	}
	await(t, "the first try fails", func() bool { return l.keeper.State().Fault != "" })
	if a := stateOf(l.watch.Picture(), alarms.TroubleCopies); a.Active() {
		t.Errorf("at once it is %v", a)
	}
	l.clock.Step(121 * time.Minute)
	await(t, "that copies are late is told", is(true))
	for _, a := range l.watch.Picture().Alarms {
		if a.ID == alarms.TroubleCopies && (a.Priority != alarms.Low || !strings.Contains(a.Sentence, "there is no good copy yet: no copy was made in "+into+": it is not there")) {
			t.Errorf("it is told at %v priority as %q", a.Priority, a.Sentence)
		}
	}
	if l.counts().Store.Copied {
		t.Error("the figures know of a copy")
	}
	ok(t, os.Mkdir(into, 0o700))
	l.clock.Step(time.Hour)
	await(t, "it is over", is(false))
	l.clock.Step(time.Minute)
	if c := l.counts().Store; !c.Copied || c.CopyAge < time.Minute || c.CopyAge > 2*time.Minute {
		t.Errorf("the figures say %v, %v", c.Copied, c.CopyAge)
	}
}
