package exposure

import "math"

// Change is a moment at which too much was reached, or was over.
type Change struct {
	At      int64
	Reached bool
}

// Meter counts by one rule. It is not safe for concurrent use.
type Meter struct {
	rule  Rule
	ends  func(after int64) int64
	limit int64
	step  int64
	State
}

// New makes a meter for r, which must pass Check. For a rule of periods, ends
// returns when the period that holds just after a moment ends.
func New(r Rule, ends func(after int64) int64) *Meter {
	return &Meter{rule: r, ends: ends, limit: r.limit(), step: max(r.step(), 1)}
}

// Tell says what holds from at on, at the longest until the moment until; 0:
// without end. excess is how far beyond the limit the value is, K. Advance
// must have been called for at.
func (m *Meter) Tell(at int64, c Condition, excess float64, until int64) {
	m.begin(at)
	if c == Unknown || c == Aside {
		until = 0
	}
	if until != 0 && until <= at {
		c, until = Unknown, 0
	}
	m.Now, m.Until, m.Weight = c, until, 0
	if c == Beyond {
		m.Weight = m.rule.weight(excess)
	}
}

func (m *Meter) begin(at int64) {
	if m.At == 0 {
		m.At = at
		if m.rule.Periods > 0 {
			m.End = m.ends(at)
		}
	}
}

// Advance counts up to the moment to and returns what changed on the way.
func (m *Meter) Advance(to int64) []Change {
	if m.At == 0 || to <= m.At {
		return nil
	}
	var out []Change
	if to-m.At > int64(longestLeap) {
		was := m.Reached
		m.State = State{}
		m.begin(to)
		if was {
			out = append(out, Change{At: to})
		}
		return out
	}
	for m.At < to {
		next := m.pass(to)
		m.count(next - m.At)
		m.At = next
		was := m.Reached
		m.arrive()
		if m.Reached != was {
			out = append(out, Change{At: m.At, Reached: m.Reached})
		}
	}
	return out
}

// Forgets reports whether nothing is counted or known, and the moment to is so far
// away that all is forgotten by then: there is no need to advance before.
func (m *Meter) Forgets(to int64) bool {
	return !m.Reached && m.Sum == 0 && m.Run == 0 && (m.Now == Unknown || m.Now == Aside) && to-m.At > int64(longestLeap)
}

// Due returns the next moment at which something may change, 0 for none.
func (m *Meter) Due() int64 {
	due := m.next(math.MaxInt64)
	if due == math.MaxInt64 {
		return 0
	}
	return due
}

// pass returns the next moment at which to stop counting, at most to. Besides
// those of next it stops where one bucket ends and another begins.
func (m *Meter) pass(to int64) int64 {
	to = m.next(to)
	if m.rule.Window > 0 && (m.Now == Unknown || m.Weight > 0) {
		to = min(to, (m.At/m.step+1)*m.step)
	}
	return to
}

// next returns the first moment after At and before to at which something
// changes, else to.
func (m *Meter) next(to int64) int64 {
	if m.At == 0 {
		return to
	}
	if m.Until != 0 {
		to = min(to, m.Until)
	}
	if m.Weight > 0 && m.Sum < m.limit {
		to = min(to, m.At+(m.limit-m.Sum+m.Weight-1)/m.Weight)
	}
	switch {
	case m.rule.Window > 0:
		if len(m.Buckets) > 0 && m.Sum > 0 {
			to = min(to, max(m.expiry(), m.At+1))
		}
	case m.rule.Gap > 0:
		to = m.nextOfSpell(to)
	default:
		to = min(to, max(m.End, m.At+1))
	}
	return to
}

func (m *Meter) nextOfSpell(to int64) int64 {
	switch {
	case m.Sum == 0 && m.Blind == 0:
	case m.Now == Within:
		to = min(to, m.At+max(int64(m.rule.Gap)-m.Clear, 1))
	case m.Now == Unknown:
		to = min(to, m.At+max(int64(forgetAfter)-m.Dark, 1))
	}
	return to
}

// expiry is when the oldest bucket leaves the window.
func (m *Meter) expiry() int64 { return (m.Buckets[0].N+1)*m.step + int64(m.rule.Window) }

// count adds d nanoseconds, at least one, of what holds.
func (m *Meter) count(d int64) {
	switch m.Now {
	case Within:
		m.Clear, m.Dark = sum(m.Clear, d), 0
	case Unknown:
		m.Dark = sum(m.Dark, d)
		m.Blind = sum(m.Blind, d)
		if m.rule.Window > 0 {
			m.bucket().Blind += d
		}
	case Beyond:
		m.Clear, m.Dark = 0, 0
		dose := times(d, m.Weight)
		m.Sum = sum(m.Sum, dose)
		if m.rule.Window > 0 && dose > 0 {
			b := m.bucket()
			b.Sum = sum(b.Sum, dose)
		}
	}
}

// sum adds without running over.
func sum(a, b int64) int64 {
	if b > math.MaxInt64-a {
		return math.MaxInt64
	}
	return a + b
}

// times multiplies without running over.
func times(d, weight int64) int64 {
	if weight > 0 && d > math.MaxInt64/weight {
		return math.MaxInt64
	}
	return d * weight
}

// bucket returns the one that At lies in.
func (m *Meter) bucket() *Bucket {
	n := m.At / m.step
	if k := len(m.Buckets); k == 0 || m.Buckets[k-1].N < n {
		m.Buckets = append(m.Buckets, Bucket{N: n})
	}
	return &m.Buckets[len(m.Buckets)-1]
}

// arrive does what is due at At, having counted up to it.
func (m *Meter) arrive() {
	if m.Sum >= m.limit && m.Run+1 >= m.rule.Periods {
		m.Reached = true
	}
	switch {
	case m.rule.Window > 0:
		m.leave()
	case m.rule.Gap > 0:
		if m.Clear >= int64(m.rule.Gap) || m.Dark >= int64(forgetAfter) {
			m.Sum, m.Blind, m.Reached = 0, 0, false
		}
	default:
		m.turn()
	}
	if m.Until != 0 && m.At >= m.Until {
		m.Now, m.Weight, m.Until = Unknown, 0, 0
	}
}

// leave drops what has left the window.
func (m *Meter) leave() {
	for len(m.Buckets) > 0 && m.expiry() <= m.At {
		m.Sum -= m.Buckets[0].Sum
		m.Blind -= m.Buckets[0].Blind
		m.Buckets = m.Buckets[1:]
	}
	if m.Sum <= m.limit/2 {
		m.Reached = false
	}
}

// turn ends a period.
func (m *Meter) turn() {
	if m.At < m.End {
		return
	}
	if m.Sum >= m.limit {
		m.Run = min(m.Run+1, MostInRow)
	} else {
		m.Run, m.Reached = 0, false
	}
	m.Sum, m.Blind = 0, 0
	m.End = m.ends(m.At)
}
