package gateway

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/companion"
	"telltale/gateway/config"
)

func TestCompanionTellsInTheFirstOnesPlace(t *testing.T) {
	p := newPair(t)
	p.startFirst()
	p.startSecond()
	defer func() { p.second.stop() }()
	p.firstTells()
	p.reads = "20"
	p.until("it is over at both", time.Minute, func() bool { return p.first.state() == alarms.Normal && p.second.state() == alarms.Normal })
	for range 30 {
		p.pass()
	}
	if n := p.second.messages(); n > 0 {
		t.Errorf("the companion told %d messages while the first told", n)
	}

	p.stopFirst()
	p.reads = "0"
	p.until("the companion tells", 3*time.Minute, func() bool {
		return p.second.heard("The companion tells you this, because the first watch has not been heard since") > 0
	})
	p.until("it tells that the first is gone", 3*time.Minute, func() bool { return p.second.heard("The first watch does not do its work") > 0 })
	ok(t, p.second.parts.watch.Do(t.Context(), alarms.Input{Kind: alarms.Acknowledge, Alarm: benchLow, By: "Ben"}))

	// A restart of the companion loses nothing of that.
	p.second.probe.Disconnect(0)
	p.second.stop()
	p.startAgain()
	if n := len(p.second.accompanying().kept.Acts); n != 1 {
		t.Errorf("%d acts wait for the first, want 1", n)
	}
	p.startFirst()
	p.until("the first knows that Ben has it", 3*time.Minute, func() bool {
		for _, a := range p.first.parts.watch.fresh().Alarms {
			if a.ID == benchLow {
				return a.State == alarms.Acknowledged && a.By == "Ben"
			}
		}
		return false
	})
	p.until("nothing waits for it any more", time.Minute, func() bool {
		a := p.second.accompanying()
		a.mu.Lock()
		defer a.mu.Unlock()
		return len(a.kept.Acts) == 0
	})
	p.until("the companion hands back", 3*time.Minute, func() bool { return p.second.heard("The first watch does its work again") > 0 })
	p.reads = "20"
	p.until("whoever told that it began tells that it is over", 3*time.Minute, func() bool { return p.second.heard("The companion had told you that it began") > 0 })
	p.stopFirst()
}

// A first that lives and cannot reach people confirms nothing.
func TestCompanionTellsForAFirstWithoutAWayToPeople(t *testing.T) {
	p := newPair(t)
	p.startFirst()
	p.startSecond()
	p.first.hook.Close()
	defer func() { p.second.stop(); p.stopFirst() }()
	p.until("the first is heard", time.Minute, func() bool { _, known := p.second.accompanying().trouble(p.second.clock.Core()); return known })
	p.reads = "40"
	begun := p.second.clock.Core()
	p.until("the companion tells", 4*time.Minute, func() bool { return p.second.heard("bench") > 0 })
	if took := p.second.clock.Core().Sub(begun); took < companion.Wait(alarms.Medium) {
		t.Errorf("it did not wait for the first: it told after %v", took)
	}
}

// A companion that has no plan yet fetches it, and has itself started again with it.
func TestCompanionFetchesThePlan(t *testing.T) {
	p := newPair(t)
	p.startFirst()
	defer p.stopFirst()
	file := filepath.Join(p.dir, "second.toml")
	ok(t, os.MkdirAll(filepath.Join(p.dir, "second"), 0o700))
	ok(t, os.WriteFile(file, []byte(p.companion()), 0o600))
	nothing := func(string) (string, bool) { return "", false }
	c, problems := config.Load(file, nothing)
	ok(t, problems.Err())
	ctx, cancel := context.WithCancel(t.Context())
	again := make(chan struct{}, 1)
	done := make(chan error, 1)
	go func() {
		done <- Run(ctx, Options{Config: c, Clock: p.second.clock, Log: zerolog.Nop(), SetUp: &SetUp{File: file, Env: nothing, At: Nowhere,
			Reload: func() {
				select {
				case again <- struct{}{}:
				default:
				}
			}}})
	}()
	select {
	case <-again:
	case <-time.After(5 * time.Minute):
		t.Error("the plan was not fetched")
	}
	cancel()
	ok(t, <-done)
	next, problems := config.Load(file, nothing)
	ok(t, problems.Err())
	if want := p.first.parts.cfg.Shared.Version; !next.Watches() || next.Companion.Plan != want {
		t.Errorf("the plan is %q, want %q", next.Companion.Plan, want)
	}
}

// The first tells that its companion is gone, once it was heard.
func TestFirstMissesItsCompanion(t *testing.T) {
	p := newPair(t)
	p.startFirst()
	defer p.stopFirst()
	for range 70 {
		p.pass()
	}
	if p.first.heard("companion of this watch") > 0 {
		t.Error("a companion is missed that was never heard")
	}
	p.startSecond()
	p.until("the companion is heard", time.Minute, func() bool {
		why, known := p.first.parts.accompanied.trouble(p.first.clock.Core())
		return why == "" && known && p.second.accompanying().asked.Load() > 1
	})
	p.second.probe.Disconnect(0)
	p.second.stop()
	p.second.parts = nil
	p.until("the first misses it", 7*time.Minute, func() bool { return p.first.heard("The companion of this watch is not heard") > 0 })
}
