package reach

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

func TestTimeLimit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		err := TimeLimit(&recorder{answer: hang}, 30*time.Second).Tell(t.Context(), telling(garden(), "mail", tooHot(alarms.High)))
		if got := time.Since(begin); got != 30*time.Second {
			t.Errorf("came back after %s, want 30 s", got)
		}
		want := `channel "mail" gave no answer within 30s; check that its server is up and can be reached: context deadline exceeded`
		if err == nil || err.Error() != want {
			t.Errorf("got %v", err)
		}
		final := refuse("no")
		if err := TimeLimit(&recorder{answer: always(final)}, time.Second).Tell(t.Context(), Telling{}); err != final {
			t.Errorf("a permanent error must come through unchanged, got %v", err)
		}
		slow := &recorder{answer: func(ctx context.Context, _ Telling) error { <-ctx.Done(); return final }}
		if err := TimeLimit(slow, time.Second).Tell(t.Context(), Telling{}); err != final {
			t.Errorf("a permanent error at the limit must come through unchanged, got %v", err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := TimeLimit(&recorder{answer: hang}, time.Second).Tell(ctx, Telling{}); !errors.Is(err, context.Canceled) {
			t.Errorf("stopped from outside: got %v", err)
		}
	})
}

// TestLimit goes through a bucket of three messages, one more every 2 minutes,
// the last kept for high priority.
func TestLimit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &recorder{}
		l := Limit(mail, Limits{Burst: 3, Every: 2 * time.Minute})
		steps := []struct {
			after time.Duration
			p     alarms.Priority
			held  time.Duration // 0: passes
		}{
			{0, alarms.Medium, 0},
			{0, alarms.Low, 0},
			{0, alarms.Medium, 2 * time.Minute},
			{30 * time.Second, alarms.Low, 90 * time.Second},
			{0, alarms.High, 0},
			{0, alarms.High, 90 * time.Second},
			{90 * time.Second, alarms.High, 0},
			{0, alarms.Medium, 4 * time.Minute},
			{time.Hour, alarms.Medium, 0},
			{0, alarms.Medium, 0},
			{0, alarms.Medium, 2 * time.Minute},
		}
		for i, s := range steps {
			time.Sleep(s.after)
			err := l.Tell(t.Context(), telling(garden(), "mail", tooHot(s.p)))
			var later *Later
			switch {
			case s.held == 0 && err != nil:
				t.Errorf("step %d: got %v, want it through", i, err)
			case s.held > 0 && (!errors.As(err, &later) || (later.Pause-s.held).Abs() > time.Millisecond):
				t.Errorf("step %d: got %v, want it held for %s", i, err, s.held)
			}
		}
		other := telling(garden(), "mail", tooHot(alarms.Low))
		other.Person = "Ben"
		if err := l.Tell(t.Context(), other); err != nil {
			t.Errorf("one person's messages held another's: %v", err)
		}
		if err := l.Tell(t.Context(), TestTelling("Ada", "mail", tongue.English, time.Now())); err != nil {
			t.Errorf("a test was held: %v", err)
		}
	})
}

// TestLimitCountsWhatArrived: failing tries use nothing up.
func TestLimitCountsWhatArrived(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := Limit(&recorder{answer: always(errors.New("no route"))}, Limits{})
		for range 20 {
			if err := l.Tell(t.Context(), telling(garden(), "mail", tooHot(alarms.Low))); err == nil || err.Error() != "no route" {
				t.Fatalf("got %v", err)
			}
		}
	})
}

func TestDryRun(t *testing.T) {
	var out bytes.Buffer
	m := telling(garden(), "mail", tooHot(alarms.High))
	if err := DryRun(zerolog.New(&out)).Tell(t.Context(), m); err != ErrRehearsed {
		t.Fatalf("a rehearsal that says anything else than that it is one: %v", err)
	}
	if !strings.Contains(out.String(), m.Events[0].Sentence) || !strings.Contains(out.String(), "Ada") {
		t.Errorf("logged %s", out.String())
	}
}
