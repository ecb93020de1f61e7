package gateway

import (
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// oneRun begins a run at a time after victimStart, and stops it or lets it break
// off.
func oneRun(t *testing.T, dir string, at time.Duration, stop bool) (told alarms.State) {
	t.Helper()
	p, err := buildVictim(dir, &said{told: map[string]bool{}}, victimStart.Add(at))
	ok(t, err)
	defer func() { ok(t, p.close()) }()
	defer func() { ok(t, p.page.Run(canceled())) }()
	p.owner.begin()
	p.owner.tick()
	p.owner.settle()
	told = stateOf(p.owner.engine.Picture(), alarms.TroubleStarts)
	if stop {
		ok(t, p.owner.finish())
	}
	return told
}

// TestRunsThatBreakOffAreTold: three within half an hour, however they are
// mixed with runs that were stopped, and no longer when it has been quiet.
func TestRunsThatBreakOffAreTold(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		starts []time.Duration
		stops  []bool
		want   []bool
	}{
		{"stopped each time", []time.Duration{0, 1, 2, 3, 4}, []bool{true, true, true, true, true}, []bool{false, false, false, false, false}},
		{"broken off", []time.Duration{0, 5, 10, 15, 20, 60}, []bool{false, false, false, false, true, true}, []bool{false, false, false, true, true, false}},
		{"seldom", []time.Duration{0, 20, 40, 60, 80}, []bool{false, false, false, false, false}, []bool{false, false, false, false, false}},
		{"one stopped between", []time.Duration{0, 5, 10, 15, 20}, []bool{false, true, false, false, false}, []bool{false, false, false, false, true}},
	} {
		dir := t.TempDir()
		for i, at := range c.starts {
			state := oneRun(t, dir, at*time.Minute, c.stops[i])
			if state.Active() != c.want[i] {
				t.Errorf("%s: after start %d the trouble is %v, want active %v", c.name, i+1, state, c.want[i])
			}
		}
	}
}

// TestARunWithoutReadingsIsRemembered: how long a run lived is known after a
// crash even if no probe reported, so that this does not pass for an absence.
func TestARunWithoutReadingsIsRemembered(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	p, err := buildVictim(dir, &said{told: map[string]bool{}}, victimStart)
	ok(t, err)
	p.owner.begin()
	for range 3600 {
		p.clock.Step(time.Second)
		p.owner.tick()
		p.owner.settle()
	}
	await(t, "the disk has it", p.owner.writer.idle)
	end := p.clock.Core()
	ok(t, p.page.Run(canceled()))
	ok(t, p.close())

	s, err := store.Open(filepath.Join(dir, "store"), store.Options{})
	ok(t, err)
	defer func() { ok(t, s.Close()) }()
	_, inputs, err := s.Recover()
	ok(t, err)
	var newest time.Time
	for in, err := range inputs {
		ok(t, err)
		newest = service.Later(newest, in.At)
	}
	if unknown := end.Sub(newest); unknown > 2*time.Minute {
		t.Errorf("the last %v of the run are not known", unknown)
	}
}

// TestRunsThatBreakOffAreOver while the watch runs on.
func TestRunsThatBreakOffAreOver(t *testing.T) {
	t.Parallel()
	s := starts{Broken: []time.Time{victimStart, victimStart.Add(time.Minute), victimStart.Add(29 * time.Minute)}}
	at := func(d time.Duration) time.Time { return victimStart.Add(d) }
	if in := s.trouble(at(30 * time.Minute)); in.Kind != alarms.TroubleOn || in.Note == "" || s.over(at(59*time.Minute)) {
		t.Errorf("got %+v", in)
	}
	if !s.over(at(59*time.Minute + 1)) {
		t.Error("half an hour later it is not over")
	}
	if s.over(at(61 * time.Minute)) {
		t.Error("it is over twice")
	}
}
