package page

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
)

// crowd is how many browsers follow at once here.
const crowd = 100

// A browser that takes nothing is dropped, and a hundred others get the newest
// state: none of them waits for it, none is dropped.
func TestLiveDropsOneOfAHundred(t *testing.T) {
	t.Parallel()
	f := newFake()
	st := start(t, Options{Watch: f}, quick, func(s *Server) { s.hub.stall = 3 * time.Second })
	defer st.deafen(f).Close()
	ctx, stop := context.WithCancel(t.Context())
	var good sync.WaitGroup
	defer good.Wait()
	defer stop()
	heard := make(chan int, 10*crowd)
	for i := range crowd {
		good.Go(func() { waitFor(ctx, st.base, "Still here.", i, heard) })
	}
	eventually(t, "all are followed", func() bool {
		got := st.server.Stats()
		return got.Live+int(got.Dropped) == crowd+1
	})
	eventually(t, "the deaf one is dropped", func() bool { return st.server.Stats().Dropped > 0 })
	f.change(func(p *alarms.Picture) { p.Houses[0].Sentence = "Still here." })
	told := map[int]bool{}
	for late := time.After(patience); len(told) < crowd; {
		select {
		case i := <-heard:
			told[i] = true
		case <-late:
			t.Fatalf("only %d of %d heard the newest", len(told), crowd)
		}
	}
	if got := st.server.Stats(); got.Dropped != 1 || got.Refused != 0 || got.Live != crowd {
		t.Errorf("got %+v, want one dropped, none refused and the others there", got)
	}
}

// deafen connects a browser that reads nothing, and sends until it can take no
// more: its newest drawing stays in the mailbox.
func (st *started) deafen(f *fakeWatch) net.Conn {
	st.t.Helper()
	small := net.Dialer{Control: func(_, _ string, c syscall.RawConn) error {
		return c.Control(func(fd uintptr) { _ = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_RCVBUF, 4096) })
	}}
	deaf, err := small.Dial("tcp", st.server.Addr())
	if err != nil {
		st.t.Fatal(err)
	}
	if _, err := deaf.Write([]byte("GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")); err != nil {
		st.t.Fatal(err)
	}
	long := strings.Repeat("x", 200_000)
	full := 0
	eventually(st.t, "the deaf one can take no more", func() bool {
		f.change(func(p *alarms.Picture) { p.Sentence += "."; p.Houses[0].Sentence = p.Sentence + long })
		if st.server.hub.waiting() > 0 {
			full++
		} else {
			full = 0
		}
		return full > 60 // for some time nothing was fetched from the mailbox
	})
	f.change(func(p *alarms.Picture) { p.Houses[0].Sentence = "All is well." })
	return deaf
}

// waiting counts the browsers that have not fetched the newest drawing.
func (h *hub) waiting() (n int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.clients {
		n += len(c.mail)
	}
	return n
}

// waitFor follows until it is told the words, and then says so.
func waitFor(ctx context.Context, base, say string, i int, heard chan<- int) {
	r, err := http.NewRequestWithContext(ctx, "GET", base+"/live", nil)
	if err != nil {
		return
	}
	a, err := (&http.Client{Transport: &http.Transport{}}).Do(r)
	if err != nil {
		return
	}
	defer a.Body.Close()
	lines := bufio.NewScanner(a.Body)
	lines.Buffer(nil, 8<<20)
	for lines.Scan() {
		if strings.Contains(lines.Text(), say) {
			heard <- i
		}
	}
}

// TestCrowdOfBrowsers is no test of its own: BenchmarkHundredBrowsers starts it
// as another process, so that what browsers cost is not counted.
func TestCrowdOfBrowsers(t *testing.T) {
	base := os.Getenv("TELLTALE_CROWD_AT")
	if base == "" {
		t.Skip("only a benchmark starts it")
	}
	n, err := strconv.Atoi(os.Getenv("TELLTALE_CROWD"))
	if err != nil {
		t.Fatal(err)
	}
	for range n {
		go func() {
			a, err := (&http.Client{Transport: &http.Transport{}}).Get(base + "/live")
			if err == nil {
				_, _ = io.Copy(io.Discard, a.Body)
			}
		}()
	}
	_, _ = io.Copy(io.Discard, os.Stdin) // until the benchmark closes it
}

// BenchmarkHundredBrowsers reports how much of a core the page needs for browsers
// that follow a garden of twenty places over real connections, where one
// reading a second arrives.
func BenchmarkHundredBrowsers(b *testing.B) {
	for _, n := range []int{1, crowd} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			f := newFake()
			f.change(func(p *alarms.Picture) {
				for i := 7; i < 20; i++ {
					pl := p.Houses[0].Places[0]
					pl.ID = alarms.PlaceID(fmt.Sprintf("bench-%d", i))
					p.Houses[0].Places = append(p.Houses[0].Places, pl)
				}
			})
			s, stop := served(b, f)
			defer stop()
			leave := crowdAt(b, "http://"+s.Addr(), n)
			defer leave()
			for end := time.Now().Add(patience); s.Stats().Live < n; time.Sleep(10 * time.Millisecond) {
				if time.Now().After(end) {
					b.Fatalf("only %d of %d browsers came", s.Stats().Live, n)
				}
			}
			var cpu, passed time.Duration
			for i := 0; b.Loop(); i++ {
				was, begun := processorTime(b), time.Now()
				for second := range 5 {
					f.change(func(p *alarms.Picture) {
						p.At = noon.Add(time.Duration(5*i+second) * time.Second)
						p.Houses[0].Places[0].Points[0].Value = 20 + float64((5*i+second)%50)/10
					})
					time.Sleep(time.Second)
				}
				cpu, passed = cpu+processorTime(b)-was, passed+time.Since(begun)
			}
			b.ReportMetric(100*float64(cpu)/float64(passed), "%-of-a-core")
			b.ReportMetric(float64(s.Stats().Dropped), "dropped")
		})
	}
}

func served(b *testing.B, f *fakeWatch) (*Server, func()) {
	b.Helper()
	s, err := New(Options{Watch: f, Address: "127.0.0.1:0", Log: zerolog.Nop()})
	if err != nil {
		b.Fatal(err)
	}
	if err := s.Listen(); err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx) }()
	return s, func() {
		stop()
		if err := <-ended; err != nil {
			b.Error(err)
		}
	}
}

// crowdAt lets n browsers of another process follow.
func crowdAt(b *testing.B, base string, n int) func() {
	b.Helper()
	exe, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	cmd := exec.Command(exe, "-test.run", "^TestCrowdOfBrowsers$")
	cmd.Env = append(os.Environ(), "TELLTALE_CROWD_AT="+base, "TELLTALE_CROWD="+strconv.Itoa(n))
	in, err := cmd.StdinPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	return func() { _ = in.Close(); _ = cmd.Wait() }
}

// processorTime is what this process has used so far.
func processorTime(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
