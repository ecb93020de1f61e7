package reach

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
)

// script makes a notifier that runs a shell script in a folder of its own.
func script(t *testing.T, text string, change ...func(*Command)) (c *Command, dir string) {
	t.Helper()
	dir = t.TempDir()
	c, err := NewCommand("/bin/sh", []string{"-c", text, "sh", "an argument; with $SIGNS"})
	if err != nil {
		t.Fatal(err)
	}
	c.dir = dir
	for _, f := range change {
		f(c)
	}
	return c, dir
}

func read(t *testing.T, parts ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(parts...))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestCommandGetsTheDocument(t *testing.T) {
	t.Setenv("TELLTALE_SECRET", "s3cr3t")
	c, dir := script(t, `cat >document; env >environment; printf %s "$1" >argument; echo much talk`)
	give := telling(garden(), "phone", tooHot(alarms.High))
	if err := c.Tell(t.Context(), give); err != nil {
		t.Fatal(err)
	}
	checkAgainst(t, "webhook.json", []byte(read(t, dir, "document")))
	if want, _ := document(give); read(t, dir, "document") != string(want) {
		t.Errorf("got %s", read(t, dir, "document"))
	}
	if got := read(t, dir, "argument"); got != "an argument; with $SIGNS" {
		t.Errorf("argument %q", got)
	}
	seen := map[string]bool{}
	for line := range strings.Lines(read(t, dir, "environment")) {
		name, _, _ := strings.Cut(line, "=")
		seen[name] = true
	}
	for _, own := range []string{"PWD", "OLDPWD", "SHLVL", "_"} { // the shell's own
		delete(seen, own)
	}
	if len(seen) != 2 || !seen["PATH"] || !seen["LANG"] {
		t.Errorf("environment %v, want PATH and LANG", seen)
	}
}

// TestCommandExitCodes uses the meanings of sysexits.h (BSD, from memory checked
// against the C library's header).
func TestCommandExitCodes(t *testing.T) {
	kinds := map[int]string{0: "", 64: "permanent", 65: "permanent", 67: "nobody there", 77: "denied", 78: "denied"}
	for code := range 80 {
		if code > 2 && code < 63 {
			continue
		}
		c, _ := script(t, fmt.Sprintf("echo 'no modem' >&2; exit %d", code))
		err := c.Tell(t.Context(), telling(garden(), "phone", tooHot(alarms.High)))
		want, ok := kinds[code]
		if !ok {
			want = "temporary"
		}
		if got := kindOfError(err); got != want {
			t.Errorf("exit code %d: got %v, %q, want %q", code, err, got, want)
		}
		if want := fmt.Sprintf(`the command /bin/sh ended with exit status %d; it said "no modem"`, code); err != nil && err.Error() != want {
			t.Errorf("got %q, want %q", err, want)
		}
	}
}

func TestCommandOtherEnds(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"killed", "kill -9 $$", "the command /bin/sh ended with signal: killed"},
		{"reads nothing", "exit 0", ""},
		{"talks without end, then ends", "head -c 1000000 /dev/zero; head -c 1000000 /dev/zero >&2", ""},
		{"odd bytes", `printf 'a\nb\200c\033[1m' >&2; exit 1`, `the command /bin/sh ended with exit status 1; it said "a bc [1m"`},
	}
	for _, c := range cases {
		cmd, _ := script(t, c.text)
		err := cmd.Tell(t.Context(), telling(garden(), "phone", tooHot(alarms.High)))
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	absent, err := NewCommand("/nonexistent/siren", nil)
	if err != nil {
		t.Fatal(err)
	}
	err = absent.Tell(t.Context(), telling(garden(), "phone", tooHot(alarms.High)))
	var final *Permanent
	if err == nil || errors.As(err, &final) || !strings.HasPrefix(err.Error(), "the command could not be run; check that it is there and may be executed") {
		t.Errorf("absent program: got %v", err)
	}
}

// TestCommandIsKilledAsAGroup: at the limit, and when the watch stops, the
// program goes with all that it started.
func TestCommandIsKilledAsAGroup(t *testing.T) {
	t.Parallel() // it waits for the limit
	const text = "sleep 600 & echo $! >child; echo $$ >self; wait"
	for _, stopped := range []bool{false, true} {
		c, dir := script(t, text, func(c *Command) { c.limit = time.Minute })
		ctx, cancel := context.WithCancel(t.Context())
		if !stopped {
			c.limit = 2 * time.Second
		}
		done := make(chan error, 1)
		go func() { done <- c.Tell(ctx, telling(garden(), "phone", tooHot(alarms.High))) }()
		eventually(t, "both have started", func() bool { return written(dir, "self") && written(dir, "child") })
		if stopped {
			cancel()
		}
		err := <-done
		cancel()
		want := "the command /bin/sh did not end within 2s and was killed; check what it waits for"
		if stopped {
			want = "the command /bin/sh was stopped: context canceled"
		}
		if err == nil || err.Error() != want {
			t.Errorf("got %v, want %q", err, want)
		}
		for _, file := range []string{"self", "child"} {
			pid, err := strconv.Atoi(strings.TrimSpace(read(t, dir, file)))
			if err != nil {
				t.Fatal(err)
			}
			eventually(t, file+" has ended", func() bool { return ended(pid) })
		}
	}
}

func written(dir, file string) bool {
	b, err := os.ReadFile(filepath.Join(dir, file))
	return err == nil && strings.HasSuffix(string(b), "\n")
}

// ended reports whether there is no such process, or only its remains that
// nobody has collected.
func ended(pid int) bool {
	if syscall.Kill(pid, 0) != nil {
		return true
	}
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	return err == nil && strings.Contains(string(stat), ") Z ")
}

// eventually waits for ok, 10 seconds at most.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("not within 10 s: %s", what)
}

// TestOutputIsBounded: a program that talks without end fills no memory.
func TestOutputIsBounded(t *testing.T) {
	var h head
	for range 100 {
		if n, err := h.Write(make([]byte, 1000)); n != 1000 || err != nil {
			t.Fatalf("got %d, %v", n, err)
		}
	}
	if len(h.kept) != commandOutput {
		t.Errorf("%d bytes are kept, want %d", len(h.kept), commandOutput)
	}
}

func TestNewCommandChecks(t *testing.T) {
	_, err := NewCommand("siren", nil)
	if want := `the command needs the absolute path of a program (got "siren")`; err == nil || err.Error() != want {
		t.Errorf("got %v", err)
	}
}
