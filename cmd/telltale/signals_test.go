package main

import (
	"os"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

func TestOnlyALaterSecondInterruptEndsAtOnce(t *testing.T) {
	for _, c := range []struct {
		name   string
		pauses []time.Duration // before each signal
		ends   time.Duration   // after the start; 0: it does not
	}{
		{"one alone", []time.Duration{0}, 0},
		{"one that came twice", []time.Duration{0, time.Millisecond}, 0},
		{"three within a second", []time.Duration{time.Hour, apart / 2, apart/2 - 1}, 0},
		{"a second one", []time.Duration{0, apart}, apart},
		{"twice, then a second one", []time.Duration{time.Minute, 0, 5 * time.Second}, time.Minute + 5*time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				begin := time.Now()
				signals, obeyed := make(chan os.Signal, len(c.pauses)), make(chan struct{})
				stops, ended := 0, time.Duration(0)
				go func() {
					defer close(obeyed)
					obey(signals, func() { stops++ }, func() { ended = time.Since(begin) })
				}()
				for i, p := range c.pauses {
					time.Sleep(p)
					signals <- syscall.SIGTERM
					synctest.Wait()
					if stops != 1 {
						t.Fatalf("after signal %d it was asked to stop %d times, want once", i+1, stops)
					}
				}
				close(signals)
				<-obeyed
				if ended != c.ends {
					t.Errorf("ended at once after %v, want %v (0: never)", ended, c.ends)
				}
			})
		})
	}
}

func TestEveryShellGetsItsCompletion(t *testing.T) {
	t.Parallel()
	for _, s := range shells {
		var out strings.Builder
		root := newRoot()
		root.SetArgs([]string{"completion", s.name})
		root.SetOut(&out)
		ok(t, root.Execute())
		if !strings.Contains(out.String(), "telltale") {
			t.Errorf("the script for %s does not name the program:\n%.300s", s.name, out.String())
		}
	}
	for _, args := range [][]string{{"completion", "--help"}, {"help", "completion"}} {
		var help strings.Builder
		root := newRoot()
		root.SetArgs(args)
		root.SetOut(&help)
		ok(t, root.Execute())
		for _, want := range []string{"telltale completion SHELL", "source <(telltale completion bash)", "--help"} {
			if !strings.Contains(help.String(), want) {
				t.Errorf("%q does not say %q, but\n%s", args, want, help.String())
			}
		}
	}
}
