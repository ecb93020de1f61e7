package exposure

import (
	"encoding/json"
	"math"
	"math/rand"
	"reflect"
	"testing"
	"time"
)

const (
	sec   = int64(time.Second)
	hour  = int64(time.Hour)
	start = 1_780_272_000 * sec // a midnight, UTC
)

func daily(after int64) int64 { return (after/(24*hour) + 1) * 24 * hour }

// 40 °C for 3 h over a base of 35 °C are 15 K h. Arithmetic, as in any table of
// degree-hours.
func TestDegreeHours(t *testing.T) {
	m := New(Rule{DegreeHours: 15, Window: 48 * time.Hour}, nil)
	m.Tell(start, Beyond, 40-35, 0)
	if got := m.Due(); got != start+3*hour {
		t.Fatalf("due after %v, want 3h", time.Duration(got-start))
	}
	if got := m.Advance(start + 3*hour - 1); got != nil {
		t.Fatalf("reached too early: %v", got)
	}
	if got := m.Advance(start + 10*hour); len(got) != 1 || got[0] != (Change{start + 3*hour, true}) {
		t.Fatalf("got %v", got)
	}
	m = New(Rule{DegreeHours: 15, Window: 48 * time.Hour}, nil)
	m.Tell(start, Beyond, 5, 0)
	m.Advance(start + 3*hour)
	if m.Dose() != 15 || m.Exposed() != 0 {
		t.Errorf("got %v K h and %v", m.Dose(), m.Exposed())
	}
}

func TestUnknownIsNeither(t *testing.T) {
	m := New(Rule{Time: 8 * time.Hour, Gap: 2 * time.Hour}, nil)
	m.Tell(start, Beyond, 0, start+hour)
	m.Advance(start + 5*hour) // known for one hour only
	if m.Exposed() != time.Hour || m.Unseen() != 4*time.Hour {
		t.Errorf("got %v exposed, %v unseen", m.Exposed(), m.Unseen())
	}
	m.Tell(start+5*hour, Within, 0, start+6*hour)
	m.Advance(start + 9*hour)
	if m.Exposed() != time.Hour {
		t.Error("an hour within and three unknown made a gap of two")
	}
	m.Tell(start+9*hour, Within, 0, 0)
	m.Advance(start + 10*hour)
	if m.Exposed() != 0 {
		t.Error("two hours within must end the spell")
	}
}

// word is what a random course says from a second on.
type word struct {
	at     int64 // s after start
	c      Condition
	excess float64
	until  int64 // s, 0: none
}

func course(r *rand.Rand, n int) []word {
	at, out := int64(0), []word(nil)
	for range n {
		w := word{at: at, c: Condition(r.Intn(4)), excess: float64(r.Intn(800)) / 100}
		if r.Intn(3) == 0 {
			w.c = Beyond
		}
		if r.Intn(2) == 0 {
			w.until = at + 1 + int64(r.Intn(4000))
		}
		out = append(out, w)
		step := 1 + int64(r.Intn(3000))
		if r.Intn(40) == 0 {
			step += int64(r.Intn(100_000))
		}
		at += step
	}
	return out
}

func rules() []Rule {
	return []Rule{
		{Time: 30 * time.Minute, Window: 96 * time.Minute},
		{Time: 3 * time.Hour, Window: 48 * time.Hour},
		{DegreeHours: 6, Window: 5 * time.Hour},
		{Time: 90 * time.Minute, Gap: 20 * time.Minute},
		{DegreeHours: 4, Gap: time.Hour},
		{Time: 5 * time.Hour, Periods: 1},
		{Time: 4 * time.Hour, Periods: 3},
		{DegreeHours: 15, Periods: 2},
	}
}

// run feeds the course and returns the changes; between words it advances to
// some moments in between.
func run(m *Meter, words []word, between func(m *Meter, from, to int64) []Change) []Change {
	var out []Change
	for i, w := range words {
		at := start + w.at*sec
		if i > 0 {
			out = append(out, between(m, m.At, at)...)
		}
		out = append(out, m.Advance(at)...)
		until := int64(0)
		if w.until > 0 {
			until = start + w.until*sec
		}
		m.Tell(at, w.c, w.excess, until)
	}
	return out
}

func none(*Meter, int64, int64) []Change { return nil }

// How often a meter is advanced, and whether it is saved and loaded on the
// way, changes nothing; and Due names every moment of change in advance.
func TestTicksChangeNothing(t *testing.T) {
	for seed := range sample(int64(4), 15) {
		words := course(rand.New(rand.NewSource(seed)), 150)
		for _, rule := range rules() {
			plain := New(rule, daily)
			want := run(plain, words, none)

			ticked, r := New(rule, daily), rand.New(rand.NewSource(seed))
			got := run(ticked, words, func(m *Meter, from, to int64) (out []Change) {
				for range r.Intn(5) {
					at := from + r.Int63n(to-from)
					if at > m.At {
						out = append(out, m.Advance(at)...)
					}
					b, err := json.Marshal(m.Save())
					if err != nil {
						t.Fatal(err)
					}
					var s State
					if err := json.Unmarshal(b, &s); err != nil {
						t.Fatal(err)
					}
					m.Load(s)
				}
				return out
			})
			if !reflect.DeepEqual(got, want) || ticked.Sum != plain.Sum || ticked.Blind != plain.Blind {
				t.Fatalf("seed %d, %+v: ticks changed %v to %v", seed, rule, want, got)
			}

			timed := New(rule, daily)
			got = run(timed, words, func(m *Meter, from, to int64) (out []Change) {
				for due := m.Due(); due != 0 && due <= to; due = m.Due() {
					for _, c := range m.Advance(due) {
						if c.At != due {
							t.Fatalf("seed %d, %+v: change at %d was not named, %d was", seed, rule, c.At, due)
						}
						out = append(out, c)
					}
				}
				m.Advance(to - 1)
				return out
			})
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d, %+v: due moments found %v, want %v", seed, rule, got, want)
			}
		}
	}
}

// naive counts second by second, from the words alone.
type naive struct {
	rule          Rule
	cond          []Condition
	dose          []float64 // K s, or s, of each second
	clear, dark   int
	sum           float64
	run           int
	reached       bool
	changes       []Change
	windowSeconds int
}

func newNaive(rule Rule, words []word, seconds int64) *naive {
	n := &naive{rule: rule, windowSeconds: int(rule.Window / time.Second)}
	i := 0
	for s := int64(0); s < seconds; s++ {
		for i+1 < len(words) && words[i+1].at <= s {
			i++
		}
		w := words[i]
		c := w.c
		if w.until > 0 && s >= w.until && c >= Within {
			c = Unknown
		}
		d := 0.0
		if c == Beyond {
			d = 1
			if rule.DegreeHours > 0 {
				d = w.excess
			}
		}
		n.cond, n.dose = append(n.cond, c), append(n.dose, d)
	}
	return n
}

func (n *naive) limit() float64 {
	if n.rule.DegreeHours > 0 {
		return n.rule.DegreeHours * 3600
	}
	return n.rule.Time.Seconds()
}

// inWindow adds up what lies between t-length and t.
func (n *naive) inWindow(t, length int) float64 {
	s := 0.0
	for i := max(t-length, 0); i < t; i++ {
		s += n.dose[i]
	}
	return s
}

// spell takes the second before t.
func (n *naive) spell(t int) {
	switch n.cond[t-1] {
	case Within:
		n.clear, n.dark = n.clear+1, 0
	case Beyond:
		n.clear, n.dark = 0, 0
	case Unknown:
		n.dark++
	}
	n.sum += n.dose[t-1]
	if n.clear >= int(n.rule.Gap/time.Second) || n.dark >= int(forgetAfter/time.Second) {
		n.sum = 0
	}
}

func (n *naive) flip(t int, to bool) {
	if n.reached != to {
		n.reached = to
		n.changes = append(n.changes, Change{start + int64(t)*sec, to})
	}
}

const tiny = 1e-6

func (n *naive) step(t int) {
	switch {
	case n.rule.Gap > 0:
		n.spell(t)
		if n.sum >= n.limit()-tiny {
			n.flip(t, true)
		} else if n.sum == 0 && (n.clear > 0 || n.dark > 0) {
			n.flip(t, false)
		}
	case n.rule.Periods > 0:
		n.sum += n.dose[t-1]
		full := n.sum >= n.limit()-tiny
		if full && n.run+1 >= n.rule.Periods {
			n.flip(t, true)
		}
		if t%86400 == 0 {
			if full {
				n.run++
			} else {
				n.run = 0
				n.flip(t, false)
			}
			n.sum = 0
		}
	}
}

// A meter agrees with adding up second by second: exactly for spells and
// periods, to the second where a dose is reached within one; a window within
// its stated resolution at every hour.
func TestAgainstCountingSeconds(t *testing.T) {
	for seed := range sample(int64(3), 8) {
		words := course(rand.New(rand.NewSource(1000+seed)), 120)
		last := words[len(words)-1].at
		for _, rule := range rules() {
			n := newNaive(rule, words, last)
			m := New(rule, daily)
			if rule.Window > 0 {
				checkWindow(t, n, m, words)
				continue
			}
			got := run(m, words, none)
			for s := 1; s <= int(last); s++ {
				n.step(s)
			}
			if len(got) != len(n.changes) {
				t.Fatalf("seed %d %+v: got %v, want %v", seed, rule, got, n.changes)
			}
			for i, c := range got {
				late := n.changes[i].At - c.At
				if c.Reached != n.changes[i].Reached || late < 0 || late >= sec || (rule.DegreeHours == 0 && late != 0) {
					t.Fatalf("seed %d %+v: got %v, want %v", seed, rule, c, n.changes[i])
				}
			}
		}
	}
}

func checkWindow(t *testing.T, n *naive, m *Meter, words []word) {
	t.Helper()
	next := 3600
	look := func(m *Meter, from, to int64) (out []Change) {
		for start+int64(next)*sec < to {
			out = append(out, m.Advance(start+int64(next)*sec)...)
			got := float64(m.Sum) / float64(sec)
			if n.rule.DegreeHours > 0 {
				got /= perDegree
			}
			window := n.windowSeconds
			least, most := n.inWindow(next, window), n.inWindow(next, window+int(m.step/sec)+1)
			if got < least-tiny || got > most+tiny {
				t.Fatalf("%+v at %d s: got %v, want from %v to %v", n.rule, next, got, least, most)
			}
			if m.Reached && got <= n.limit()/2-tiny || !m.Reached && got >= n.limit()+tiny {
				t.Fatalf("%+v at %d s: %v of %v and reached is %v", n.rule, next, got, n.limit(), m.Reached)
			}
			next += 3600
		}
		return out
	}
	for _, c := range run(m, words, look) {
		s := int((c.At - start) / sec)
		got, most := n.inWindow(s, n.windowSeconds), n.inWindow(s+1, n.windowSeconds+int(m.step/sec)+2)
		if c.Reached && most < n.limit()-tiny || !c.Reached && got > n.limit()/2+tiny {
			t.Fatalf("%+v at %d s: %v to %v of %v, change %v", n.rule, s, got, most, n.limit(), c)
		}
	}
}

// A window keeps at most its steps and one more, whatever happens.
func TestMemoryIsBounded(t *testing.T) {
	m := New(Rule{Time: 3 * time.Hour, Window: 48 * time.Hour}, nil)
	at := start
	for i := range 5000 {
		m.Tell(at, Condition(i%4), 1, 0)
		at += 7 * 60 * sec
		m.Advance(at)
		if len(m.Buckets) > steps+2 {
			t.Fatalf("%d buckets", len(m.Buckets))
		}
	}
}

// Sums do not run over, and a long absence is forgotten.
func TestExtremes(t *testing.T) {
	m := New(Rule{DegreeHours: 16000, Gap: time.Hour}, nil)
	m.Tell(start, Beyond, math.Inf(1), 0)
	m.Advance(start + 59*24*hour)
	m.Advance(start + 110*24*hour)
	if m.Sum <= 0 || !m.Reached {
		t.Errorf("got %d, reached %v", m.Sum, m.Reached)
	}
	got := m.Advance(start + 400*24*hour)
	if len(got) != 1 || got[0].Reached || m.Sum != 0 {
		t.Errorf("got %v, sum %d", got, m.Sum)
	}
	m.Tell(m.At, Beyond, math.NaN(), 0)
	if m.Weight != 0 {
		t.Error("no number counted")
	}
}

func TestCheck(t *testing.T) {
	for _, r := range rules() {
		if err := r.Check(); err != nil {
			t.Errorf("%+v: %v", r, err)
		}
	}
	for _, r := range []Rule{{}, {Time: time.Hour}, {Window: time.Hour}, {Time: time.Hour, DegreeHours: 1, Window: time.Hour},
		{Time: time.Hour, Window: time.Hour, Gap: time.Hour}, {Time: 2 * time.Hour, Window: time.Hour},
		{Time: time.Second, Window: time.Hour}, {Time: time.Hour, Window: 8 * 24 * time.Hour}, {Time: time.Hour, Periods: 31},
		{DegreeHours: -1, Gap: time.Hour}, {Time: time.Hour, Periods: -1}, {DegreeHours: math.NaN(), Gap: time.Hour}} {
		if r.Check() == nil {
			t.Errorf("%+v passed", r)
		}
	}
}
