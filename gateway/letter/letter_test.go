package letter

import (
	"encoding/json"
	"math/rand/v2"
	"testing"
	"time"
)

// sunday is one at ten, in an invented year.
var sunday = time.Date(2026, 3, 29, Hour, 0, 0, 0, time.UTC)

var (
	ada     = Reader{Name: "Ada", Day: time.Sunday, Answers: true}
	ben     = Reader{Name: "Ben", Day: time.Sunday, Trial: true, Answers: true}
	readers = []Reader{ada, ben}
)

func nobody(string) bool { return false }

// play is a run of a watch: its clocks, what was sent when by the core's time, and what is
// kept.
type play struct {
	s     State
	core  time.Time
	ahead time.Duration // of the wall clock
	sent  []Letter
	at    []time.Time
	away  func(string) bool
}

func begin(at time.Time) *play { return &play{s: State{}, core: at, away: nobody} }

// look is one turn, with a restart before it: what is kept is all that there is.
func (p *play) look(t *testing.T) {
	t.Helper()
	kept, err := json.Marshal(p.s)
	if err != nil {
		t.Fatal(err)
	}
	p.s = nil
	if err := json.Unmarshal(kept, &p.s); err != nil {
		t.Fatal(err)
	}
	p.s.Look(readers, p.away, p.core)
	due, _ := p.s.Due(readers, p.away, p.core, p.core.Add(p.ahead))
	for _, l := range due {
		p.sent, p.at = append(p.sent, l), append(p.at, p.core)
		p.s.Sent(l, p.core)
	}
}

// live looks every so often for a while.
func (p *play) live(t *testing.T, d, every time.Duration) {
	t.Helper()
	for end := p.core.Add(d); p.core.Before(end); p.core = p.core.Add(every) {
		p.look(t)
	}
}

func (p *play) to(name string) (all []Letter) {
	for _, l := range p.sent {
		if l.Name == name {
			all = append(all, l)
		}
	}
	return all
}

const day = 24 * time.Hour

func TestALetterComesOnItsDayAndATrialOnTheFirstOfTheMonth(t *testing.T) {
	p := begin(sunday.Add(-3 * day))
	p.live(t, 105*day, time.Hour)
	ls := p.to("Ada")
	if len(ls) != 15 {
		t.Fatalf("%d letters in 15 weeks from a Thursday on, want 15", len(ls))
	}
	for i, l := range ls {
		if want := sunday.Add(time.Duration(i) * 7 * day); !l.Of.Equal(want) || l.Number != i+1 {
			t.Errorf("letter %d is number %d of %v, want of %v", i, l.Number, l.Of, want)
		}
	}
	trials := p.to("Ben")
	for i, want := range []string{"2026-04-05", "2026-05-03", "2026-06-07", "2026-07-05"} {
		if i >= len(trials) || trials[i].Of.Format(time.DateOnly) != want {
			t.Fatalf("the trials are %v, want one on %s", trials, want)
		}
	}
	if len(trials) != 4 {
		t.Errorf("%d trials", len(trials))
	}
}

// Whoever begins on a Sunday at noon waits for the next one; a watch that was off sends it
// when it is back, once.
func TestALetterIsNotLostAndNotSentTwice(t *testing.T) {
	p := begin(sunday.Add(2 * time.Hour))
	p.live(t, 6*day, time.Hour)
	if len(p.sent) != 0 {
		t.Fatalf("sent at once: %v", p.sent)
	}
	p.core = p.core.Add(3 * day) // off over Sunday, on Tuesday
	p.live(t, 2*day, time.Minute)
	if ls := p.to("Ada"); len(ls) != 1 || !ls[0].Of.Equal(sunday.Add(7*day)) {
		t.Fatalf("after it was off: %v", ls)
	}
	p.live(t, 7*day, time.Hour)
	if ls := p.to("Ada"); len(ls) != 2 {
		t.Errorf("a week later: %v", ls)
	}
}

// A crash between sending and keeping makes the same letter again.
func TestALetterSentAgainAfterACrashIsTheSame(t *testing.T) {
	p := begin(sunday.Add(-day))
	p.look(t)
	p.core = sunday
	first, _ := p.s.Due(readers, nobody, p.core, p.core)
	again, _ := p.s.Due(readers, nobody, p.core.Add(time.Hour), p.core.Add(time.Hour))
	if len(first) != 1 || len(again) != 1 || first[0] != again[0] {
		t.Errorf("first %v, then %v", first, again)
	}
}

// However the clocks are set, and whenever it is looked, nobody gets two within the least
// time; and once they are left alone letters come as ever.
func TestClocksThatAreSetBringNoFlood(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 0))
		p := begin(sunday.Add(-time.Duration(rng.IntN(7)) * day))
		for range 40 {
			if rng.IntN(2) == 0 {
				p.ahead += time.Duration(rng.IntN(4000)-2000) * day / 2
			}
			p.live(t, time.Duration(rng.IntN(200))*time.Hour, time.Duration(1+rng.IntN(20))*time.Hour)
		}
		last := map[string]time.Time{}
		for i, l := range p.sent {
			least := leastLetter
			if l.Trial {
				least = leastTrial
			}
			if before, ok := last[l.Name]; ok && p.at[i].Sub(before) < least {
				t.Fatalf("seed %d: two to %s within %v", seed, l.Name, p.at[i].Sub(before))
			}
			last[l.Name] = p.at[i]
		}
		n := len(p.to("Ada"))
		p.live(t, 28*day, time.Hour)
		if got := len(p.to("Ada")) - n; got < 3 || got > 5 {
			t.Fatalf("seed %d: %d letters in the four weeks after, want one a week, or one more", seed, got)
		}
	}
}

func TestALetterThatNobodyConfirmsIsMissed(t *testing.T) {
	p := begin(sunday.Add(-day))
	p.live(t, day+Patience+time.Hour, time.Hour)
	if m := p.s["Ada"].Missed; !m.IsZero() {
		t.Errorf("missed as of %v before its time is up", m)
	}
	p.live(t, 2*time.Hour, time.Hour)
	if m := p.s["Ada"].Missed; !m.Equal(sunday) {
		t.Fatalf("missed %v, want that of %v", m, sunday)
	}
	p.live(t, 14*day, time.Hour)
	if m := p.s["Ada"].Missed; !m.Equal(sunday) {
		t.Errorf("two weeks later the first is %v, want %v", m, sunday)
	}
	for number, want := range map[int]Stand{99: Unknown, 1: Older, p.s["Ada"].Number: Waits} {
		if got := p.s.Stands("Ada", number); got != want {
			t.Errorf("number %d stands %v, want %v", number, got, want)
		}
	}
	if p.s.Take("Ada", 1, p.core) != Older || p.s["Ada"].Missed.IsZero() {
		t.Error("an old link confirms the new letter")
	}
	if p.s.Take("Ada", p.s["Ada"].Number, p.core) != Waits || !p.s["Ada"].Missed.IsZero() {
		t.Errorf("confirmed, and it is %+v", p.s["Ada"])
	}
	if p.s.Take("Ada", 0, p.core) != Confirmed || p.s.Take("Cy", 0, p.core) != Unknown {
		t.Error("confirmed twice, or by a stranger")
	}
	if m := p.s["Ben"].Missed; !m.IsZero() {
		t.Errorf("a trial is missed: %v", m)
	}
}

func TestWhoIsAwayGetsNoneAndIsNotMissed(t *testing.T) {
	gone := false
	p := begin(sunday.Add(-day))
	p.away = func(name string) bool { return gone && name == "Ada" }
	p.live(t, day+time.Hour, time.Hour)
	gone = true // an hour after it came
	p.live(t, 10*day, time.Hour)
	if ls := p.to("Ada"); len(ls) != 1 || !p.s["Ada"].Missed.IsZero() {
		t.Errorf("away: %v, missed %v", ls, p.s["Ada"].Missed)
	}
	gone = false
	p.live(t, 3*day, time.Hour)
	if ls := p.to("Ada"); len(ls) != 1 || !p.s["Ada"].Missed.IsZero() {
		t.Errorf("back in the middle of the week: %v, missed %v", ls, p.s["Ada"].Missed)
	}
	p.live(t, 7*day, time.Hour)
	if ls := p.to("Ada"); len(ls) != 2 {
		t.Errorf("the Sunday after: %v", ls)
	}
}

// Who gets letters no more, or cannot answer any more, is missed no more.
func TestAChangedConfigEndsWhatIsMissed(t *testing.T) {
	p := begin(sunday.Add(-day))
	p.live(t, 4*day, time.Hour)
	if p.s["Ada"].Missed.IsZero() {
		t.Fatal("nothing is missed")
	}
	mute := ada
	mute.Answers = false
	if p.s.Look([]Reader{mute, ben}, nobody, p.core); !p.s["Ada"].Missed.IsZero() {
		t.Error("missed of somebody who cannot answer")
	}
	if p.s.Look([]Reader{ben}, nobody, p.core); p.s.Stands("Ada", 0) != Unknown {
		t.Error("who gets none is remembered")
	}
}
