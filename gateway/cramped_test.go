package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/link"
	"telltale/gateway/reach"
	"telltale/gateway/trials"
)

// said is a notifier that writes to standard output, which is a pipe and so
// needs no room on a disk. It keeps which transitions it told.
type said struct {
	mu   sync.Mutex
	told map[string]bool
}

func (s *said) Tell(_ context.Context, t reach.Telling) error {
	lines, err := slipsOf(t)
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, e := range t.Events {
		s.told[e.ID] = true
	}
	_, err = os.Stdout.Write(lines)
	return err
}

// all reports whether every alarm that asks for somebody was told.
func (s *said) all(p alarms.Picture) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, a := range p.Alarms {
		if a.State == alarms.Unacknowledged && !s.told[a.Transition] && !s.told[a.News] {
			return false
		}
	}
	return true
}

func (s *said) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.told)
}

// room lets files of this process grow up to n bytes: the same as a full disk,
// seen from here.
func room(n uint64) error {
	return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: n, Max: math.MaxInt64})
}

func within(what string, ok func() bool) error {
	for range 3000 {
		if ok() {
			return nil
		}
		time.Sleep(5 * time.Millisecond)
	}
	return fmt.Errorf("not in 15 s: %s", what)
}

// Steps of the script at which the disk fills up, and has room again.
const (
	crampedFrom = 700
	crampedTo   = 2400
	crampedLast = 3000
)

// cramped plays the script while for some of it nothing can be written.
func cramped(dir string) error {
	signal.Ignore(syscall.SIGXFSZ)
	tell := &said{told: map[string]bool{}}
	p, err := buildVictim(dir, tell, victimStart)
	if err != nil {
		return err
	}
	messages, changes := make(chan link.Message), make(chan link.Change)
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	var failed error
	var both sync.WaitGroup
	both.Go(func() { defer close(p.gone); failed = p.owner.run(ctx, messages, changes) })
	both.Go(func() { _ = p.worker.Run(ctx) })
	play := func(from, to int) {
		for i := from; i < to; i++ {
			p.play(script(i), messages, changes)
		}
	}
	play(0, crampedFrom)
	if err := p.allTold(); err != nil {
		return err
	}
	if err := room(4096); err != nil {
		return err
	}
	fmt.Println("full")
	before := tell.count()
	for i := crampedFrom; i < crampedTo; i += 100 {
		play(i, i+100)
		err := within("what happens while the disk is full is told", func() bool { return tell.all(p.watch.Picture()) })
		if err != nil {
			return err
		}
	}
	if got := stateOf(p.watch.Picture(), alarms.TroubleDisk); got != alarms.Unacknowledged && got != alarms.Acknowledged {
		return fmt.Errorf("while the disk is full %s is %v", alarms.TroubleDisk, got)
	}
	if n := tell.count() - before; n < 10 {
		return fmt.Errorf("only %d transitions were told while the disk was full", n)
	}
	fmt.Println("room")
	if err := room(math.MaxInt64); err != nil {
		return err
	}
	if err := within("the trouble is over", func() bool { return !stateOf(p.watch.Picture(), alarms.TroubleDisk).Active() }); err != nil {
		return err
	}
	play(crampedTo, crampedLast+1)
	if err := p.allTold(); err != nil {
		return err
	}
	stop()
	both.Wait()
	return failed
}

func TestAFullDiskSilencesNoAlarm(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "TELLTALE_GATEWAY_CRAMPED="+dir)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v:\n%s", err, out)
	}
	l := whatIsLeft(t, filepath.Join(dir, "store"))
	lost, twice := toldWell(t, out, l.saved)

	_, while, _ := bytes.Cut(out, []byte("full\n"))
	while, _, _ = bytes.Cut(while, []byte("room\n"))
	trouble := 0
	for line := range bytes.Lines(while) {
		var s slip
		if json.Unmarshal(line, &s) == nil && s.Event.Alarm == alarms.TroubleDisk && s.Event.Move == alarms.Raise {
			trouble++
			if !strings.Contains(s.Event.Sentence, "The watch cannot save, since ") || !strings.Contains(s.Event.Sentence, "no space is left on the disk") {
				t.Errorf("the trouble is told as %q", s.Event.Sentence)
			}
		}
	}
	if trouble == 0 {
		t.Error("nobody was told that the disk is full while it was")
	}

	// All that happened is on the disk in the end, as without a full disk but
	// for the trouble itself.
	_, want := judged(t, scripted(t, crampedLast))
	for _, tr := range want {
		got, found := l.saved[tr.ID]
		if tr.Alarm == alarms.TroubleDisk {
			continue
		}
		if !found {
			lost++
			t.Errorf("not saved: %s %s, due %v", tr.ID, tr.Move, tr.Due)
		} else if got.Move != tr.Move || got.To != tr.To || got.Due.Sub(tr.Due).Abs() >= victimStep {
			t.Errorf("saved %s %s due %v, want %s due %v", got.ID, got.Move, got.Due, tr.Move, tr.Due)
		}
	}
	trials.Report(t, "the disk is full for a while", trials.Lost(lost), trials.Twice(twice))
}
