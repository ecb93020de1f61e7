package modem

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/gateway/modem/sim"
)

const (
	ada = "+447700900123"
	ben = "+447700900456"
)

// bench is a modem at work with the one that plays on the other side.
type bench struct {
	*Modem
	sim *sim.Modem

	mu    sync.Mutex
	in    []Message
	fates []Fate
	fail  error // of Incoming
}

// brisk are waits for a modem that plays. Those that end in a failure are
// never reached, however slow the machine; tests of a failure set their own.
var brisk = Pace{Answer: 5 * time.Minute, Send: 5 * time.Minute, Poll: 200 * time.Millisecond, Reopen: 10 * time.Millisecond,
	Absent: 50 * time.Millisecond, NoNetwork: 50 * time.Millisecond, Look: 10 * time.Millisecond}

func good() sim.Options { return sim.Options{Network: 1, Signal: 20} }

// begin starts both, with what change makes of the options.
func begin(t *testing.T, so sim.Options, change func(*Options)) *bench {
	t.Helper()
	s, err := sim.Start(filepath.Join(t.TempDir(), "modem"), so)
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{sim: s}
	o := Options{
		Open:     func() (Port, error) { return Open(s.Device(), 115200) },
		Incoming: b.incoming, Report: b.report, Pace: brisk, RingFor: 5 * time.Minute, Log: zerolog.New(zerolog.NewTestWriter(t)),
	}
	if change != nil {
		change(&o)
	}
	if b.Modem, err = New(o); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		s.Close()
	})
	return b
}

func (b *bench) incoming(_ context.Context, m Message) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.fail != nil {
		return b.fail
	}
	b.in = append(b.in, m)
	return nil
}

func (b *bench) report(f Fate) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.fates = append(b.fates, f)
}

func (b *bench) messages() []Message {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.in)
}

func (b *bench) reports() []Fate {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.fates)
}

// await waits until a condition holds.
func await(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Minute); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited in vain until %s", what)
		}
	}
}

func (b *bench) ready(t *testing.T) {
	t.Helper()
	await(t, "the modem is ready", func() bool { return b.State().Ready })
}

func (b *bench) send(t *testing.T, text string) {
	t.Helper()
	if err := b.Send(t.Context(), Text{To: ada, Body: text, Rows: []string{"row of " + text}}); err != nil {
		t.Fatal(err)
	}
}

func TestATextIsSentAndReported(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*sim.Options)
	}{
		{"PDU mode", func(*sim.Options) {}},
		{"text mode", func(o *sim.Options) { o.TextOnly = true }},
		{"text mode without UCS-2", func(o *sim.Options) { o.TextOnly, o.NoUCS2 = true, true }},
		{"reports are kept", func(o *sim.Options) { o.KeepReports = true }},
		{"reports are kept, text mode", func(o *sim.Options) { o.KeepReports, o.TextOnly = true, true }},
		{"slow, without LTE", func(o *sim.Options) { o.Answer, o.NoLTE = 20*time.Millisecond, true }},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			so := good()
			so.ReportAfter = 20 * time.Millisecond
			c.change(&so)
			b := begin(t, so, nil)
			b.ready(t)
			b.send(t, "Long House, bench: 33.2 C. Is it OK?")
			got := b.sim.Texts()
			if len(got) != 1 || got[0].To != ada || got[0].Text != "Long House, bench: 33.2 C. Is it OK?" || !got[0].ReportWanted {
				t.Fatalf("the network has %+v", got)
			}
			await(t, "it is reported", func() bool { return len(b.reports()) == 1 })
			f := b.reports()[0]
			if f.Standing != Delivered || !slices.Equal(f.Rows, []string{"row of " + got[0].Text}) || f.To != ada {
				t.Errorf("the fate is %+v", f)
			}
			await(t, "the memory is empty", func() bool { return b.sim.Kept() == 0 })
			if s := b.State(); s.Sent != 1 || s.Delivered != 1 || s.SentToday != 1 || s.Operator != "Thimble Net" || s.Signal == nil ||
				*s.Signal != -73 || s.Centre != "+447700900000" || s.Network != "in its home network" || s.SIM != "ready" || s.Places != 30 ||
				!strings.HasPrefix(s.Identity, "A modem that plays") {
				t.Errorf("the state is %+v", s)
			}
		})
	}
}

func TestLongAndOddTexts(t *testing.T) {
	for _, textOnly := range []bool{false, true} {
		t.Run(map[bool]string{false: "PDU mode", true: "text mode"}[textOnly], func(t *testing.T) {
			t.Parallel()
			so := good()
			so.TextOnly, so.ReportAfter = textOnly, 5*time.Millisecond
			b := begin(t, so, nil)
			b.ready(t)
			long := strings.Repeat("Look at the vents, then open the doors. ", 10)
			odd := "Frühbeet über 30 °C → öffnen 🌱"
			b.send(t, long)
			b.send(t, odd)
			sent := b.sim.Sent()
			if len(sent) != 4 {
				t.Fatalf("%d messages were sent: %+v", len(sent), sent)
			}
			if got := b.sim.Texts(); !textOnly && (got[0].Text != long || sent[0].Ref != sent[2].Ref || sent[0].Total != 3) {
				t.Errorf("the long text arrived as %+v", got)
			}
			if textOnly && (!strings.HasPrefix(sent[1].Text, "2/3 ") || sent[0].Text[4:]+sent[1].Text[4:]+sent[2].Text[4:] != long) {
				t.Errorf("the long text arrived as %+v", sent)
			}
			if got := sent[3]; got.Text != odd || !got.Wide {
				t.Errorf("the odd text arrived as %+v", got)
			}
			await(t, "both are reported whole", func() bool { return len(b.reports()) == 2 })
			if s := b.State(); s.SentToday != 4 || s.Sent != 2 || s.Delivered != 2 {
				t.Errorf("the state is %+v", s)
			}
		})
	}
}

func TestMessagesComeIn(t *testing.T) {
	at := time.Date(2026, 7, 9, 12, 30, 0, 0, time.UTC)
	for _, c := range []struct {
		name   string
		change func(*sim.Options)
	}{
		{"announced", func(*sim.Options) {}},
		{"text mode", func(o *sim.Options) { o.TextOnly = true }},
		{"text mode without UCS-2", func(o *sim.Options) { o.TextOnly, o.NoUCS2 = true, true }},
		{"looked for", func(o *sim.Options) { o.NoAnnounce = true }},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			so := good()
			c.change(&so)
			b := begin(t, so, nil)
			b.sim.Keep(ben, "kept before", at, true)
			b.ready(t)
			b.sim.Keep(ada, "OK", at, so.NoAnnounce)
			b.sim.Keep(ada, "OK Ada", at, so.NoAnnounce)
			await(t, "all have come", func() bool { return len(b.messages()) == 3 })
			got := b.messages()
			slices.SortFunc(got, func(x, y Message) int { return strings.Compare(x.Text, y.Text) })
			for i, want := range []Message{{Number{Text: ada}, at, "OK"}, {Number{Text: ada}, at, "OK Ada"}, {Number{Text: ben}, at, "kept before"}} {
				want.From.Named = so.NoUCS2 // there a text can pretend to be two, see textMessage
				if got[i].From != want.From || got[i].Text != want.Text || !got[i].Sent.Equal(want.Sent) {
					t.Errorf("got %+v, want %+v", got[i], want)
				}
			}
			await(t, "the memory is empty", func() bool { return b.sim.Kept() == 0 })
		})
	}
}

func TestAMessageStaysUntilItIsHandled(t *testing.T) {
	t.Parallel()
	b := begin(t, good(), nil)
	b.mu.Lock()
	b.fail = errors.New("the watch is stopping")
	b.mu.Unlock()
	b.ready(t)
	b.sim.Keep(ada, "OK", time.Now(), false)
	await(t, "it was looked at twice", func() bool { return b.sim.Count("AT+CMGL") > 3 })
	if b.sim.Kept() != 1 || b.sim.Count("AT+CMGD") != 0 {
		t.Fatal("it was thrown away")
	}
	b.mu.Lock()
	b.fail = nil
	b.mu.Unlock()
	await(t, "it is handled", func() bool { return len(b.messages()) > 0 && b.sim.Kept() == 0 })
	if n := len(b.messages()); n != 1 {
		t.Errorf("it was handled %d times", n)
	}
}

func TestNewsInTheMiddleOfAnswers(t *testing.T) {
	t.Parallel()
	so := good()
	so.ReportAfter = time.Hour // none comes by itself: the times are not waited for
	so.ReportAfter = 0
	b := begin(t, so, nil)
	b.ready(t)
	b.send(t, "one") // reference 1
	b.sim.Keep(ada, "kept, not yet announced", time.Now(), true)
	b.sim.Interrupt(`+CMTI: "SM",1`, "+CREG: 5", "+CDS: 25", "00"+"06"+"01"+"0C91"+"447700091032"+"62709021000000"+"62709021000000"+"00", "RING", "^ODD: 1")
	await(t, "the message is read", func() bool { return len(b.messages()) == 1 })
	await(t, "the delivery is known", func() bool { return len(b.reports()) == 1 })
	b.send(t, "two")
	await(t, "the memory is empty", func() bool { return b.sim.Kept() == 0 })
}

func TestGarbageHarmsNothing(t *testing.T) {
	t.Parallel()
	b := begin(t, good(), nil)
	b.ready(t)
	b.sim.Raw("\x00\xff\xfe garbage \r\n\r\n+CMTI: nonsense\r\n+CDS: 3\r\nnot hexadecimal\r\n+CDS: 2\r\nABCD\r\n+CMT: ,5\r\n0011\r\n+CREG: x\r\n" + strings.Repeat("z", 5000) + "\r\n")
	b.send(t, "still there")
	await(t, "it is counted", func() bool { return b.State().Unreadable >= 3 })
	if got := b.sim.Texts(); len(got) != 1 || got[0].Text != "still there" {
		t.Errorf("sent %+v", got)
	}
}

func TestRefusedMessages(t *testing.T) {
	t.Parallel()
	b := begin(t, good(), nil)
	b.ready(t)
	for _, c := range []struct {
		result, want string
		final        bool
	}{
		{"+CMS ERROR: 38", "network out of order", false},
		{"+CMS ERROR: 500", "unknown error", false},
		{"+CMS ERROR: 1", "check the number", true},
		{"+CMS ERROR: unassigned number", "check the number", true},
		{"+CMS ERROR: 21", "credit", false},
		{"+CMS ERROR: 330", "service centre", false},
		{"ERROR", "check the network", false},
	} {
		b.sim.Set(func(o *sim.Options) { o.Refuse = c.result })
		err := b.Send(t.Context(), Text{To: ada, Body: "hello"})
		if err == nil || !strings.Contains(err.Error(), c.want) || errors.Is(err, ErrRefused) != c.final {
			t.Errorf("%s: got %v, want %q, final %v", c.result, err, c.want, c.final)
		}
	}
	if s := b.State(); s.SentToday != 0 || s.LastError == "" {
		t.Errorf("the state is %+v", s)
	}
	b.sim.Set(func(o *sim.Options) { o.Refuse = "" })
	b.send(t, "hello")
	for _, to := range []string{"", "ada", "+44 77x", "+4477009001234567890123"} {
		if err := b.Send(t.Context(), Text{To: to, Body: "hello"}); !errors.Is(err, ErrRefused) {
			t.Errorf("to %q: %v", to, err)
		}
	}
}

func TestFatesOfTexts(t *testing.T) {
	t.Parallel()
	so := good()
	so.ReportAfter, so.Report = 5*time.Millisecond, 0x22
	b := begin(t, so, nil)
	b.ready(t)
	b.send(t, "slow")
	await(t, "it is under way", func() bool { return len(b.reports()) == 1 })
	b.sim.Set(func(o *sim.Options) { o.Report = 0x46 })
	b.send(t, "never")
	await(t, "it failed", func() bool { return len(b.reports()) == 2 })
	got := b.reports()
	if got[0].Standing != Trying || !strings.Contains(got[0].Words, "does not answer") || got[1].Standing != Failed ||
		!strings.Contains(got[1].Words, "not reached in time") || got[1].Rows[0] != "row of never" {
		t.Errorf("the fates are %+v", got)
	}
}

func TestTheDaysNumber(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 7, 9, 23, 0, 0, 0, time.UTC)
	var mu sync.Mutex
	b := begin(t, good(), func(o *Options) {
		o.MostPerDay, o.Sent = 3, 1
		o.Now = func() time.Time { mu.Lock(); defer mu.Unlock(); return now }
	})
	b.ready(t)
	b.send(t, "two")
	b.send(t, "three")
	err := b.Send(t.Context(), Text{To: ada, Body: "four"})
	var spent *Spent
	if !errors.As(err, &spent) || !spent.Until.Equal(time.Date(2026, 7, 10, 0, 0, 0, 0, time.UTC)) {
		t.Fatalf("the fourth: %v", err)
	}
	if err := b.Send(t.Context(), Text{To: ada, Body: "urgent", Urgent: true}); err != nil {
		t.Fatal(err)
	}
	var texts []string
	for _, s := range b.sim.Texts() {
		texts = append(texts, s.Text)
	}
	if want := []string{"two", "three" + lastWords, "urgent"}; !slices.Equal(texts, want) {
		t.Errorf("sent %q, want %q", texts, want)
	}
	mu.Lock()
	now = now.Add(2 * time.Hour)
	mu.Unlock()
	b.send(t, "next day")
	if s := b.State(); s.SentToday != 1 || s.MostPerDay != 3 {
		t.Errorf("the state is %+v", s)
	}
}
