package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
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
	"telltale/gateway/trials"
)

// playing is a watch that is played some steps of the script.
type playing struct {
	*parts
	tell *said
	stop func() error // ends the owner and the teller, and closes the store
}

// lives builds a watch over what is in dir and plays the script from one step
// to another.
func lives(dir string, from, to int, how ...func(*Options)) (playing, error) {
	l := playing{tell: &said{told: map[string]bool{}}}
	var err error
	if l.parts, err = buildVictimBy(victimConfig, dir, l.tell, stepTime(from), how...); err != nil {
		return l, err
	}
	ctx, stop := context.WithCancel(context.Background())
	messages, changes := make(chan link.Message), make(chan link.Change)
	var failed error
	var both sync.WaitGroup
	both.Go(func() { defer close(l.gone); failed = l.owner.run(ctx, messages, changes) })
	both.Go(func() { _ = l.worker.Run(ctx) })
	l.stop = func() error {
		stop()
		both.Wait()
		return errors.Join(failed, l.page.Run(canceled()), l.close())
	}
	<-l.owner.begun
	for i := from; i < to; i++ {
		l.play(script(i), messages, changes)
	}
	return l, nil
}

// tells waits until a trouble is told, and returns its sentence.
func (l playing) tells(t *testing.T, id alarms.AlarmID) (sentence string) {
	t.Helper()
	await(t, fmt.Sprintf("%s is told", id), func() bool {
		p := l.watch.Picture()
		for _, a := range p.Alarms {
			if a.ID == id && a.State == alarms.Unacknowledged {
				sentence = a.Sentence
				return a.Priority == alarms.High && l.tell.all(p)
			}
		}
		return false
	})
	return sentence
}

// Whatever the store is like, the watch starts, alarms are told, and so is
// what is lost.
func TestWhateverTheStoreIsLikeTheWatchTells(t *testing.T) {
	const askForAll = `long-house is judged as in season "open", low-house is judged as in season "open" until the season is set`
	for _, c := range []struct {
		name   string
		do     func(dir string) error
		is     alarms.AlarmID
		says   []string
		season alarms.Season // of the Long House afterwards
	}{
		{"its database is garbage", func(dir string) error {
			return errors.Join(os.WriteFile(filepath.Join(dir, "telltale.db"), []byte(strings.Repeat("no database ", 1000)), 0o600),
				os.RemoveAll(filepath.Join(dir, "telltale.db-wal")))
		}, alarms.TroubleStore, []string{"the database was damaged; it is put aside as telltale.db.damaged-", askForAll, "please set it again"}, alarms.SeasonOpen},
		{"it is gone", os.RemoveAll, alarms.TroubleStore, []string{"the store was empty or gone, although", askForAll}, alarms.SeasonOpen},
		{"a journal segment is stray", func(dir string) error {
			return os.WriteFile(filepath.Join(dir, "journal-18446744073709551615.log"), []byte("x"), 0o600)
		}, alarms.TroubleStore, []string{"a file that is no part of the journal is put aside"}, alarms.SeasonWinter},
		{"a file has its name", func(dir string) error {
			return errors.Join(os.RemoveAll(dir), os.WriteFile(dir, nil, 0o600))
		}, alarms.TroubleDisk, []string{"The watch cannot save", "works from memory: it is not a directory", askForAll}, alarms.SeasonOpen},
		{"its parent is gone", func(dir string) error { return os.RemoveAll(filepath.Dir(dir)) },
			alarms.TroubleDisk, []string{"The watch cannot save", "works from memory", askForAll}, alarms.SeasonOpen},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), "watch")
			ok(t, os.Mkdir(dir, 0o700))
			first, err := lives(dir, 0, 50)
			ok(t, err)
			ok(t, first.watch.Do(context.Background(), alarms.Input{Kind: alarms.SetSeason, House: "long-house", Season: alarms.SeasonWinter, By: "grower"}))
			ok(t, first.stop())
			ok(t, c.do(filepath.Join(dir, "store")))

			l, err := lives(dir, 126, 164) // hot, and nobody acknowledges
			ok(t, err)
			defer func() { _ = l.stop() }() // where nothing can be saved it says so
			sentence := l.tells(t, c.is)
			for _, words := range c.says {
				if !strings.Contains(sentence, words) {
					t.Errorf("%s is told as %q, want %q in it", c.is, sentence, words)
				}
			}
			raised := false
			lost := 0
			l.tell.mu.Lock()
			for id := range l.tell.told {
				raised = raised || strings.HasPrefix(id, string(benchHigh)+"#")
			}
			l.tell.mu.Unlock()
			if !raised {
				lost = 1
				t.Errorf("%s is not told", benchHigh)
			}
			for _, h := range l.watch.Picture().Houses {
				if h.ID == "long-house" && h.Season != c.season {
					t.Errorf("the season is %s, want %s", h.Season, c.season)
				}
			}
			trials.Report(t, "the store: "+c.name, trials.Lost(lost))
		})
	}
}

// A loss is told once, and again only after a restart while nobody has taken it.
func TestALossIsOnUntilSomebodyTakesIt(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	first, err := lives(dir, 0, 50)
	ok(t, err)
	ok(t, first.stop())
	ok(t, os.WriteFile(filepath.Join(dir, "store", "journal-18446744073709551615.log"), []byte("x"), 0o600))
	second, err := lives(dir, 60, 80)
	ok(t, err)
	second.tells(t, alarms.TroubleStore)
	ok(t, second.stop())
	third, err := lives(dir, 90, 100)
	ok(t, err)
	if s := stateOf(third.watch.Picture(), alarms.TroubleStore); s != alarms.Unacknowledged {
		t.Errorf("after a restart it is %v", s)
	}
	ok(t, third.watch.Do(context.Background(), alarms.Input{Kind: alarms.Acknowledge, Alarm: alarms.TroubleStore, By: "grower"}))
	if s := stateOf(third.watch.Picture(), alarms.TroubleStore); s != alarms.Normal {
		t.Errorf("taken, it is %v", s)
	}
	ok(t, third.stop())
}

// A disk that comes late has what was set before: the watch begins again with it.
func TestADiskThatComesLateIsTakenUp(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	first, err := lives(dir, 0, 50)
	ok(t, err)
	ok(t, first.watch.Do(context.Background(), alarms.Input{Kind: alarms.SetSeason, House: "long-house", Season: alarms.SeasonWinter, By: "grower"}))
	ok(t, first.stop())
	at, away := filepath.Join(dir, "store"), filepath.Join(dir, "away")
	ok(t, errors.Join(os.Rename(at, away), os.WriteFile(at, nil, 0o600)))

	var mu sync.Mutex
	now := time.Now()
	slow := func(o *Options) { o.storeNow = func() time.Time { mu.Lock(); defer mu.Unlock(); return now } }
	second, err := lives(dir, 60, 80, slow)
	ok(t, err)
	second.tells(t, alarms.TroubleDisk)
	ok(t, second.watch.Do(context.Background(), alarms.Input{Kind: alarms.SetSeason, House: "low-house", Season: alarms.SeasonWinter, By: "grower"}))
	ok(t, errors.Join(os.Remove(at), os.Rename(away, at)))
	mu.Lock()
	now = now.Add(2 * time.Minute)
	mu.Unlock()
	<-second.gone // by itself
	if err := second.stop(); !errors.Is(err, errEarlier) {
		t.Errorf("the run ends with %v", err)
	}

	third, err := lives(dir, 90, 100)
	ok(t, err)
	for _, h := range third.watch.Picture().Houses {
		if h.Season != alarms.SeasonWinter {
			t.Errorf("%s is in season %s: what was set before the disk was gone, or while it was, is lost", h.ID, h.Season)
		}
	}
	await(t, "the trouble is over", func() bool { return !stateOf(third.watch.Picture(), alarms.TroubleDisk).Active() })
	ok(t, third.stop())
}

// stuffed is a watch that dies without a snapshot and starts again on a full
// disk: what it told before it must not tell again.
func stuffed(dir string) error {
	signal.Ignore(syscall.SIGXFSZ)
	first, err := lives(dir, 0, 400)
	if err != nil {
		return err
	}
	if err := first.allTold(); err != nil {
		return err
	}
	copied := filepath.Join(dir, "after")
	if err := os.CopyFS(filepath.Join(copied, "store"), os.DirFS(filepath.Join(dir, "store"))); err != nil {
		return err
	}
	if err := room(4096); err != nil {
		return err
	}
	fmt.Println("full")
	second, err := lives(copied, 410, 800)
	if err != nil {
		return err
	}
	if err := within("what happens is told", func() bool { return second.tell.all(second.watch.Picture()) && second.tell.count() > 4 }); err != nil {
		return err
	}
	if got := stateOf(second.watch.Picture(), alarms.TroubleDisk); !got.Active() {
		return fmt.Errorf("while the disk is full %s is %v", alarms.TroubleDisk, got)
	}
	fmt.Println("end")
	return room(math.MaxInt64)
}

func TestAStartOnAFullDiskTellsNothingAgain(t *testing.T) {
	t.Parallel()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "TELLTALE_GATEWAY_STUFFED="+t.TempDir())
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v:\n%s", err, out)
	}
	before, then, _ := bytes.Cut(out, []byte("full\n"))
	then, _, ended := bytes.Cut(then, []byte("end\n"))
	told, again := whoHeard(before), whoHeard(then)
	if !ended || len(told) < 5 || len(again) < 5 {
		t.Fatalf("told before %v, and then %v", told, again)
	}
	twice := 0
	for one := range again {
		if told[one] {
			twice++
			t.Errorf("told again: %s", one)
		}
	}
	trials.Report(t, "killed, and started on a full disk", trials.Twice(twice))
}

// whoHeard lists who was told what.
func whoHeard(out []byte) map[string]bool {
	all := map[string]bool{}
	for line := range bytes.Lines(out) {
		var s slip
		if json.Unmarshal(line, &s) == nil && s.Event.ID != "" {
			all[s.Person+" of "+s.Event.ID] = true
		}
	}
	return all
}

// A disk that comes late and is empty gets all that is known, and what is lost
// is told.
func TestADiskThatComesLateAndEmptyGetsWhatIsKnown(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	first, err := lives(dir, 0, 50)
	ok(t, err)
	ok(t, first.stop())
	at := filepath.Join(dir, "store")
	ok(t, errors.Join(os.RemoveAll(at), os.WriteFile(at, nil, 0o600)))

	var mu sync.Mutex
	now := time.Now()
	second, err := lives(dir, 60, 80, func(o *Options) { o.storeNow = func() time.Time { mu.Lock(); defer mu.Unlock(); return now } })
	ok(t, err)
	second.tells(t, alarms.TroubleDisk)
	ok(t, second.watch.Do(context.Background(), alarms.Input{Kind: alarms.SetSeason, House: "low-house", Season: alarms.SeasonWinter, By: "grower"}))
	ok(t, os.Remove(at))
	mu.Lock()
	now = now.Add(2 * time.Minute)
	mu.Unlock()
	if s := second.tells(t, alarms.TroubleStore); !strings.Contains(s, "the store was empty or gone, although") || !strings.Contains(s, "please set it again") {
		t.Errorf("the loss is told as %q", s)
	}
	await(t, "the trouble is over", func() bool { return !stateOf(second.watch.Picture(), alarms.TroubleDisk).Active() })
	await(t, "all is saved", func() bool { return second.allTold() == nil })
	copied := filepath.Join(dir, "killed") // as it would be found after a power cut
	ok(t, os.CopyFS(filepath.Join(copied, "store"), os.DirFS(at)))
	ok(t, second.stop())
	for _, where := range []string{dir, copied} {
		third, err := lives(where, 90, 100)
		ok(t, err)
		for _, h := range third.watch.Picture().Houses {
			if h.ID == "low-house" && h.Season != alarms.SeasonWinter {
				t.Errorf("%s is in season %s", h.ID, h.Season)
			}
		}
		ok(t, third.stop())
	}
}
