package ahead_test

import (
	"slices"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/score"
)

// share is what one who warns was worth at the limits of one kind.
type share struct {
	reached, inTime, warnings, vain int
	leads                           []time.Duration
	weeks                           float64
}

// shares are those of the outlook and of the yardsticks, by the kind of limit.
type shares map[string]map[string]*share

// plan has the limits of a side at two places that one reading goes to: a place has two.
func plan(l *life, limits [2][]float64) alarms.Plan {
	h := alarms.House{ID: "h", Latitude: l.latitude, Longitude: l.longitude}
	for i, id := range []alarms.PlaceID{"a", "b"} {
		of := alarms.Limits{High: alarms.At(limits[0][i]), Low: alarms.At(limits[1][i])}
		if i == 1 {
			of.HighHigh, of.LowLow = alarms.At(limits[0][2]), alarms.At(limits[1][2])
		}
		h.Places = append(h.Places, alarms.Place{ID: id, Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: of}},
			Probes: []alarms.Probe{{ID: alarms.ProbeID(id), Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}})
	}
	return alarms.Plan{Houses: []alarms.House{h}}
}

// take lets all who warn follow a house, and counts from the day on from which is judged.
func (s shares) take(l *life) {
	limits := l.limits()
	from, to := l.at(learned*perDay), l.at(len(l.v))
	o := score.NewOutlooks(plan(l, limits), l.begin, to)
	for i, v := range l.v {
		for _, probe := range []alarms.ProbeID{"a", "b"} {
			o.Reading(l.at(i), probe, alarms.Temperature, v)
		}
	}
	kinds := map[alarms.Side][]string{
		alarms.HighSide: {"high, one day in 2", "high, one day in 4", "high, one day in 10"},
		alarms.LowSide:  {"low, one night in 2", "low, one night in 4", "low, one night in 10"},
	}
	seen := map[alarms.Side]int{}
	for _, place := range o.Sum() {
		for _, limit := range place.Limits {
			name := kinds[limit.Side][seen[limit.Side]]
			seen[limit.Side]++
			for _, r := range limit.Records {
				s.add(name, r, from, to)
			}
		}
	}
}

func (s shares) add(name string, r score.Record, from, to time.Time) {
	if s[name] == nil {
		s[name] = map[string]*share{}
	}
	if s[name][r.Who] == nil {
		s[name][r.Who] = &share{}
	}
	sum := s[name][r.Who]
	r.Crossings = slices.DeleteFunc(slices.Clone(r.Crossings), func(c score.Crossing) bool { return c.At.Before(from) })
	r.Episodes = slices.DeleteFunc(slices.Clone(r.Episodes), func(e score.Episode) bool { return e.From.Before(from) })
	t := r.Tally(score.AllWeeks, from, to)
	sum.reached, sum.inTime, sum.warnings, sum.vain = sum.reached+t.Crossings, sum.inTime+t.InTime, sum.warnings+t.Warnings, sum.vain+t.False
	sum.weeks += t.Weeks
	for _, c := range r.Crossings {
		sum.leads = append(sum.leads, c.Lead)
	}
}

func (s shares) merge(o shares) {
	for name, all := range o {
		if s[name] == nil {
			s[name] = map[string]*share{}
		}
		for who, b := range all {
			if s[name][who] == nil {
				s[name][who] = &share{}
			}
			a := s[name][who]
			a.reached, a.inTime, a.warnings, a.vain, a.weeks = a.reached+b.reached, a.inTime+b.inTime, a.warnings+b.warnings, a.vain+b.vain, a.weeks+b.weeks
			a.leads = append(a.leads, b.leads...)
		}
	}
}

const (
	outlooks = "outlook"
	enough   = 30 // crossings from which a share is judged
)

// show prints the table, and says where the outlook is worth less than a limit less 1 K.
func (s shares) show(t *testing.T) {
	t.Helper()
	for _, name := range []string{"high, one day in 2", "high, one day in 4", "high, one day in 10", "low, one night in 2", "low, one night in 4", "low, one night in 10"} {
		ours := s[name][outlooks]
		for _, who := range []string{outlooks, "limit less 1 K", "straight on for an hour"} {
			r := s[name][who]
			if r == nil || r.reached == 0 {
				t.Errorf("%s, %s: nothing was reached", name, who)
				continue
			}
			slices.Sort(r.leads)
			t.Logf("%-20s  %-23s  told 15 min before: %3d of %3d (%2.0f %%), median %3.0f, tenth %2.0f min, %.2f false a week of %.2f", name, who,
				r.inTime, r.reached, 100*float64(r.inTime)/float64(r.reached), r.leads[len(r.leads)/2].Minutes(), r.leads[len(r.leads)/10].Minutes(),
				float64(r.vain)/r.weeks, float64(r.warnings)/r.weeks)
		}
		if plain := s[name]["limit less 1 K"]; plain.reached < enough {
			t.Log("too few to judge")
		} else if float64(ours.inTime) < 0.85*float64(plain.inTime) || float64(ours.vain) > 1.5*float64(plain.vain) {
			t.Errorf("%s: the outlook tells %d in time and %d in vain, where a limit less 1 K tells %d and %d", name, ours.inTime, ours.vain, plain.inTime, plain.vain)
		}
	}
}
