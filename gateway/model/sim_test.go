package model

import (
	"bytes"
	"math"
	"slices"
	"testing"
	"time"
)

func day(y int, m time.Month, d, h int) time.Time { return time.Date(y, m, d, h, 0, 0, 0, time.UTC) }

// A day of every season: what is stored is what came in less what went out.
func TestEnergyIsKeptOverADay(t *testing.T) {
	for _, start := range []time.Time{day(2026, 1, 21, 0), day(2026, 4, 10, 0), day(2026, 7, 14, 0), day(2026, 10, 20, 0)} {
		s := ThimbleGarth(start, 3)
		before := s.Truth()
		s.Advance(start.Add(24 * time.Hour))
		after := s.Truth()
		for i, h := range after.Houses {
			gained, net := h.Stored-before.Houses[i].Stored, net(h.Ledger)
			if turned := h.Ledger.Sun + h.Ledger.Heater; math.Abs(gained-net) > 0.01*turned || turned <= 0 {
				t.Errorf("%s from %s: stored %.0f J more, flows sum to %.0f J, sun and heater gave %.0f J", h.Name, start, gained, net, turned)
			}
			if h.Ledger.Sky >= 0 || h.Ledger.Sun <= 0 {
				t.Errorf("%s from %s: %+v", h.Name, start, h.Ledger)
			}
		}
	}
}

// Sane all year round, with and without sun.
func TestAYearOfPlausibleDays(t *testing.T) {
	for month := time.January; month <= time.December; month += 2 {
		start := day(2026, month, 10, 0)
		s := ThimbleGarth(start, uint64(month))
		for h := range 24 {
			s.Advance(start.Add(time.Duration(h+1) * time.Hour))
			tr := s.Truth()
			if o := tr.Outside; o.Temperature < -15 || o.Temperature > 38 || o.Humidity < 15 || o.Humidity > 100 || o.Sun < 0 || o.Sun > 1000 {
				t.Errorf("outside: %+v", o)
			}
			for _, house := range tr.Houses {
				if house.Covered != (month <= time.March) {
					t.Errorf("%s: vents covered %v in %s", house.Name, house.Covered, month)
				}
				if house.Temperature < tr.Outside.Temperature-3 || house.Temperature > 45 || house.Humidity < 15 || house.Humidity > 100 {
					t.Errorf("%+v", tr)
				}
			}
		}
	}
}

// The same start and seed give the same bytes, however time is cut; another
// seed gives others.
func TestDeterministic(t *testing.T) {
	start := day(2026, 5, 20, 9)
	end := start.Add(2 * time.Hour)
	story, _ := Find("closed-shutter")
	at := func(seed uint64, steps time.Duration) []Published {
		s, err := Tell(Story{Name: "x", Start: start, Weather: story.Weather, Events: []Event{
			{After: 30 * time.Minute, Fault: Fault{Kind: BreakerTripped, House: "long-house", Circuit: North}, On: true},
			{After: 50 * time.Minute, Fault: Fault{Kind: BreakerTripped, House: "long-house", Circuit: North}},
		}}, seed)
		if err != nil {
			t.Fatal(err)
		}
		var list []Published
		for now := start; now.Before(end); {
			now = now.Add(steps)
			if now.After(end) {
				now = end
			}
			list = append(list, s.Advance(now)...)
		}
		return list
	}
	want := at(1, 2*time.Hour)
	for _, steps := range []time.Duration{700 * time.Millisecond, 5 * time.Second, 61 * time.Second} {
		if got := at(1, steps); !samePublished(got, want) {
			t.Errorf("in steps of %s: other messages", steps)
		}
	}
	if samePublished(at(2, time.Hour), want) {
		t.Error("another seed gave the same messages")
	}
	if !slices.IsSortedFunc(want, func(a, b Published) int { return a.At.Compare(b.At) }) {
		t.Error("messages are not in order")
	}
	if len(want) < 2000 {
		t.Errorf("got only %d messages in two hours", len(want))
	}
}

func samePublished(a, b []Published) bool {
	return slices.EqualFunc(a, b, func(x, y Published) bool {
		return x.Topic == y.Topic && bytes.Equal(x.Payload, y.Payload) && x.At.Equal(y.At) && x.Retain == y.Retain
	})
}

// Each probe keeps to its interval.
func TestIntervals(t *testing.T) {
	start := day(2026, 6, 1, 0)
	s := ThimbleGarth(start, 5)
	last := map[string]time.Time{}
	for _, p := range s.Advance(start.Add(time.Hour)) {
		spec := specOf(t, p.Topic)
		if before, ok := last[p.Topic]; ok {
			if gap := p.At.Sub(before); (gap - spec.Every).Abs() > 2*time.Second+10*time.Millisecond {
				t.Errorf("%s: %s between messages, want about %s", p.Topic, gap, spec.Every)
			}
		}
		if p.Retain != spec.Retain {
			t.Errorf("%s: retain %v", p.Topic, p.Retain)
		}
		last[p.Topic] = p.At
	}
	if len(last) != len(Layout()) {
		t.Errorf("heard %d of %d probes", len(last), len(Layout()))
	}
}

func specOf(t *testing.T, topic string) Spec {
	t.Helper()
	for _, s := range Layout() {
		if s.Topic == topic {
			return s
		}
	}
	t.Fatalf("no probe publishes on %s", topic)
	return Spec{}
}

func BenchmarkDay(b *testing.B) {
	start := day(2026, 7, 14, 0)
	for range b.N {
		s := ThimbleGarth(start, 1)
		s.Advance(start.Add(24 * time.Hour))
	}
}
