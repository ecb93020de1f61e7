package companion

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/companion"
)

// two are an asker and an answerer, and what goes between them.
type two struct {
	asking    *Asking
	answering *Answering
	asked     chan []byte
	answers   chan []byte
	report    companion.Report
	echoes    []string
}

func newTwo(t *testing.T, askers string, tokens ...string) *two {
	t.Helper()
	w := &two{asked: make(chan []byte, 9), answers: make(chan []byte, 9), report: companion.Report{Form: companion.Form, Plan: "p"}}
	to := func(topic string, c chan []byte) Publish {
		return func(_ context.Context, name string, payload []byte) error {
			if name != topic {
				t.Errorf("published on %s", name)
			}
			c <- bytes.Clone(payload)
			return nil
		}
	}
	var err error
	if w.asking, err = NewAsking(askers, to(AskTopic, w.asked)); err != nil {
		t.Fatal(err)
	}
	if w.answering, err = NewAnswering(tokens, to(ReportTopic, w.answers), func(echo string) companion.Report {
		w.echoes = append(w.echoes, echo)
		r := w.report
		r.Echo = echo
		return r
	}); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- w.answering.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return w
}

func (w *two) ask(t *testing.T, at time.Time) []byte {
	t.Helper()
	if err := w.asking.Ask(t.Context(), at); err != nil {
		t.Fatal(err)
	}
	return <-w.asked
}

func TestAskedOverABroker(t *testing.T) {
	w := newTwo(t, token, "another-token-of-24-signs", token)
	w.answering.Heard(w.ask(t, noon))
	answer := <-w.answers
	r, at, ok := w.asking.Heard(answer)
	if !ok || r.Plan != "p" || !at.Equal(noon) {
		t.Fatalf("got %+v, asked at %v, %v", r, at, ok)
	}
	if _, _, ok := w.asking.Heard(answer); ok {
		t.Error("an answer that comes again counts anew")
	}
	// An answer to an older question says nothing of now.
	old := w.ask(t, noon.Add(time.Minute))
	w.ask(t, noon.Add(2*time.Minute))
	w.answering.Heard(old)
	if _, _, ok := w.asking.Heard(<-w.answers); ok {
		t.Error("the answer to an older question counts for the newest")
	}
	if len(w.echoes) != 2 || w.echoes[0] == w.echoes[1] || len(w.echoes[0]) < 20 {
		t.Errorf("words %q", w.echoes)
	}
}

// Without the token nobody can ask, answer, read, or use the one for the other.
func TestOnlyWhoHasTheTokenIsHeard(t *testing.T) {
	w := newTwo(t, token, token)
	question := w.ask(t, noon)
	w.answering.Heard(question)
	answer := <-w.answers
	for name, forged := range map[string][]byte{
		"plain": []byte(`{"form":1,"echo":"` + w.echoes[0] + `"}`), "empty": nil, "a question": question,
		"cut": answer[:len(answer)-1], "changed": append(bytes.Clone(answer[:len(answer)-1]), answer[len(answer)-1]^1),
		"of another":      sealedBy(t, "another-token-of-24-signs", ReportTopic, companion.Report{Form: companion.Form, Echo: w.echoes[0]}),
		"of another form": sealedBy(t, token, ReportTopic, companion.Report{Form: companion.Form + 1, Echo: w.echoes[0]}),
	} {
		if _, _, ok := w.asking.Heard(forged); ok {
			t.Errorf("an answer that is %s is taken", name)
		}
	}
	for _, forged := range [][]byte{nil, []byte(`{"word":"x"}`), answer, sealedBy(t, "another-token-of-24-signs", AskTopic, question), sealedBy(t, token, AskTopic, map[string]string{})} {
		w.answering.Heard(forged)
	}
	if _, _, ok := w.asking.Heard(answer); !ok {
		t.Error("the true answer is not taken after forged ones")
	}
	w.answering.Heard(w.ask(t, noon))
	<-w.answers
	if len(w.echoes) != 2 {
		t.Errorf("%d questions were answered, want the two true ones", len(w.echoes))
	}
	if bytes.Contains(answer, []byte(`"form"`)) {
		t.Error("the answer can be read")
	}
}

func sealedBy(t *testing.T, token, topic string, v any) []byte {
	t.Helper()
	s, err := newSeal(token)
	if err != nil {
		t.Fatal(err)
	}
	out, err := s.close(topic, v)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// A report that is longer than a broker takes loses the last of its alarms, not the first.
func TestALongReportIsShortened(t *testing.T) {
	w := newTwo(t, token, token)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range 2000 { // which pack badly
		w.report.Alarms = append(w.report.Alarms, companion.Standing{Alarm: alarms.AlarmID(fmt.Sprintf("house-%d/place-%x/temperature/high", i, rng.Uint64())),
			State: alarms.Acknowledged, Act: fmt.Sprintf("%x|%x", rng.Uint64(), rng.Uint64())})
	}
	w.answering.Heard(w.ask(t, noon))
	answer := <-w.answers
	r, _, ok := w.asking.Heard(answer)
	if !ok || len(answer) > mostSealed || len(r.Alarms) < 100 || len(r.Alarms) >= 2000 {
		t.Fatalf("%d bytes with %d alarms, %v", len(answer), len(r.Alarms), ok)
	}
	if !strings.HasPrefix(string(r.Alarms[0].Alarm), "house-0/") {
		t.Errorf("the first is %s", r.Alarms[0].Alarm)
	}
}

// A broker that is away is an error for who asks, and nothing for who answers.
func TestABrokerThatIsAway(t *testing.T) {
	down := errors.New("down")
	a, err := NewAsking(token, func(context.Context, string, []byte) error { return down })
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Ask(t.Context(), noon); !errors.Is(err, down) {
		t.Errorf("got %v", err)
	}
	tries := make(chan int, 9)
	b, err := NewAnswering([]string{token}, func(context.Context, string, []byte) error { tries <- 1; return down },
		func(echo string) companion.Report { return companion.Report{Form: companion.Form, Echo: echo} })
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	for range 2 {
		b.Heard(sealedBy(t, token, AskTopic, question{"word"}))
		<-tries
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}
