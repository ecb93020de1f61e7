package reach

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/trials"
)

// TestRetryPauses: 5 s doubling to 5 minutes for high priority, until 24 hours.
func TestRetryPauses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory(rowsFor(t, "mail", "Ada", alarms.High, 1)...)
		w := start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: &recorder{answer: always(errors.New("no route"))}}}})
		begin := time.Now()
		time.Sleep(30 * time.Hour)
		synctest.Wait()
		log := box.log()
		want := []time.Duration{0, 5, 15, 35, 75, 155, 315, 615, 915}
		for i, s := range want {
			if got := log[i].Began.Sub(begin); got != s*time.Second {
				t.Errorf("try %d: after %s, want %s", i+1, got, s*time.Second)
			}
		}
		last := log[len(log)-1]
		if last.Outcome != GivenUp || last.Ended.Sub(begin) > 24*time.Hour || last.Ended.Sub(begin) < 23*time.Hour+54*time.Minute {
			t.Errorf("last try: %s after %s, want given-up within 24 h", last.Outcome, last.Ended.Sub(begin))
		}
		if last.Number != len(log) || !last.Next.IsZero() {
			t.Errorf("last try is number %d of %d, next %v", last.Number, len(log), last.Next)
		}
		if want := fmt.Sprintf("given up after trying for 24h0m0s (%d times): no route", len(log)); last.Detail != want {
			t.Errorf("got %q, want %q", last.Detail, want)
		}
		s := w.Stats()[0]
		if s.GivenUp != 1 || s.Failed != uint64(len(log)-1) || !s.FailingSince.Equal(begin) || s.LastError != last.Detail {
			t.Errorf("stats: %+v", s)
		}
	})
}

// TestPauseBounds tries the whole range of the random source.
func TestPauseBounds(t *testing.T) {
	for tries := 1; tries < 100; tries++ {
		for _, random := range []float64{0, 0.25, 0.999999} {
			got := pause(tries, urgentPause, random)
			if got < firstPause/2 || got > urgentPause {
				t.Errorf("try %d, random %g: %s is out of bounds", tries, random, got)
			}
			if full := pause(tries, urgentPause, 0); got > full || got < full/2 {
				t.Errorf("try %d, random %g: %s is not between half and all of %s", tries, random, got, full)
			}
		}
	}
}

// TestOrderedChannelKeepsOrder: a row that fails is told before those behind it.
func TestOrderedChannelKeepsOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory(rowsFor(t, "lamps", "", alarms.High, 3)...)
		broken := time.Now().Add(7 * time.Minute)
		lamps := &recorder{answer: func(context.Context, Telling) error {
			if time.Now().Before(broken) {
				return errors.New("broker away")
			}
			return nil
		}}
		w := start(t, box, Options{Channels: []Channel{{Name: "lamps", Notifier: lamps, Ordered: true}}})
		time.Sleep(9 * time.Minute)
		synctest.Wait()
		var order []string
		for _, a := range box.log() {
			if a.Outcome == Delivered {
				order = append(order, a.Transition[len(hot):])
			}
			if a.Outcome == Failed && !strings.HasSuffix(a.Row, "#1|lamps") {
				t.Errorf("%s was tried before the first was through", a.Row)
			}
		}
		if got := strings.Join(order, ""); got != "#1#2#3" {
			t.Errorf("delivered %s, want #1#2#3", got)
		}
		if s := w.Stats()[0]; s.Delivered != 3 || s.Failed == 0 || !s.FailingSince.IsZero() || s.LastError != "" {
			t.Errorf("stats after it came back: %+v", s)
		}
		if n := len(box.log()); n > 17 {
			t.Errorf("%d attempts in 9 minutes, want few", n)
		}
	})
}

// TestLongOutageCostsLittle: mail is away for a day while 40 alarms come one by
// one. They end up in few tries and few writes, and arrive together.
func TestLongOutageCostsLittle(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory()
		back := time.Now().Add(20 * time.Hour)
		mail := &recorder{answer: func(context.Context, Telling) error {
			if time.Now().Before(back) {
				return errors.New("no route")
			}
			return nil
		}}
		random := 0.0
		w := start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mail}},
			Random: func() float64 { random = math.Mod(random+0.618, 1); return random }})
		for i := range 40 {
			box.save(rowsFor(t, "mail", "Ada", alarms.High, i+1)[i])
			w.Wake()
			time.Sleep(10 * time.Minute)
		}
		time.Sleep(20 * time.Hour)
		synctest.Wait()
		delivered, ids := map[string]bool{}, map[string]bool{}
		for _, a := range box.log() {
			if a.Outcome == Delivered {
				delivered[a.Row], ids[a.Telling] = true, true
			}
		}
		if len(delivered) != 40 || len(ids) > 4 {
			t.Errorf("%d rows arrived in %d messages, want 40 in at most 4", len(delivered), len(ids))
		}
		trials.Report(t, "mail refuses for 20 hours, 40 alarms meanwhile", trials.Lost(40-len(delivered)))
		if _, writes, _ := box.tally(); writes > 1500 { // 40 rows one by one would take some 13000
			t.Errorf("%d tries and %d writes, want few", len(mail.tellings()), writes)
		}
	})
}

// TestWakesDoNotHurryABrokenChannel: rows that are saved while the broker is
// away do not make an ordered channel try more often.
func TestWakesDoNotHurryABrokenChannel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory(rowsFor(t, "lamps", "", alarms.High, 1)...)
		lamps := &recorder{answer: always(errors.New("broker away"))}
		w := start(t, box, Options{Channels: []Channel{{Name: "lamps", Notifier: lamps, Ordered: true}}})
		for range 600 {
			time.Sleep(time.Second)
			w.Wake()
		}
		synctest.Wait()
		if n := len(lamps.tellings()); n > 13 {
			t.Errorf("%d tries in 10 minutes, want at most 13", n)
		}
	})
}

// TestOutboxTroubleTellsOnce: when an attempt cannot be recorded, the row is
// not told again and again, and is recorded once the disk works again.
func TestOutboxTroubleTellsOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box, mail := newMemory(rowsFor(t, "mail", "Ada", alarms.High, 2)...), &recorder{}
		bens := rowsFor(t, "mail", "Ben", alarms.High, 1)
		box.save(bens...)
		box.deaf = true
		w := start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mail}}})
		synctest.Wait()
		n := len(mail.tellings())
		if _, _, lost := box.tally(); n != 2 || lost != 1 {
			t.Errorf("at first %d messages and %d failed writes, want 2 and 1", n, lost)
		}
		time.Sleep(10 * time.Minute)
		box.set(func(m *memory) { m.deaf, m.blind = false, true })
		time.Sleep(10 * time.Minute)
		box.set(func(m *memory) { m.blind = false })
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		if n := len(mail.tellings()); n != 2 {
			t.Errorf("told %d times, want once each", n)
		}
		if got := outcomes(box.log()); got != "delivered delivered delivered" {
			t.Errorf("recorded %q", got)
		}
		if s := w.Stats()[0]; s.Delivered != 3 {
			t.Errorf("stats: %+v", s)
		}
	})
}

// TestStopLeavesRowsWaiting: what was cut short is told after the next start.
func TestStopLeavesRowsWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory(rowsFor(t, "mail", "Ada", alarms.High, 1)...)
		first := &recorder{answer: hang}
		w, err := NewWorker(Options{Channels: []Channel{{Name: "mail", Notifier: first}}, Outbox: box,
			Random: func() float64 { return 0 }, Log: zerolog.Nop()})
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithTimeout(t.Context(), time.Second)
		defer stop()
		if err := w.Run(ctx); err != nil {
			t.Fatal(err)
		}
		second := &recorder{}
		start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: second}}})
		synctest.Wait()
		if got := outcomes(box.log()); got != "broken delivered" {
			t.Errorf("recorded %q", got)
		}
		a, b := first.tellings(), second.tellings()
		if len(a) != 1 || len(b) != 1 || a[0].ID != b[0].ID {
			t.Errorf("the two tellings differ: %+v, %+v", a, b)
		}
	})
}

// forgetful is an outbox that does not heed Attempt.Next.
type forgetful struct{ *memory }

func (f forgetful) Attempted(ctx context.Context, attempts []Attempt) error {
	for i := range attempts {
		attempts[i].Next = attempts[i].Began
	}
	return f.memory.Attempted(ctx, attempts)
}

// TestForgetfulOutboxMakesNoSpin: an outbox with a fault of its own costs no more
// than a try a second.
func TestForgetfulOutboxMakesNoSpin(t *testing.T) {
	for _, answer := range []error{errors.New("no route"), &Later{Pause: time.Minute, Why: "too many"}} {
		synctest.Test(t, func(t *testing.T) {
			mail := &recorder{answer: always(answer)}
			start(t, forgetful{newMemory(rowsFor(t, "mail", "Ada", alarms.High, 1)...)}, Options{Channels: []Channel{{Name: "mail", Notifier: mail}}})
			time.Sleep(time.Minute)
			synctest.Wait()
			if n := len(mail.tellings()); n > 61 {
				t.Errorf("%v: %d tries in a minute", answer, n)
			}
		})
	}
}

// TestGardenStandsInEveryID: on every kind of channel, of one event and of many.
func TestGardenStandsInEveryID(t *testing.T) {
	for _, n := range []int{1, 2} {
		for _, ordered := range []bool{false, true} {
			synctest.Test(t, func(t *testing.T) {
				to := &recorder{}
				start(t, newMemory(rowsFor(t, "here", "Ada", alarms.High, n)...),
					Options{Garden: "7k2mzq4dbn3xw6ta", Channels: []Channel{{Name: "here", Notifier: to, Ordered: ordered}}})
				synctest.Wait()
				for _, m := range to.tellings() {
					if !strings.HasPrefix(m.ID, "7k2mzq4dbn3xw6ta/") || m.outward()[0].ID != "7k2mzq4dbn3xw6ta/"+m.Events[0].ID {
						t.Errorf("told as %s, %s", m.ID, m.outward()[0].ID)
					}
				}
				if len(to.tellings()) == 0 {
					t.Error("nothing was told")
				}
			})
		}
	}
}
