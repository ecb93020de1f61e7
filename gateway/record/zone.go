package record

import "time"

// jump is a step of a clock as it stood on the wall, ns.
type jump struct{ before, after int64 }

// mostJumps bounds how many are looked at.
const mostJumps = 100

// jump notes a step that is an hour longer than usual, or goes back by up to an
// hour: clocks are put forth and back so.
func (o *ordered) jump(before, after int64, usual func() time.Duration, newest bool) {
	if newest {
		before, after = after, before
	}
	step := time.Duration(after - before)
	switch {
	case len(o.jumps) == mostJumps || step > 3*time.Hour || step < -time.Hour:
	case step < -10*time.Minute, step >= time.Hour && step == usual()+time.Hour:
		o.jumps = append(o.jumps, jump{before, after})
	}
}

// summers are zones that stand for a rule of summer time each.
var summers = []string{"Europe/Berlin", "America/New_York", "Europe/London", "Europe/Helsinki", "Australia/Sydney", "Pacific/Auckland"}

// Zones are some that somebody may mean who names none that there is.
var Zones = append([]string{"UTC", "CET", "EET", "WET", "EST", "Europe/Paris", "Europe/Rome", "Europe/Madrid", "America/Chicago", "America/Denver", "America/Los_Angeles"}, summers...)

// summerOf is the zone whose summer time explains most of the jumps; nil: none
// explains any.
func summerOf(jumps []jump) (best *time.Location, at jump) {
	most := 0
	for _, name := range summers {
		zone, err := time.LoadLocation(name)
		if err != nil {
			continue // a machine without the table of zones
		}
		n, first := 0, jump{}
		for _, j := range jumps {
			if j.explained(zone) {
				if n++; n == 1 {
					first = j
				}
			}
		}
		if n > most {
			best, most, at = zone, n, first
		}
	}
	return best, at
}

// explained reports whether the clocks of a zone were put forth or back there.
func (j jump) explained(zone *time.Location) bool {
	w := newWall(zone, false)
	if j.after < j.before {
		first, second := w.both(j.after)
		return first != second
	}
	_, before := w.both(j.before)
	after, _ := w.both(j.after)
	return j.after-j.before-(after-before) == int64(time.Hour)
}
