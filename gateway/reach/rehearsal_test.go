package reach

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
)

// A rehearsal must be written down as one, never as a delivery, whatever is
// wrapped around it, and hold back what would really be held back.
func TestARehearsalIsNeverADelivery(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory(rowsFor(t, "mail", "Ada", alarms.Low, 1)...)
		mock := Limit(TimeLimit(DryRun(zerolog.Nop()), time.Minute), Limits{Burst: 2, Every: time.Hour})
		w := start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mock}}})
		synctest.Wait()
		second := rowsFor(t, "mail", "Ada", alarms.Low, 2)[1]
		box.save(second)
		w.Wake()
		synctest.Wait()
		log := box.log()
		if got, want := outcomes(log), "rehearsed held"; got != want {
			t.Fatalf("got %s, want %s", got, want)
		}
		if log[0].Detail != "" || !log[0].Next.IsZero() {
			t.Errorf("the rehearsal is written down as %+v", log[0])
		}
		if want := "several messages went to Ada just now; what is new will come together in one"; log[1].Detail != want {
			t.Errorf("held back because %q, want %q", log[1].Detail, want)
		}
		if s := w.Stats()[0]; s.Delivered != 0 || s.Rehearsed != 1 || s.Failed != 0 || !s.FailingSince.IsZero() {
			t.Errorf("counted as %+v", s)
		}
	})
}

// The limit of time makes no failure of a rehearsal.
func TestARehearsalAtTheLimitOfTimeIsStillOne(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := &recorder{answer: func(ctx context.Context, _ Telling) error { <-ctx.Done(); return ErrRehearsed }}
		if err := TimeLimit(slow, time.Second).Tell(t.Context(), Telling{}); err != ErrRehearsed {
			t.Errorf("got %v", err)
		}
	})
}

func TestATestMessageIsKnownByItsName(t *testing.T) {
	g := garden()
	rows, err := g.TestRows(noon)
	if err != nil || len(rows) < 2 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	name := TestOf(rows[0].ID)
	begin, ok := TestBegin(name)
	for _, r := range rows {
		if !ok || TestOf(r.ID) != name || len(r.ID) <= len(begin) || r.ID[:len(begin)] != begin {
			t.Errorf("the row %s is not of %s, %v", r.ID, name, ok)
		}
	}
	for _, wrong := range []string{"", "watch/test-message", name + "|mail", "long-house/bench/temperature/high#1"} {
		if begin, ok := TestBegin(wrong); ok {
			t.Errorf("%q is taken for a test message, whose rows begin with %q", wrong, begin)
		}
	}
}
