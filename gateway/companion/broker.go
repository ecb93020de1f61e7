package companion

import (
	"context"
	"crypto/rand"
	"sync"
	"time"

	"telltale/alarms/companion"
	"telltale/gateway/topic"
)

// Topics by which two watches speak over a broker that both hear.
const (
	AskTopic    = topic.Companion + "asks" // the companion's questions
	ReportTopic = topic.Own + "watch/report"
)

// mostSealed bounds a report on its way over a broker, bytes: brokers take no longer
// messages than they like.
const mostSealed = 60 << 10

// Publish publishes at a broker, with quality of service 1.
type Publish func(ctx context.Context, topic string, payload []byte) error

// question is what a companion asks.
type question struct {
	Word string `json:"word"` // comes back with the report, which was therefore made later
}

// Asking asks the first over a broker. It may be used by all at once.
type Asking struct {
	seal    seal
	publish Publish

	mu   sync.Mutex
	word string    // of the newest question; "": it was answered
	at   time.Time // when it was asked
}

// NewAsking makes what asks by a token.
func NewAsking(token string, publish Publish) (*Asking, error) {
	s, err := newSeal(token)
	return &Asking{seal: s, publish: publish}, err
}

// Ask asks how the first is, at a time of the asker's own. Heard hears the answer.
func (a *Asking) Ask(ctx context.Context, at time.Time) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	word := rand.Text()
	sealed, err := a.seal.close(AskTopic, question{word})
	if err != nil {
		return err
	}
	a.mu.Lock()
	a.word, a.at = word, at
	a.mu.Unlock()
	return a.publish(ctx, AskTopic, sealed)
}

// Heard takes what came on ReportTopic, and returns it with the time at which it was
// asked for; not ok for what is no answer to the newest question, or comes again.
func (a *Asking) Heard(payload []byte) (r companion.Report, at time.Time, ok bool) {
	if a.seal.open(ReportTopic, payload, &r) != nil || checkForm(r) != nil {
		return r, at, false
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if ok = a.word != "" && r.Echo == a.word; ok {
		a.word = ""
	}
	return r, a.at, ok
}

// Answering answers the questions that come over a broker.
type Answering struct {
	seals   []seal
	publish Publish
	report  func(echo string) companion.Report
	asked   chan asked
}

// asked is a question with the seal under which it came.
type asked struct {
	seal seal
	word string
}

// NewAnswering makes what answers whoever has one of the tokens.
func NewAnswering(tokens []string, publish Publish, report func(echo string) companion.Report) (*Answering, error) {
	a := &Answering{publish: publish, report: report, asked: make(chan asked, 1)}
	for _, t := range tokens {
		s, err := newSeal(t)
		if err != nil {
			return nil, err
		}
		a.seals = append(a.seals, s)
	}
	return a, nil
}

// Heard takes what came on AskTopic. It never blocks; while an answer is under way one
// more question waits.
func (a *Answering) Heard(payload []byte) {
	for _, s := range a.seals {
		var q question
		if s.open(AskTopic, payload, &q) != nil || q.Word == "" {
			continue
		}
		select {
		case a.asked <- asked{s, q.Word}:
		default:
		}
		return
	}
}

// Run answers until ctx ends. An answer that does not get through is asked for again.
func (a *Answering) Run(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case q := <-a.asked:
			if sealed, err := shortened(q.seal, a.report(q.word)); err == nil {
				a.give(ctx, sealed)
			}
		}
	}
}

func (a *Answering) give(ctx context.Context, sealed []byte) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	_ = a.publish(ctx, ReportTopic, sealed)
}

// shortened seals r, with as many of its alarms as a broker takes: the worst come first,
// and what is left out is not confirmed, so that the companion tells it.
func shortened(s seal, r companion.Report) (sealed []byte, err error) {
	for {
		sealed, err = s.close(ReportTopic, r)
		if err != nil || len(sealed) <= mostSealed || len(r.Alarms) == 0 {
			return sealed, err
		}
		r.Alarms = r.Alarms[:len(r.Alarms)/2]
	}
}
