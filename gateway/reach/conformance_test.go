package reach

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// stand is one notifier with the other side under the test's control. To add a
// notifier, write a function that makes its stand and name it in stands.
type stand struct {
	Notifier
	arrived   func() []arrival
	temporary func()         // from now on fail in a way that may pass
	permanent func(*Telling) // fail, or change the telling, in a way that will not pass
	recover   func()         // work again
	hang      func()         // from now on never answer

	signs func(string) string // how signs are written; nil: as they are
	brief bool                // of several events all but the first may be told by their headlines
}

// arrival is what got to the other side.
type arrival struct{ id, text string }

func stands() map[string]func(*testing.T) stand {
	limited := func(make func(*testing.T) stand) func(*testing.T) stand {
		return func(t *testing.T) stand {
			s := make(t)
			s.Notifier = Limit(TimeLimit(s.Notifier, time.Minute), Limits{Burst: 100})
			return s
		}
	}
	return map[string]func(*testing.T) stand{
		"text": phoneStand, "mqtt": mqttStand, "mail": mailStand, "webhook": webhookStand, "command": commandStand, "push": pushStand,
		"mail, limited": limited(mailStand), "command, limited": limited(commandStand),
	}
}

// TestNotifiers is the contract of Notifier as a test.
func TestNotifiers(t *testing.T) {
	for name, build := range stands() {
		t.Run(name, func(t *testing.T) {
			t.Run("tells the sentence unchanged", func(t *testing.T) { tellsUnchanged(t, build(t)) })
			t.Run("tells twice visibly", func(t *testing.T) { tellsTwice(t, build(t)) })
			t.Run("temporary", func(t *testing.T) { failsForNow(t, build(t)) })
			t.Run("two gardens", func(t *testing.T) { tellsGardensApart(t, build(t)) })
			t.Run("permanent", func(t *testing.T) { failsForGood(t, build(t)) })
			t.Run("heeds its context", func(t *testing.T) { heedsContext(t, build(t)) })
			t.Run("says a test is one", func(t *testing.T) { marksTests(t, build(t)) })
		})
	}
}

func tellsUnchanged(t *testing.T, s stand) {
	odd := tooHot(alarms.High)
	odd.Sentence = "Long House, bench: 33.4 °C — \"above\" 32.0 °C; <check> the fan & the shutter, 100 % sure.\n.\nA lone full stop stands above, and this is a long line " +
		strings.Repeat("with many words ", 20) + "= end."
	if err := s.Tell(t.Context(), telling(garden(), "here", odd, over(alarms.Low, alarms.Acknowledged, noon, time.Hour))); err != nil {
		t.Fatal(err)
	}
	eventually(t, "it arrives", func() bool { return len(s.arrived()) > 0 })
	var texts []string
	for _, a := range s.arrived() {
		texts = append(texts, a.text)
	}
	wants := []string{odd.Sentence, over(alarms.Low, alarms.Acknowledged, noon, time.Hour).Sentence}
	if s.brief {
		wants = []string{odd.Sentence, "bench: temperature back within its limits"}
	}
	for _, want := range wants {
		if s.signs != nil {
			want = s.signs(want)
		}
		if !strings.Contains(strings.Join(texts, "\n"), want) {
			t.Errorf("the sentence\n%q\ndid not arrive in\n%q", want, texts)
		}
	}
}

func tellsTwice(t *testing.T, s stand) {
	give := telling(garden(), "here", tooHot(alarms.High))
	for range 2 {
		if err := s.Tell(t.Context(), give); err != nil {
			t.Fatal(err)
		}
	}
	eventually(t, "both arrive", func() bool { return len(s.arrived()) >= 2 })
	got := s.arrived()
	if len(got) != 2 || got[0] != got[1] || got[0].id == "" {
		t.Errorf("twice the same telling arrived as %q", got)
	}
}

// tellsGardensApart: of two gardens, of one whose store is another one, or of two
// runs of one whose disk refused, equal transitions are told under IDs that are
// not equal.
func tellsGardensApart(t *testing.T, s stand) {
	runs := []Telling{{Garden: "7k2mzq4dbn3xw6ta"}, {Garden: "c5ryh2vje4ofu7ls"},
		{Garden: "c5ryh2vje4ofu7ls", Unsaved: "H5TQ2RXW"}, {Garden: "c5ryh2vje4ofu7ls", Unsaved: "ZK7MB3DN"}}
	for _, of := range runs {
		give := telling(garden(), "here", tooHot(alarms.High))
		give.Garden, give.Unsaved = of.Garden, of.Unsaved
		give.ID = give.of(give.ID)
		if err := s.Tell(t.Context(), give); err != nil {
			t.Fatal(err)
		}
	}
	eventually(t, "all arrive", func() bool { return len(s.arrived()) == len(runs) })
	seen := map[string]bool{}
	for _, a := range s.arrived() {
		if seen[a.id] || a.id == "" {
			t.Errorf("tellings of several gardens and runs arrived as %q", s.arrived())
		}
		seen[a.id] = true
	}
}

func failsForNow(t *testing.T, s stand) {
	give := telling(garden(), "here", tooHot(alarms.High))
	s.temporary()
	err := s.Tell(t.Context(), give)
	var final *Permanent
	if err == nil || errors.As(err, &final) {
		t.Errorf("a failure that may pass: got %v, permanent %v", err, final != nil)
	}
	if err != nil && !strings.Contains(err.Error(), "check") && !strings.Contains(err.Error(), "now") && !strings.Contains(err.Error(), "ended with") {
		t.Errorf("the sentence does not help: %v", err)
	}
	if n := len(s.arrived()); n != 0 {
		t.Errorf("%d arrived all the same", n)
	}
	s.recover()
	if err := s.Tell(t.Context(), give); err != nil {
		t.Errorf("the second try: %v", err)
	}
	eventually(t, "it arrives", func() bool { return len(s.arrived()) == 1 })
}

// kindOfError names the kind that an error has by the contract.
func kindOfError(err error) string {
	var final *Permanent
	var denied *Denied
	var later *Later
	switch {
	case err == nil:
		return ""
	case errors.As(err, &final):
		return "permanent"
	case errors.As(err, &denied) && denied.Address:
		return "nobody there"
	case errors.As(err, &denied):
		return "denied"
	case errors.As(err, &later):
		return "later " + later.Pause.String()
	}
	return "temporary"
}

func failsForGood(t *testing.T, s stand) {
	give := telling(garden(), "here", tooHot(alarms.High))
	s.permanent(&give)
	err := s.Tell(t.Context(), give)
	var final *Permanent
	if !errors.As(err, &final) {
		t.Errorf("a failure that will not pass: got %v", err)
	}
}

func heedsContext(t *testing.T, s stand) {
	s.hang()
	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()
	done := make(chan error, 1)
	go func() { done <- s.Tell(ctx, telling(garden(), "here", tooHot(alarms.High))) }()
	select {
	case err := <-done:
		var final *Permanent
		if err == nil || errors.As(err, &final) {
			t.Errorf("cut short: got %v", err)
		}
	case <-time.After(5 * time.Minute):
		t.Fatal("did not come back")
	}
}

func marksTests(t *testing.T, s stand) {
	if err := s.Tell(t.Context(), TestTelling("Ada", "here", tongue.English, noon)); err != nil {
		t.Fatal(err)
	}
	eventually(t, "it arrives", func() bool { return len(s.arrived()) == 1 })
	if a := s.arrived()[0]; !strings.Contains(a.text, "This is a test message") || !strings.Contains(a.text, "Nothing is wrong") {
		t.Errorf("got %q", a.text)
	}
}

func mqttStand(t *testing.T) stand {
	d := &desk{}
	return stand{
		Notifier: newMQTT(t, d),
		arrived: func() (all []arrival) {
			for _, m := range d.messages() {
				var e Event
				if m.topic == "telltale/event" && json.Unmarshal([]byte(m.payload), &e) == nil {
					all = append(all, arrival{e.ID, e.Sentence})
				}
			}
			return all
		},
		temporary: func() { d.set(func(d *desk) { d.fails = 1 }) },
		permanent: func(m *Telling) { m.Events[0].Alarm = "long-house/+/temperature" },
		recover:   func() { d.set(func(d *desk) { d.fails = 0 }) },
		hang: func() {
			d.set(func(d *desk) { d.wait = func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() } })
		},
	}
}

func mailStand(t *testing.T) stand {
	s := startMail(t)
	return stand{
		Notifier: mailTo(t, s),
		arrived: func() (all []arrival) {
			for _, d := range s.deliveries() {
				all = append(all, arrival{d.mail.Header.Get("Message-Id"), d.body})
			}
			return all
		},
		temporary: func() { s.answer("RCPT", "450 4.2.1 busy") },
		permanent: func(*Telling) { s.answer("RCPT", "501 5.1.3 no address") },
		recover:   func() { s.answer("RCPT", "") },
		hang:      func() { s.answer("EHLO", "hang") },
	}
}

func webhookStand(t *testing.T) stand {
	r := startReceiver(t)
	return stand{
		Notifier: webhookTo(t, r),
		arrived: func() (all []arrival) {
			r.mu.Lock()
			defer r.mu.Unlock()
			for _, d := range r.got {
				all = append(all, arrival{d.ID, d.Text})
			}
			return all
		},
		temporary: func() { r.set(func(r *receiver) { r.status = http.StatusServiceUnavailable }) },
		permanent: func(*Telling) { r.set(func(r *receiver) { r.status = http.StatusBadRequest }) },
		recover:   func() { r.set(func(r *receiver) { r.status = http.StatusOK }) },
		hang:      func() { r.set(func(r *receiver) { r.hang = true }) },
	}
}

func commandStand(t *testing.T) stand {
	c, dir := script(t, `if [ -e hang ]; then sleep 600; fi; if [ -e code ]; then exit $(cat code); fi; cat >got.$$; mv got.$$ $(mktemp -u done.XXXXXX)`)
	code := func(n string) func() {
		return func() {
			if err := os.WriteFile(filepath.Join(dir, "code"), []byte(n), 0o600); err != nil {
				t.Error(err)
			}
		}
	}
	return stand{
		Notifier: c,
		arrived: func() (all []arrival) {
			files, _ := filepath.Glob(filepath.Join(dir, "done.*"))
			for _, f := range slices.Sorted(slices.Values(files)) {
				var d Document
				if err := json.Unmarshal([]byte(read(t, f)), &d); err != nil {
					t.Error(err)
				}
				all = append(all, arrival{d.ID, d.Text})
			}
			return all
		},
		temporary: code("75"),
		permanent: func(*Telling) { code("65")() },
		recover:   func() { os.Remove(filepath.Join(dir, "code")) },
		hang: func() {
			if err := os.WriteFile(filepath.Join(dir, "hang"), nil, 0o600); err != nil {
				t.Error(err)
			}
		},
	}
}
