package reach

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/trials"
)

// start runs a worker over box until the test ends; all in fake time.
func start(t *testing.T, box Outbox, o Options) *Worker {
	t.Helper()
	o.Outbox = box
	if o.Random == nil {
		o.Random = func() float64 { return 0 } // the full pause
	}
	o.Log = zerolog.Nop()
	w, err := NewWorker(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- w.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return w
}

// rowsFor makes n rows for one person and channel, all due at once.
func rowsFor(t *testing.T, channel, person string, p alarms.Priority, n int) []Outgoing {
	t.Helper()
	var rows []Outgoing
	for i := range n {
		tr := with(tooHot(p), fmt.Sprint(i+1), alarms.Raise, alarms.Normal, alarms.Unacknowledged, time.Now())
		row, err := newRow(garden().newEvent(tr), tr, channel, person, time.Now(), false)
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row)
	}
	return rows
}

func outcomes(attempts []Attempt) string {
	var all []string
	for _, a := range attempts {
		all = append(all, string(a.Outcome))
	}
	return strings.Join(all, " ")
}

func TestHangingChannelDelaysNoOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		box := newMemory(append(rowsFor(t, "mail", "Ada", alarms.High, 300), rowsFor(t, "lamps", "", alarms.High, 150)...)...)
		lamps := &recorder{}
		start(t, box, Options{Channels: []Channel{
			{Name: "mail", Notifier: &recorder{answer: hang}}, {Name: "lamps", Notifier: lamps, Ordered: true}}})
		synctest.Wait() // no time passes
		told := lamps.tellings()
		if len(told) != 150 {
			t.Fatalf("the lamps got %d tellings, want 150", len(told))
		}
		for i, l := range told {
			if want := fmt.Sprintf("%s#%d", hot, i+1); l.Events[0].ID != want || len(l.Events) != 1 {
				t.Fatalf("telling %d: got %d events from %s, want one, %s", i, len(l.Events), l.Events[0].ID, want)
			}
		}
		trials.Report(t, "mail hangs while lamps are told 150 times", trials.Lost(150-len(told)), trials.Told(time.Since(began)))
	})
}

func TestWakeTellsAtOnceAndNothingPolls(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box, mail := newMemory(), &recorder{}
		w := start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mail}}})
		time.Sleep(time.Hour)
		synctest.Wait()
		if reads, _, _ := box.tally(); reads > 61 {
			t.Errorf("the outbox was read %d times in an idle hour, want at most 61", reads)
		}
		time.Sleep(10 * time.Second)
		box.save(rowsFor(t, "mail", "Ada", alarms.Low, 1)...)
		for range 5 {
			w.Wake() // never blocks
		}
		synctest.Wait()
		if n := len(mail.tellings()); n != 1 {
			t.Errorf("told %d times right after the wake, want 1", n)
		}
	})
}

func TestPermanentFailureEndsARowAndNotTheNext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rows := rowsFor(t, "lamps", "", alarms.High, 3)
		rows[0].Body = []byte("{")
		box := newMemory(rows...)
		lamps := &recorder{answer: func(_ context.Context, m Telling) error {
			if strings.HasSuffix(m.Events[0].ID, "#2") {
				return refuse("no such lamp")
			}
			return nil
		}}
		start(t, box, Options{Channels: []Channel{{Name: "lamps", Notifier: lamps, Ordered: true}}})
		synctest.Wait()
		log := box.log()
		if got, want := outcomes(log), "refused refused delivered"; got != want {
			t.Fatalf("got %s, want %s", got, want)
		}
		if !strings.HasPrefix(log[0].Detail, "the body of the outbox row is not an event") || log[1].Detail != "no such lamp" {
			t.Errorf("details: %q, %q", log[0].Detail, log[1].Detail)
		}
	})
}

// TestStormBecomesFewMessages: a hundred alarms within a minute.
func TestStormBecomesFewMessages(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box, mail := newMemory(), &recorder{}
		w := start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: Limit(mail, Limits{})}}})
		for i := range 100 {
			tr := with(tooHot(alarms.High), fmt.Sprint(i+1), alarms.Raise, alarms.Normal, alarms.Unacknowledged, time.Now())
			box.save(route(t, garden(), tr)[1])
			w.Wake()
			time.Sleep(600 * time.Millisecond)
		}
		time.Sleep(20 * time.Minute)
		synctest.Wait()
		told, events := mail.tellings(), map[string]int{}
		for _, m := range told {
			if len(m.Events) > mostEvents {
				t.Errorf("one message lists %d events, at most %d are allowed", len(m.Events), mostEvents)
			}
			for _, e := range m.Events {
				events[e.ID]++
			}
		}
		if len(events) != 100 {
			t.Errorf("%d different events were told, want 100", len(events))
		}
		for id, n := range events {
			if n != 1 {
				t.Errorf("%s was told %d times", id, n)
			}
		}
		if len(told) > 8 { // 3 at once, then 97 in messages of 25
			t.Errorf("%d messages were sent, want at most 8", len(told))
		}
		for _, a := range box.log() {
			if a.Outcome == Failed {
				t.Errorf("holding back counts as failure: %+v", a)
			}
		}
	})
}

func TestNextPersonOnlyWhenNobodyAcknowledges(t *testing.T) {
	for _, acknowledged := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			box, mail := newMemory(), &recorder{}
			tr := tooHot(alarms.High)
			tr.Due, tr.Noticed = time.Now(), time.Now()
			box.save(route(t, garden(), tr)...)
			start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mail}}})
			time.Sleep(14 * time.Minute)
			synctest.Wait()
			if told := mail.tellings(); len(told) != 1 || told[0].Person != "Ada" {
				t.Fatalf("before 15 minutes: %v", told)
			}
			if acknowledged {
				box.cancel(string(hot))
			}
			time.Sleep(time.Minute)
			synctest.Wait()
			told := mail.tellings()
			switch {
			case acknowledged && len(told) != 1:
				t.Errorf("acknowledged, and yet %s was told", told[1].Person)
			case !acknowledged && (len(told) != 2 || told[1].Person != "Ben" || told[1].Events[0].Unanswered != 900):
				t.Errorf("after 15 minutes: %+v", told)
			}
		})
	}
}

// TestFastClock: with a clock 60 times as fast, 15 minutes of waiting take 15 s
// and a retry pause still takes 5 s.
func TestFastClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		fast := func() time.Time { return begin.Add(60 * time.Since(begin)) }
		rows := rowsFor(t, "mail", "Ben", alarms.High, 1)
		rows[0].NotBefore = begin.Add(15 * time.Minute)
		var tried []time.Duration
		mail := &recorder{answer: func(context.Context, Telling) error {
			tried = append(tried, time.Since(begin))
			return errors.New("no")
		}}
		start(t, newMemory(rows...), Options{Channels: []Channel{{Name: "mail", Notifier: mail}}, Now: fast, Speed: 60})
		time.Sleep(21 * time.Second)
		synctest.Wait()
		if got := fmt.Sprint(tried); got != "[15s 20s]" {
			t.Errorf("tried after %s, want [15s 20s]", got)
		}
	})
}

// TestUrgentFirst: the most urgent message goes out before the others.
func TestUrgentFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory(rowsFor(t, "mail", "Ada", alarms.Low, 1)...)
		box.save(rowsFor(t, "mail", "Ben", alarms.High, 1)...)
		mail := &recorder{}
		start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mail}}})
		synctest.Wait()
		if told := mail.tellings(); len(told) != 2 || told[0].Person != "Ben" {
			t.Errorf("got %+v", told)
		}
	})
}

func TestTestRowsReachEverybodyMarked(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rows, err := garden().TestRows(time.Now())
		if err != nil {
			t.Fatal(err)
		}
		box, all := newMemory(rows...), &recorder{}
		start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: all}, {Name: "phone", Notifier: all}, {Name: "lamps", Notifier: all, Ordered: true}}})
		synctest.Wait()
		if n := len(all.tellings()); n != 4 {
			t.Fatalf("%d tests arrived, want 4 (lamps, Ada by mail and phone, Ben by mail)", n)
		}
		for _, m := range all.tellings() {
			if !m.Test || !m.Events[0].Test || !strings.Contains(m.Events[0].Sentence, "Nothing is wrong") {
				t.Errorf("not marked as a test: %+v", m)
			}
		}
	})
}

func TestNewWorkerChecks(t *testing.T) {
	good := Options{Outbox: newMemory(), Random: func() float64 { return 0 }}
	bad := []func(*Options){
		func(o *Options) { o.Outbox = nil },
		func(o *Options) { o.Random = nil },
		func(o *Options) { o.Speed = -1 },
		func(o *Options) { o.Channels = []Channel{{Name: "mail"}} },
		func(o *Options) {
			o.Channels = []Channel{{Name: "mail", Notifier: &recorder{}}, {Name: "mail", Notifier: &recorder{}}}
		},
	}
	if _, err := NewWorker(good); err != nil {
		t.Error(err)
	}
	for i, spoil := range bad {
		o := good
		spoil(&o)
		if _, err := NewWorker(o); err == nil {
			t.Errorf("case %d was accepted", i)
		}
	}
}

// TestTestsStayAmongThemselves: a test never stands among real news, where it
// could be taken for them, or they for it.
func TestTestsStayAmongThemselves(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tests, err := garden().TestRows(time.Now())
		if err != nil {
			t.Fatal(err)
		}
		box, mail := newMemory(append(tests, rowsFor(t, "mail", "Ada", alarms.High, 2)...)...), &recorder{}
		start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mail}}})
		synctest.Wait()
		for _, m := range mail.tellings() {
			for _, e := range m.Events {
				if e.Test != m.Test {
					t.Errorf("telling %s, a test: %v, holds %s", m.ID, m.Test, e.ID)
				}
			}
		}
		if n := len(mail.tellings()); n != 3 {
			t.Errorf("%d messages, want 3: the alarms to Ada, a test to each", n)
		}
	})
}
