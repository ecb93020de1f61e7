package link

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/gateway/trials"
)

// arrived is a message as the client library hands it over.
type arrived struct {
	topic string
	body  string
	acked *int
}

func (a arrived) Duplicate() bool   { return false }
func (a arrived) Qos() byte         { return 1 }
func (a arrived) Retained() bool    { return false }
func (a arrived) Topic() string     { return a.topic }
func (a arrived) MessageID() uint16 { return 1 }
func (a arrived) Payload() []byte   { return []byte(a.body) }
func (a arrived) Ack()              { *a.acked++ }

// TestAFloodDelaysNobody: one probe sends 54,000 messages a second over the same
// connection as twenty others, which are all read, each within a second, by a
// reader that manages 10,000 readings a second, or 2,500 of what cannot be read.
func TestAFloodDelaysNobody(t *testing.T) {
	for _, c := range []struct {
		body string
		cost time.Duration
	}{{"21.5", 100 * time.Microsecond}, {"\xff\xfenonsense", 400 * time.Microsecond}} {
		synctest.Test(t, func(t *testing.T) {
			l, err := New(Options{Servers: []string{"mqtt://127.0.0.1"}, Filters: []string{"g/#"}, Log: zerolog.Nop()})
			if err != nil {
				t.Fatal(err)
			}
			s := &session{link: l, gone: make(chan struct{})}
			acked, sent, read, worst := 0, 0, 0, time.Duration(0)
			done := make(chan struct{})
			go func() {
				defer close(done)
				for m := range l.Messages() {
					switch m.Topic {
					case "end":
						return
					case "g/flood":
						time.Sleep(c.cost)
					default:
						at, _ := time.Parse(time.RFC3339Nano, string(m.Payload))
						time.Sleep(100 * time.Microsecond)
						read, worst = read+1, max(worst, time.Since(at))
					}
				}
			}()
			take := func(topic, body string) { s.take(nil, arrived{topic, body, &acked}) }
			for ms := range 20_000 {
				for range 54 {
					take("g/flood", c.body)
				}
				if ms%500 == 0 {
					for p := range 20 {
						take(fmt.Sprintf("g/probe-%d", p), time.Now().Format(time.RFC3339Nano))
						sent++
					}
				}
				time.Sleep(time.Millisecond)
			}
			take("end", "")
			<-done
			if read != sent || worst > time.Second {
				t.Errorf("%q: %d of %d readings came, the slowest after %v", c.body, read, sent, worst)
			}
			trials.Report(t, fmt.Sprintf("a probe floods with %.8q, 54,000 a second, beside 20 others", c.body), trials.Lost(sent-read), trials.Told(worst))
			if st := l.Stats(); st.Flooded == 0 || st.FloodedBy != "g/flood" || st.Dropped != 0 || acked != 20_000*54+sent+1 {
				t.Errorf("%q: %+v, %d acknowledged", c.body, st, acked)
			}
		})
	}
}

// TestFloodgateHoldsItsBounds: by schedules of chance, against the two promises:
// a topic that keeps to the rate loses nothing, and none brings more than burst
// and rate allow.
func TestFloodgateHoldsItsBounds(t *testing.T) {
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		f := newFloodgate(1, zerolog.Nop())
		begin := time.Date(2026, 7, 14, 12, 0, 0, 0, time.UTC)
		now := begin
		passed, due := map[string]int{}, map[string]time.Time{}
		for range 60_000 {
			now = now.Add(time.Duration(rnd.Int64N(int64(2 * time.Millisecond))))
			topic := fmt.Sprintf("wild-%d", rnd.IntN(3))
			calm := rnd.IntN(4) == 0
			if calm {
				topic = fmt.Sprintf("calm-%d", rnd.IntN(50))
				if now.Before(due[topic]) {
					continue
				}
				due[topic] = now.Add(time.Second / topicRate)
			}
			ok := f.pass(topic, now)
			if ok {
				passed[topic]++
			} else if calm {
				t.Fatalf("seed %d: %s lost a message after %v", seed, topic, now.Sub(begin))
			}
			if most := topicBurst + topicRate*now.Sub(begin).Seconds(); float64(passed[topic]) > most+1 {
				t.Fatalf("seed %d: %s brought %d messages within %v", seed, topic, passed[topic], now.Sub(begin))
			}
		}
		if left, by := f.stats(); left == 0 || by == "" {
			t.Errorf("seed %d: nothing was left out", seed)
		}
	}
}

// TestTopicsWithoutEnd: whoever sends each message on a topic of its own costs
// no more memory, and is bounded too.
func TestTopicsWithoutEnd(t *testing.T) {
	f := newFloodgate(1, zerolog.Nop())
	begin := time.Date(2026, 7, 14, 12, 0, 0, 0, time.UTC)
	passed := 0
	for i := range 500_000 {
		if f.pass(fmt.Sprintf("g/%d", i), begin.Add(time.Duration(i)*20*time.Microsecond)) {
			passed++
		}
	}
	if most := newTopicBurst + 10*newTopicRate; passed > most+1 || len(f.topics) > mostTopics {
		t.Errorf("%d passed within 10 s, want at most %d; %d topics are remembered", passed, most, len(f.topics))
	}
	if later := begin.Add(time.Hour); !f.pass("g/calm", later) {
		t.Error("an hour later a new topic is left out")
	}
}

// TestTheBrokerPassesNoFloodOn: what is too much reaches no subscriber and is
// acknowledged all the same; the watch may say what it likes.
func TestTheBrokerPassesNoFloodOn(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: houseAccounts})
	r := startLink(t, watchOf(b))
	r.change(true)
	b.gate.flood.mu.Lock()
	for _, topic := range []string{"thimble-garth/long-house/bench-1/flood", "telltale/x"} {
		b.gate.flood.topics[topic] = &bucket{used: topicBurst, at: time.Now().Add(time.Hour)}
	}
	b.gate.flood.mu.Unlock()
	probe := client(t, login(b, "bench-1", "rain"))
	must(t, probe.Publish("thimble-garth/long-house/bench-1/flood", 1, false, "1"))
	must(t, probe.Publish("thimble-garth/long-house/bench-1/air", 1, false, "2"))
	if got := r.take(1)[0]; got.Topic != "thimble-garth/long-house/bench-1/air" {
		t.Errorf("got %+v", got)
	}
	page := client(t, login(b, "page", "slate"))
	heard := make(chan string, 1)
	must(t, page.Subscribe("telltale/x", 1, func(_ mqtt.Client, m mqtt.Message) { heard <- string(m.Payload()) }))
	if err := r.Publish(t.Context(), "telltale/x", []byte("3"), 1, false); err != nil {
		t.Fatal(err)
	}
	select {
	case <-heard:
	case <-time.After(patience):
		t.Error("the watch's own message did not come")
	}
	if s := b.Stats(); s.Flooded != 1 || s.FloodedBy != "thimble-garth/long-house/bench-1/flood" {
		t.Errorf("%+v", s)
	}
}
