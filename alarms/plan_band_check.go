package alarms

import (
	"slices"
	"strings"

	"telltale/alarms/tongue"
)

// LimitNames are the four limits from below.
var LimitNames = [4]string{"low-low", "low", "high", "high-high"}

// LimitName is that of the limit of a side whose alarm has a level.
func LimitName(s Side, l Level) string {
	i := 2
	if s == LowSide {
		i = 1
	}
	if l < Inner {
		return LimitNames[i]
	}
	return LimitNames[3*(i-1)]
}

// path is where b is, of a quantity that is at.
func (b *Band) path(at Path) Path {
	if len(b.Seasons) > 0 {
		var names []string
		for _, s := range b.Seasons {
			names = append(names, string(s))
		}
		at = at.to(strings.Join(names, "+"))
	}
	if b.When != Always {
		at = at.to(b.When.String())
	}
	return at
}

// bands checks all that p says of q.
func (f *housed) bands(at Path, p *Place, q Quantity) {
	at = at.to(string(q))
	limited := slices.ContainsFunc(p.Rates, func(r RateLimit) bool { return r.Quantity == q })
	for i := range p.Bands {
		if b := &p.Bands[i]; b.Quantity == q {
			limited = true
			f.band(at, p, b)
		}
	}
	if limited && q.Facts().Limited && !p.Sees(q) {
		f.unseen(at, p, q)
	}
	var crossed [][2]*Limit // that were told of
	var wide []*Band
	for _, s := range Seasons {
		for _, part := range []Daypart{Day, Night} {
			most, by := p.holding(q, s, part)
			below := -1
			for i, b := range by {
				if b == nil {
					continue
				}
				if below >= 0 {
					pair := [2]*Limit{by[below].All()[below], b.All()[i]}
					if pair[1].Value <= pair[0].Value && !slices.Contains(crossed, pair) {
						crossed = append(crossed, pair)
						f.outOfOrder(at, by, below, i)
					}
				}
				below = i
			}
			if most != nil && !slices.Contains(wide, most) && f.deadband(at, most, by) {
				wide = append(wide, most)
			}
		}
	}
}

// band checks what b says by itself.
func (f *housed) band(at Path, p *Place, b *Band) {
	q, facts := b.Quantity, b.Quantity.Facts()
	at = b.path(at)
	lo, hi, known := p.Reach(q)
	for i, l := range b.All() {
		if !l.Set {
			continue
		}
		f.within(at.to(LimitNames[i]), Amount{q, l.Value, false}, Amount{q, facts.Lowest, false}, Amount{q, facts.Highest, false})
		if known && lo < hi && (i < 2 && l.Value <= lo || i >= 2 && l.Value >= hi) {
			f.unreachable(at.to(LimitNames[i]), p, q, l.Value)
		}
	}
	f.within(at.to("deadband"), Amount{q, b.Deadband, true}, Amount{q, 0, true}, Amount{q, facts.Width(), true})
	if full := b.withDefaults(); full.QuickDelay > full.Delay {
		var text tongue.Text = "low-low and high-high must not wait longer than low and high (quick-delay is %s, delay is %s)"
		f.fail(at.to("quick-delay"), text, full.QuickDelay, full.Delay).Or = &Problem{At: at.to("delay"), Text: text, Args: []any{full.QuickDelay, full.Delay}}
	}
}

// unreachable tells a limit that no probe of p can tell of, since its sensor is not
// believed beyond it.
func (f *housed) unreachable(at Path, p *Place, q Quantity, v float64) {
	lo, hi, _ := p.Reach(q)
	var names []string
	for _, pr := range p.Probes {
		if pr.Gives(q) {
			names = append(names, string(pr.ID))
		}
	}
	f.fail(at, "can never be passed, so nobody would be told: %s of %s is believed from %s to %s (got %s); if its sensor can give more, set kind, min or max of the probe",
		q, strings.Join(names, ", "), Amount{q, lo, false}, Amount{q, hi, false}, Amount{q, v, false})
}

// unseen tells limits of what no probe of p gives.
func (f *housed) unseen(at Path, p *Place, q Quantity) {
	if !q.Derived() {
		f.fail(at, "has limits, but no probe of this place measures it")
		return
	}
	for _, of := range q.Facts().From {
		if !p.Sees(of) {
			f.fail(at, "is worked out from temperature and humidity, but no probe of this place measures %s", of)
		}
	}
}

// outOfOrder reports that the limit hi in force is not above the limit lo.
func (f *housed) outOfOrder(at Path, by [4]*Band, lo, hi int) {
	say := func(mine, other int, text tongue.Text) Problem {
		own, theirs := by[mine], by[other]
		beside := theirs.path(at).to(LimitNames[other])
		return Problem{At: own.path(at).to(LimitNames[mine]), Text: text, Rests: []Path{beside},
			Args: []any{LimitNames[other], Amount{own.Quantity, own.All()[mine].Value, false}, LimitNames[other],
				Amount{own.Quantity, theirs.All()[other].Value, false}, beside}}
	}
	one, or := say(hi, lo, "must be above %s (got %s, %s is %s, %s)"), say(lo, hi, "must be below %s (got %s, %s is %s, %s)")
	one.Or = &or
	f.found = append(f.found, one)
}

// deadband tells a deadband that leaves no room between low and high.
func (f *housed) deadband(at Path, most *Band, by [4]*Band) bool {
	if by[1] == nil || by[2] == nil {
		return false
	}
	low, high, q := by[1].Low.Value, by[2].High.Value, most.Quantity
	d := most.withDefaults().Deadband
	if high <= low || d < (high-low)/2 {
		return false
	}
	f.fail(most.path(at).to("deadband"), "must be below half the way from low to high, or an alarm could never end (got %s, low is %s and high is %s)",
		Amount{q, d, true}, Amount{q, low, false}, Amount{q, high, false})
	return true
}

// rate checks a limit of how fast something changes.
func (f *housed) rate(at Path, p *Place, r *RateLimit) {
	facts := r.Quantity.Facts()
	for _, one := range []struct {
		key string
		l   Limit
	}{{"rise-per-hour", r.Rise}, {"fall-per-hour", r.Fall}} {
		switch {
		case !one.l.Set:
		case !facts.Limited || r.Quantity.Derived():
			f.fail(at.to(one.key), "is for what a probe measures: %s takes no limit of how fast it changes", r.Quantity)
		default:
			f.within(at.to(one.key), Amount{r.Quantity, one.l.Value, true}, Amount{r.Quantity, LeastRate, true}, Amount{r.Quantity, 10 * facts.Width(), true})
		}
	}
	window := r.withDefaults().Window
	for _, pr := range p.Probes {
		if pr.Every <= 0 || !pr.Gives(r.Quantity) || window >= LeastReadings*pr.Every {
			continue
		}
		var text tongue.Text = "must be at least %d intervals of probe %s, or there are too few readings to see a rate (got %s, the interval is %s)"
		if r.Window == 0 {
			text = "must be at least %d intervals of probe %s, or there are too few readings to see a rate (got %s by default, the interval is %s)"
		}
		f.fail(at.to("rate-window"), text, LeastReadings, pr.ID, window, pr.Every)
	}
}

// LeastRate is the smallest limit of how fast something changes, in its unit an hour.
const LeastRate = 0.01

// LeastReadings are how many readings a slope needs within its window. Common practice,
// no source.
const LeastReadings = 5
