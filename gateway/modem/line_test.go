package modem

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/gateway/modem/sim"
)

// notes remember a refused PIN as a file would.
type notes struct {
	mu  sync.Mutex
	pin string
}

func (n *notes) Refused(pin string) bool { n.mu.Lock(); defer n.mu.Unlock(); return n.pin == pin }

func (n *notes) Refuse(pin string) error { n.mu.Lock(); defer n.mu.Unlock(); n.pin = pin; return nil }

func TestTheSIM(t *testing.T) {
	for _, c := range []struct {
		name  string
		sim   func(*sim.Options)
		pin   string
		noted string
		want  string // in the trouble; empty: it is ready
		tries int    // of the PIN
	}{
		{"without PIN", func(*sim.Options) {}, "", "", "", 0},
		{"with PIN", func(o *sim.Options) { o.PIN = "2468" }, "2468", "", "", 1},
		{"with PIN, tries hidden", func(o *sim.Options) { o.PIN, o.HideTries = "2468", true }, "2468", "", "", 1},
		{"no PIN given", func(o *sim.Options) { o.PIN = "2468" }, "", "", "pin-file", 0},
		{"wrong PIN", func(o *sim.Options) { o.PIN = "2468" }, "1357", "", "not tried again", 1},
		{"wrong PIN, tries hidden", func(o *sim.Options) { o.PIN, o.HideTries = "2468", true }, "1357", "", "not tried again", 1},
		{"wrong in an earlier life", func(o *sim.Options) { o.PIN, o.HideTries = "2468", true }, "1357", "1357", "not tried again", 0},
		{"wrong elsewhere", func(o *sim.Options) { o.PIN, o.TriesLeft = "2468", 2 }, "2468", "", "2 of 3 tries are left", 0},
		{"locked", func(o *sim.Options) { o.PIN, o.TriesLeft = "2468", -1 }, "2468", "", "PUK", 0},
		{"none", func(o *sim.Options) { o.NoSIM = true }, "", "", "no SIM", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			so, n := good(), &notes{pin: c.noted}
			c.sim(&so)
			b := begin(t, so, func(o *Options) { o.PIN, o.Refusals = c.pin, n })
			if c.want == "" {
				b.ready(t)
			} else {
				await(t, "the trouble shows", func() bool { return strings.Contains(b.Trouble(), c.want) })
				before := b.sim.Count("AT+CPIN?")
				await(t, "it is looked at again", func() bool { return b.sim.Count("AT+CPIN?") > before+3 })
				err := b.Send(t.Context(), Text{To: ada, Body: "hello"})
				if !errors.Is(err, ErrNotReady) || !strings.Contains(err.Error(), c.want) {
					t.Errorf("a text: %v", err)
				}
				b.sim.Unplug()
				await(t, "it is missed", func() bool { return !b.State().Present })
				if err := b.sim.Plug(); err != nil {
					t.Fatal(err)
				}
				await(t, "it is found again", func() bool { return strings.Contains(b.Trouble(), c.want) })
			}
			if got := b.sim.Count("AT+CPIN="); got != c.tries {
				t.Errorf("the PIN was tried %d times, want %d", got, c.tries)
			}
			if wrong := strings.HasPrefix(c.name, "wrong PIN"); wrong != (n.pin != "" && c.noted == "") {
				t.Errorf("noted as refused: %q", n.pin)
			}
		})
	}
}

func TestTheNetwork(t *testing.T) {
	t.Parallel()
	so := good()
	so.Network = 2
	b := begin(t, so, nil)
	await(t, "the trouble shows", func() bool { return strings.Contains(b.Trouble(), "searching for a network") })
	if err := b.Send(t.Context(), Text{To: ada, Body: "hello"}); !errors.Is(err, ErrNotReady) || !strings.Contains(err.Error(), "antenna") {
		t.Errorf("a text: %v", err)
	}
	b.sim.Set(func(o *sim.Options) { o.Network = 5 })
	b.sim.Say("+CREG: 5")
	b.ready(t)
	b.send(t, "hello")
	if tr := b.Trouble(); tr != "" {
		t.Errorf("trouble: %s", tr)
	}
	b.sim.Set(func(o *sim.Options) { o.Network = 3 })
	b.sim.Say(`+CREG: 3,"00A1","1B2C"`, `+CEREG: 3,"00A1","1B2C",7`)
	await(t, "it is refused", func() bool { return strings.Contains(b.Trouble(), "refused by the network") })
}

func TestUnpluggedAndFoundAgain(t *testing.T) {
	t.Parallel()
	b := begin(t, good(), nil)
	b.ready(t)
	for range 3 {
		b.sim.Unplug()
		await(t, "it is missed", func() bool { return strings.Contains(b.Trouble(), "not reached") })
		if err := b.Send(t.Context(), Text{To: ada, Body: "hello"}); !errors.Is(err, ErrNotReady) {
			t.Errorf("a text: %v", err)
		}
		await(t, "its absence is explained", func() bool { return strings.Contains(b.State().LastError, "plugged in") })
		if err := b.sim.Plug(); err != nil {
			t.Fatal(err)
		}
		b.ready(t)
	}
	b.send(t, "hello")
}

func TestUnpluggedWhileSending(t *testing.T) {
	t.Parallel()
	so := good()
	so.NoPrompt = true
	b := begin(t, so, nil)
	b.ready(t)
	sent := make(chan error, 1)
	go func() { sent <- b.Send(t.Context(), Text{To: ada, Body: "hello"}) }()
	await(t, "it is being sent", func() bool { return b.sim.Count("AT+CMGS") == 1 })
	b.sim.Unplug()
	select {
	case err := <-sent:
		if err == nil || errors.Is(err, ErrRefused) {
			t.Errorf("got %v", err)
		}
	case <-time.After(5 * time.Minute):
		t.Fatal("the sender hangs")
	}
}

func TestAModemThatStartsAnew(t *testing.T) {
	t.Parallel()
	b := begin(t, good(), nil)
	b.ready(t)
	b.sim.Restart()
	await(t, "it is set up again", func() bool { return b.sim.Count("ATE0V1") == 2 && b.State().Ready })
	b.send(t, "hello")
}

func TestAModemThatNeverAsksForTheText(t *testing.T) {
	t.Parallel()
	so := good()
	so.NoPrompt = true
	b := begin(t, so, func(o *Options) { o.Pace.Send, o.Pace.Poll = 300*time.Millisecond, time.Minute })
	b.ready(t)
	if err := b.Send(t.Context(), Text{To: ada, Body: "hello"}); !errors.Is(err, errSilent) {
		t.Errorf("got %v", err)
	}
	if got := b.sim.Texts(); len(got) != 0 {
		t.Errorf("sent %+v", got)
	}
	b.sim.Set(func(o *sim.Options) { o.NoPrompt = false })
	b.sendInTheEnd(t, "hello again")
	if got := b.sim.Texts(); len(got) == 0 || got[0].Text != "hello again" {
		t.Errorf("sent %+v", got)
	}
}

func TestAModemThatHangs(t *testing.T) {
	t.Parallel()
	b := begin(t, good(), func(o *Options) { o.Pace.Answer, o.Pace.Send = 300*time.Millisecond, 300*time.Millisecond })
	b.ready(t)
	b.sim.Set(func(o *sim.Options) { o.Deaf = true })
	if err := b.Send(t.Context(), Text{To: ada, Body: "hello"}); err == nil {
		t.Fatal("a deaf modem took a text")
	}
	await(t, "the trouble shows", func() bool { return b.Trouble() != "" })
	b.sim.Set(func(o *sim.Options) { o.Deaf = false })
	b.sendInTheEnd(t, "hello")
}

// sendInTheEnd sends where a slow machine may need longer for an answer than
// the test gives the modem.
func (b *bench) sendInTheEnd(t *testing.T, text string) {
	t.Helper()
	await(t, "it is sent", func() bool { return b.Send(t.Context(), Text{To: ada, Body: text}) == nil })
}

func TestASenderWhoGivesUp(t *testing.T) {
	t.Parallel()
	so := good()
	so.NoPrompt = true
	b := begin(t, so, nil)
	b.ready(t)
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if err := b.Send(ctx, Text{To: ada, Body: "hello"}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %v", err)
	}
	b.sim.Set(func(o *sim.Options) { o.NoPrompt = false })
	b.send(t, "hello")
}

func TestCalls(t *testing.T) {
	for _, c := range []struct {
		name   string
		sim    func(*sim.Options)
		short  bool // it rings for a moment only
		want   Answer
		says   string // of the error
		hungUp int
	}{
		{"rings", func(*sim.Options) {}, true, Rang, "", 1},
		{"rings, no list of calls", func(o *sim.Options) { o.NoCallList = true }, true, Rang, "", 1},
		{"is taken", func(o *sim.Options) { o.CallTaken = true }, false, Answered, "", 1},
		{"is busy", func(o *sim.Options) { o.CallEnd = "BUSY" }, false, "", "busy", 0},
		{"gets no carrier", func(o *sim.Options) { o.CallEnd = "NO CARRIER" }, false, "", "no carrier", 0},
		{"is not answered", func(o *sim.Options) { o.CallEnd = "NO ANSWER" }, false, Rang, "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			so := good()
			c.sim(&so)
			b := begin(t, so, func(o *Options) {
				if c.short {
					o.RingFor = 50 * time.Millisecond
				}
			})
			b.ready(t)
			got, err := b.Ring(t.Context(), "+44 7700 900123")
			if got != c.want || (err == nil) != (c.says == "") || err != nil && (!errors.Is(err, errNotReached) || !strings.Contains(err.Error(), c.says)) {
				t.Errorf("got %q, %v; want %q, %q", got, err, c.want, c.says)
			}
			dialled, hungUp := b.sim.Calls()
			if len(dialled) != 1 || dialled[0] != ada || hungUp != c.hungUp {
				t.Errorf("dialled %q, hung up %d times", dialled, hungUp)
			}
			if b.sim.Count("ATD"+ada+";") != 1 {
				t.Error("it was no voice call")
			}
			b.send(t, "after the call")
		})
	}
}

func TestACallThatIsRejected(t *testing.T) {
	t.Parallel()
	b := begin(t, good(), func(o *Options) { o.RingFor = time.Hour })
	b.ready(t)
	rung := make(chan Answer, 1)
	go func() {
		a, err := b.Ring(t.Context(), ada)
		if err != nil {
			t.Error(err)
		}
		rung <- a
	}()
	await(t, "it rings", func() bool { return b.sim.Count("AT+CLCC") > 2 })
	b.sim.Say("BUSY")
	select {
	case a := <-rung:
		if a != Rejected {
			t.Errorf("got %q", a)
		}
	case <-time.After(5 * time.Minute):
		t.Fatal("the call goes on")
	}
}

func TestNoDevice(t *testing.T) {
	_, err := Open("/nowhere/modem", 115200)
	if err == nil || !strings.Contains(err.Error(), "plugged in") {
		t.Errorf("got %v", err)
	}
	if _, err := Open("/dev/null", 115200); err == nil || !strings.Contains(err.Error(), "cannot be opened as a serial line") {
		t.Errorf("got %v", err)
	}
}
