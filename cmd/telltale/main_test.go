package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms"
)

// TestMain lets the test binary also be the program itself.
func TestMain(m *testing.M) {
	if os.Getenv("TELLTALE_IS_PROGRAM") != "" {
		os.Exit(run(os.Args[1:]))
	}
	os.Exit(m.Run())
}

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// program is a running telltale.
type program struct {
	t    *testing.T
	cmd  *exec.Cmd
	done chan struct{} // closed when it has ended

	mu       sync.Mutex
	out, err bytes.Buffer
	news     chan struct{} // something was written
}

// start runs telltale with args; the test ends it if it has not ended itself.
func start(t *testing.T, args ...string) *program {
	t.Helper()
	return startIn(t, t.TempDir(), args...)
}

// startIn is start with a directory for temporary files.
func startIn(t *testing.T, tmp string, args ...string) *program {
	t.Helper()
	return startWith(t, []string{"TMPDIR=" + tmp}, args...)
}

// startWith is start with more in its environment.
func startWith(t *testing.T, env []string, args ...string) *program {
	t.Helper()
	p := &program{t: t, cmd: exec.Command(os.Args[0], args...), done: make(chan struct{}), news: make(chan struct{}, 1)}
	p.cmd.Env = append(os.Environ(), "TELLTALE_IS_PROGRAM=1", "STATE_DIRECTORY=", "NOTIFY_SOCKET=")
	p.cmd.Env = append(p.cmd.Env, env...)
	stdout, err := p.cmd.StdoutPipe()
	ok(t, err)
	stderr, err := p.cmd.StderrPipe()
	ok(t, err)
	ok(t, p.cmd.Start())
	var copies sync.WaitGroup
	copies.Go(func() { p.keep(bufio.NewScanner(stdout), &p.out) })
	copies.Go(func() { p.keep(bufio.NewScanner(stderr), &p.err) })
	go func() { // waited for by the cleanup
		copies.Wait()
		_ = p.cmd.Wait() // the code is looked at by exit
		close(p.done)
	}()
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill() // it may have ended
		<-p.done
		if t.Failed() {
			t.Logf("telltale %s wrote\n%s", strings.Join(args, " "), p.stderr())
		}
	})
	return p
}

func (p *program) keep(from *bufio.Scanner, to *bytes.Buffer) {
	for from.Scan() {
		p.mu.Lock()
		fmt.Fprintln(to, from.Text())
		p.mu.Unlock()
		select {
		case p.news <- struct{}{}:
		default:
		}
	}
}

func (p *program) stdout() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.out.String()
}

func (p *program) stderr() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.err.String()
}

// line waits for the nth line of the log whose message is text.
func (p *program) line(text string, nth int) map[string]any {
	p.t.Helper()
	deadline := time.After(5 * time.Minute)
	for {
		found := 0
		for l := range strings.Lines(p.stderr()) {
			var fields map[string]any
			if json.Unmarshal([]byte(l), &fields) == nil && strings.Contains(fmt.Sprint(fields["message"]), text) {
				if found++; found == nth {
					return fields
				}
			}
		}
		select {
		case <-p.news:
		case <-p.done:
			p.t.Fatalf("it ended before it said %q; it wrote\n%s", text, p.stderr())
		case <-deadline:
			p.t.Fatalf("it did not say %q in time; it wrote\n%s", text, p.stderr())
		}
	}
}

// exit waits for the end and returns the exit code, -1 after a signal.
func (p *program) exit() int {
	p.t.Helper()
	select {
	case <-p.done:
	case <-time.After(5 * time.Minute):
		p.t.Fatalf("it did not end in time; it wrote\n%s", p.stderr())
	}
	return p.cmd.ProcessState.ExitCode()
}

// stop asks it to stop and demands that it says so with 0.
func (p *program) stop(s os.Signal) {
	p.t.Helper()
	ok(p.t, p.cmd.Process.Signal(s))
	if code := p.exit(); code != exitStopped {
		p.t.Errorf("after %v it exited with %d, want %d; it wrote\n%s", s, code, exitStopped, p.stderr())
	}
}

// small is a config for tests: one house, one probe, everything on free ports.
// extra is put at its end.
func small(t *testing.T, high float64, extra string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "small.toml")
	write(t, file, high, extra)
	return file
}

func write(t *testing.T, file string, high float64, extra string) {
	t.Helper()
	text := fmt.Sprintf(`[house.long-house]
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = %g
delay = "1s"
quick-delay = "1s"
clear-delay = "1s"
[probe.bench-1]
place = "long-house/bench"
every = "5m"
topic = "thimble-garth/bench-1"
[probe.bench-1.temperature]
jump = "any"
[page]
address = "127.0.0.1:0"
[store]
directory = %q
`, high, filepath.Join(filepath.Dir(file), "store"))
	if !strings.Contains(extra, "broker]") {
		extra += "\n[own-broker]\naddress = \"127.0.0.1:0\"\n"
	}
	if !strings.Contains(extra, "[[tell]]") {
		extra += "\n[channel.slip]\nkind = \"command\"\nrun = [\"/bin/true\"]\n[person.grower]\nchannels = [\"slip\"]\n[[tell]]\npeople = [\"grower\"]\n"
	}
	ok(t, os.WriteFile(file, []byte(text+extra), 0o600))
}

// picture asks the page of a running watch for its picture.
func picture(t *testing.T, page string) (alarms.Picture, error) {
	t.Helper()
	client := &http.Client{Timeout: 5 * time.Second}
	var p alarms.Picture
	resp, err := client.Get("http://" + page + "/state.json")
	if err != nil {
		return p, err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return p, errors.New(resp.Status)
	}
	return p, json.NewDecoder(resp.Body).Decode(&p)
}

// eventually waits until what holds.
func eventually(t *testing.T, want string, what func() bool) {
	t.Helper()
	for deadline := time.Now().Add(5 * time.Minute); time.Now().Before(deadline); {
		if what() {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatalf("not in time: %s", want)
}

// alarmState is the state of an alarm in a picture, Normal if it is not there.
func alarmState(p alarms.Picture, id alarms.AlarmID) alarms.State {
	for _, a := range p.Alarms {
		if a.ID == id {
			return a.State
		}
	}
	return alarms.Normal
}
