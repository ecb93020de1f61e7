package store

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
)

// TestMain lets the test binary also be the process that is killed.
func TestMain(m *testing.M) {
	if dir := os.Getenv("TELLTALE_STORE_VICTIM"); dir != "" {
		if err := victim(dir, os.Stdout); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		return
	}
	if dir := os.Getenv("TELLTALE_STORE_CRAMPED"); dir != "" {
		cramped(dir)
		return
	}
	os.Exit(m.Run())
}

// seconds after start is how the victim numbers its readings: the value is the
// number, the time follows from it.
func numbered(n int) alarms.Input {
	return reading(start.Add(time.Duration(n)*time.Second), "bench-1", float64(n))
}

// victim goes on from where the store is, appending, saving and taking
// checkpoints as fast as it can, and says what it was promised.
func victim(dir string, out io.Writer) error {
	s, err := Open(dir, Options{})
	if err != nil {
		return err
	}
	n, err := standing(s)
	if err != nil {
		return err
	}
	fmt.Fprintln(out, "synced", n)
	for i := 0; ; i++ {
		for range rand.IntN(200) {
			n++
			s.Append(numbered(n))
		}
		switch {
		case i%7 == 6:
			err = s.Checkpoint([]byte(fmt.Sprint(n)))
		case i%3 == 2:
			tr := raise(n, start.Add(time.Duration(n)*time.Second))
			err = s.Save([]alarms.Transition{tr}, []reach.Outgoing{telling(tr, "robin", 0)})
			if err == nil {
				fmt.Fprintln(out, "saved", tr.ID)
			}
		default:
			err = s.Sync()
		}
		if err != nil {
			return err
		}
		fmt.Fprintln(out, "synced", n)
	}
}

// standing is the number of the last reading, from the snapshot and the
// journal; they must follow one another without a gap.
func standing(s *Store) (int, error) {
	snap, inputs, err := s.Recover()
	if err != nil {
		return 0, err
	}
	n := 0
	fmt.Sscan(string(snap), &n)
	for in, err := range inputs {
		if err != nil {
			return 0, err
		}
		if in.Kind != alarms.ReadingIn {
			continue
		}
		if n++; in != numbered(n) {
			return 0, fmt.Errorf("after %d came %+v", n-1, in)
		}
	}
	return n, nil
}

func TestKilledAtAnyMomentNothingSavedIsLost(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills processes")
	}
	exe, err := os.Executable()
	ok(t, err)
	dir := t.TempDir()
	var saved []string
	for round := range sample(8, 25) {
		promised := killOne(t, exe, dir, &saved)
		s := open(t, dir, Options{})
		n, err := standing(s)
		ok(t, err)
		if n < promised {
			t.Fatalf("round %d: %d readings are left, %d were synced", round, n, promised)
		}
		ctx := context.Background()
		got, err := s.History.Readings(ctx, "bench-1", alarms.Temperature, start, start.Add(10000*time.Hour), 0)
		ok(t, err)
		if len(got) != n || n > 0 && got[n-1].Value != float64(n) {
			t.Fatalf("round %d: the history has %d readings, want %d", round, len(got), n)
		}
		for _, id := range saved {
			if _, there := logged(t, s, id); !there {
				t.Fatalf("round %d: transition %s was saved and is gone", round, id)
			}
		}
		if c := counts(t, s); c.Waiting < len(saved) {
			t.Fatalf("round %d: %d tellings wait, want at least %d", round, c.Waiting, len(saved))
		}
		sound(t, s)
		ok(t, s.Close())
	}
	if len(saved) == 0 {
		t.Fatal("no round came as far as a saved transition")
	}
}

// killOne runs a victim, kills it at a random moment and returns the last
// reading it was promised; saved gets the transitions.
func killOne(t *testing.T, exe, dir string, saved *[]string) (promised int) {
	t.Helper()
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), "TELLTALE_STORE_VICTIM="+dir)
	out, err := cmd.StdoutPipe()
	ok(t, err)
	ok(t, cmd.Start())
	lines, limit := 0, 1+rand.IntN(120)
	sc := bufio.NewScanner(out)
	for sc.Scan() {
		what, rest, _ := strings.Cut(sc.Text(), " ")
		switch what {
		case "synced":
			fmt.Sscan(rest, &promised)
		case "saved":
			*saved = append(*saved, rest)
		default:
			t.Errorf("the victim says: %s", sc.Text())
		}
		if lines++; lines == limit { // it goes on meanwhile: the kill meets it anywhere
			ok(t, cmd.Process.Kill())
		}
	}
	cmd.Wait()
	return promised
}
