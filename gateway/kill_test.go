package gateway

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/decode"
	"telltale/gateway/store"
	"telltale/gateway/trials"
)

// killed starts the victim and kills it at a random moment again and again,
// then lets it come to an end. It returns the last step.
func killed(t *testing.T, dir string, times, restart int) int {
	t.Helper()
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	for round := range times {
		cmd, out := startVictim(t, dir, wants{Restart: restart})
		if round%2 == 0 { // the others are killed while they start, or soon after
			for out.Scan() && out.Text() != "living" {
				t.Errorf("round %d: the victim says: %s", round, out.Text())
			}
		}
		time.Sleep(time.Duration(random.Int64N(int64(200 * time.Millisecond)))) // the moment
		ok(t, cmd.Process.Kill())
		for out.Scan() {
			if out.Text() != "living" {
				t.Errorf("round %d: the victim says: %s", round, out.Text())
			}
		}
		_ = cmd.Wait() // killed
	}
	k, err := peekAt(filepath.Join(dir, "store"))
	ok(t, err)
	last := max(k.Next+500, 3000)
	cmd, out := startVictim(t, dir, wants{Last: last, Restart: restart})
	for out.Scan() {
		if out.Text() != "living" {
			t.Error("at the end the victim says:", out.Text())
		}
	}
	ok(t, cmd.Wait())
	return last
}

func startVictim(t *testing.T, dir string, w wants) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	text, err := json.Marshal(w)
	ok(t, err)
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "TELLTALE_GATEWAY_VICTIM="+dir, "TELLTALE_GATEWAY_WANTS="+string(text))
	cmd.Stderr = os.Stderr
	pipe, err := cmd.StdoutPipe()
	ok(t, err)
	ok(t, cmd.Start())
	return cmd, bufio.NewScanner(pipe)
}

// left is what a store holds after all.
type left struct {
	saved  map[string]alarms.Transition
	engine *engine.Engine
}

func whatIsLeft(t *testing.T, dir string) left {
	t.Helper()
	k, err := peekAt(dir)
	ok(t, err)
	c, err := read(victimConfig, dir)
	ok(t, err)
	l := left{saved: map[string]alarms.Transition{}}
	l.engine, _, err = restore(c.Plan, k.Snapshot)
	ok(t, err)
	for _, in := range k.Inputs {
		say.Step(l.engine, in)
	}
	s, err := store.Open(dir, store.Options{})
	ok(t, err)
	defer s.Close()
	all, err := s.Log.Transitions(context.Background(), store.LogQuery{Limit: 1 << 30})
	ok(t, err)
	for _, tr := range all {
		if strings.Contains(tr.ID, "~") {
			t.Errorf("the transition %s was made twice with different meanings", tr.ID)
		}
		l.saved[tr.ID] = tr
	}
	return l
}

// lived puts together every input that came to last, over all lives: what the
// journal held before each recovery, and the marker of the recovery if it came
// as far as its snapshot. One that did not has left its marker in the journal,
// or nothing at all.
func lived(t *testing.T, dir string) []alarms.Input {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "peek-*"))
	ok(t, err)
	var peeks []peek
	for _, f := range files {
		k, err := readPeek(f)
		ok(t, err)
		peeks = append(peeks, k)
	}
	last, err := peekAt(filepath.Join(dir, "store"))
	ok(t, err)
	peeks = append(peeks, last)
	var all []alarms.Input
	for i, k := range peeks[:len(peeks)-1] {
		if !bytes.Equal(peeks[i+1].Snapshot, k.Snapshot) {
			all = append(append(all, k.Inputs...), k.marker())
		}
	}
	return append(all, last.Inputs...)
}

// scripted gives the inputs that the steps up to last must bring about.
func scripted(t *testing.T, last int) []alarms.Input {
	t.Helper()
	c, err := read(victimConfig, "")
	ok(t, err)
	table, err := decode.New(c.Sources)
	ok(t, err)
	var all []alarms.Input
	for i := range last + 1 {
		switch m := script(i); {
		case m.act != nil:
			in := *m.act
			in.At = m.at
			all = append(all, in)
		case m.change != nil && m.change.Up:
			all = append(all, alarms.Input{At: m.at, Kind: alarms.LinkUp})
		case m.change != nil:
			all = append(all, alarms.Input{At: m.at, Kind: alarms.LinkDown, Note: m.change.Why})
		case m.msg != nil:
			problems := table.Decode(m.msg.Topic, m.msg.Payload, m.at, func(v decode.Value) {
				all = append(all, alarms.Input{At: m.at, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity, Value: v.Value})
			})
			for _, p := range problems {
				for _, q := range p.Quantities {
					all = append(all, alarms.Input{At: m.at, Kind: alarms.GarbledIn, Probe: p.Probe, Quantity: q, Note: p.Detail})
				}
			}
		}
	}
	return all
}

func judged(t *testing.T, inputs []alarms.Input) (*engine.Engine, []alarms.Transition) {
	t.Helper()
	c, err := read(victimConfig, "")
	ok(t, err)
	e, err := engine.New(c.Plan)
	ok(t, err)
	var all []alarms.Transition
	for _, in := range inputs {
		all = append(all, say.Step(e, in)...)
	}
	return e, slices.DeleteFunc(all, ofTheKills)
}

// ofTheKills reports whether t tells of the kills themselves, which are no part of
// the script: what a run notes of them as it begins is in the journal only until
// its first snapshot.
func ofTheKills(t alarms.Transition) bool { return t.Alarm == alarms.TroubleStarts }

// plain is a transition without what the pace of the ticks decides, and in one
// time zone.
func plain(t *testing.T, tr alarms.Transition) string {
	t.Helper()
	tr.Noticed = time.Time{}
	b, err := json.Marshal(tr)
	ok(t, err)
	return string(b)
}

func states(e *engine.Engine) string {
	var b strings.Builder
	for _, a := range e.Picture().Alarms {
		if a.ID == alarms.TroubleStarts {
			continue
		}
		fmt.Fprintln(&b, a.ID, a.State, a.Level, a.Transition)
	}
	return b.String()
}

func TestKilledAgainAndAgainTheWatchLosesNoAlarm(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills processes")
	}
	t.Parallel()
	dir := t.TempDir()
	last := killed(t, dir, sample(12, 50), 0)
	l := whatIsLeft(t, filepath.Join(dir, "store"))
	inputs := lived(t, dir)
	sameInputs(t, inputs, scripted(t, last))

	reference, want := judged(t, inputs)
	saved := 0
	for _, tr := range l.saved {
		if !ofTheKills(tr) {
			saved++
		}
	}
	if len(want) != saved || len(want) < 50 {
		t.Errorf("%d transitions are saved, the same inputs without a kill make %d", saved, len(want))
	}
	lost := 0
	for _, tr := range want {
		if got, found := l.saved[tr.ID]; !found {
			lost++
			t.Errorf("lost: %s %s, due %v", tr.ID, tr.Move, tr.Due)
		} else if plain(t, got) != plain(t, tr) {
			t.Errorf("saved\n%s\nwithout a kill\n%s", plain(t, got), plain(t, tr))
		}
	}
	if got, want := states(l.engine), states(reference); got != want {
		t.Errorf("states\n%s\nwithout a kill\n%s", got, want)
	}
	noneMissed(t, l.saved, last)
	untold, again := told(t, dir, l.saved)
	t.Logf("%d steps, %d inputs, %d transitions", last, len(inputs), len(want))
	trials.Report(t, fmt.Sprintf("killed at any moment, %d times", sample(12, 50)), trials.Lost(lost+untold), trials.Twice(again))
}

// TestKilledWhileStoppingTheWatchLosesNoAlarm has clean stops in between, so
// that kills meet those too. They leave no journal, and so no exact reference;
// what was saved is held against a run that nobody disturbed.
func TestKilledWhileStoppingTheWatchLosesNoAlarm(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills processes")
	}
	t.Parallel()
	dir := t.TempDir()
	last := killed(t, dir, sample(6, 20), 300)
	l := whatIsLeft(t, filepath.Join(dir, "store"))
	noneMissed(t, l.saved, last)
	untold, again := told(t, dir, l.saved)
	t.Logf("%d steps, %d transitions", last, len(l.saved))
	trials.Report(t, fmt.Sprintf("killed while it stops, and else, %d times", sample(6, 20)), trials.Lost(untold), trials.Twice(again))
}

// sameInputs demands every step of the script in the journal, once and in
// order. A restart may have moved one on by the time of its marker.
func sameInputs(t *testing.T, got, want []alarms.Input) {
	t.Helper()
	got = slices.DeleteFunc(slices.Clone(got), func(in alarms.Input) bool { return !scriptedInput(in) })
	for i := range min(len(got), len(want)) {
		g, w := got[i], want[i]
		if late := g.At.Sub(w.At); late < 0 || late >= victimStep {
			t.Fatalf("input %d came at %v, want %v", i, g.At, w.At)
		}
		g.At = w.At
		if g != w {
			t.Fatalf("input %d is\n%+v\nwant\n%+v", i, g, w)
		}
	}
	if len(got) != len(want) {
		t.Fatalf("%d inputs are in the journal, want %d", len(got), len(want))
	}
}
