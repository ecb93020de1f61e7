package alarms

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// gardenNow is a house under a random life: a place with one probe, one with
// two, and what was last sent of each.
type gardenNow struct {
	t    *testing.T
	rnd  *rand.Rand
	plan Plan
	e    *Engine
	at   time.Time
	sent map[ProbeID]float64 // temperature, as it was last taken
	when map[ProbeID]time.Time
	next map[ProbeID]float64 // a slow walk, so that nothing is doubted
	mute map[ProbeID]bool
	down bool
}

func newGardenNow(t *testing.T, seed uint64) *gardenNow {
	probe := func(id ProbeID) Probe {
		return Probe{ID: id, Name: string(id), Every: time.Minute, Streams: []Stream{{Quantity: Temperature}}}
	}
	limits := []Band{{Quantity: Temperature, Limits: Limits{LowLow: At(3), Low: At(8), High: At(30), HighHigh: At(38)}}}
	g := &gardenNow{t: t, rnd: rand.New(rand.NewPCG(seed, 8)), sent: map[ProbeID]float64{}, when: map[ProbeID]time.Time{},
		next: map[ProbeID]float64{"one": 29, "left": 28, "right": 26}, mute: map[ProbeID]bool{},
		at: time.Date(2026, 6, 21, 10, 0, 0, 0, time.UTC)}
	g.plan = Plan{Words: Words{Zone: time.UTC}, Houses: []House{{ID: "long-house", Name: "Long House", Places: []Place{
		{ID: "bench", Name: "bench", Bands: limits, Probes: []Probe{probe("one")},
			Rates: []RateLimit{{Quantity: Temperature, Rise: At(8), Fall: At(8)}}},
		{ID: "ridge", Name: "ridge", Bands: limits, Probes: []Probe{probe("left"), probe("right")}},
	}}}}
	var err error
	if g.e, err = New(g.plan); err != nil {
		t.Fatal(err)
	}
	return g
}

// act does something at random: mostly readings, now and then all else that
// changes what is known or in what state an alarm is.
func (g *gardenNow) act() {
	g.at = g.at.Add(time.Duration(1+g.rnd.IntN(40)) * time.Second)
	probes := []ProbeID{"one", "left", "right"}
	p := probes[g.rnd.IntN(len(probes))]
	in := Input{At: g.at, Kind: ReadingIn, Probe: p, Quantity: Temperature}
	switch n := g.rnd.IntN(60); {
	case n == 0:
		g.mute[p] = !g.mute[p]
		in = Input{At: g.at, Kind: Tick}
	case n == 1:
		g.down = !g.down
		in = Input{At: g.at, Kind: LinkUp}
		if g.down {
			in.Kind = LinkDown
		}
	case n == 2:
		g.restart()
		in = Input{At: g.at, Kind: Tick}
	case n < 8:
		in = g.person()
	case g.mute[p] || g.down:
		in = Input{At: g.at, Kind: Tick}
	default:
		g.next[p] = min(max(g.next[p]+g.rnd.NormFloat64()*0.6, 1), 44)
		in.Value = math.Round(g.next[p]*10) / 10
		g.sent[p], g.when[p] = in.Value, g.at
	}
	g.e.Step(in)
}

// person does something to an alarm that is not normal.
func (g *gardenNow) person() Input {
	in := Input{At: g.at, Kind: Tick}
	all := g.e.Picture().Alarms
	if len(all) == 0 {
		return in
	}
	in.Alarm, in.By = all[g.rnd.IntN(len(all))].ID, "Ann"
	in.Kind = []InputKind{Acknowledge, Shelve, Unshelve, TakeOut, PutBack}[g.rnd.IntN(5)]
	if in.Kind == Shelve {
		in.Until = g.at.Add(20 * time.Minute)
	}
	return in
}

func (g *gardenNow) restart() {
	snap, err := g.e.Snapshot()
	if err != nil {
		g.t.Fatal(err)
	}
	if g.e, err = Restore(g.plan, snap); err != nil {
		g.t.Fatal(err)
	}
}

// newest is what should be shown of a place on one side: of the probes that are
// live the worst, else what was last sent of the one that is named.
func (g *gardenNow) newest(pl PlacePicture, side Side, named ProbeID) (v float64, live, ok bool) {
	for _, pr := range pl.Probes {
		was, sent := g.sent[pr.ID]
		switch {
		case !sent || !pr.Values[0].Live:
		case !live, side == HighSide && was > v, side == LowSide && was < v:
			v, live, ok = was, true, true
		}
	}
	if !live {
		v, ok = g.sent[named]
	}
	return v, live, ok
}

// Whatever state an alarm is in, the value it shows as that of now is the
// newest believed reading, and what is not of now says how old it is.
func TestNoAlarmShowsAnOldValueAsThatOfNow(t *testing.T) {
	seen := map[string]int{}
	for seed := range uint64(12) {
		g := newGardenNow(t, seed)
		for n := range 1200 {
			g.act()
			w := Words{Fahrenheit: n%5 == 0, Zone: time.UTC}
			p := g.e.PictureIn(w.Fahrenheit)
			for _, a := range p.Alarms {
				if a.Rule == RuleLimit {
					g.limitShown(p, a, w, seen)
				}
				if strings.Contains(a.Told, " now") {
					t.Fatalf("what is kept says now: %q", a.Told)
				}
			}
			if t.Failed() {
				t.Fatalf("with seed %d", seed)
			}
		}
	}
	for _, s := range []State{Unacknowledged, Acknowledged, ReturnedUnack, Shelved, OutOfService} {
		for _, live := range []bool{true, false} {
			if seen[fmt.Sprint(s, live)] == 0 {
				t.Errorf("no alarm was ever seen %v with its probe live: %v", s, live)
			}
		}
	}
}

func (g *gardenNow) limitShown(p Picture, a AlarmPicture, w Words, seen map[string]int) {
	g.t.Helper()
	side := HighSide
	if strings.HasSuffix(string(a.ID), "/low") {
		side = LowSide
	}
	place := p.Houses[0].Places[0]
	if a.Place == "ridge" {
		place = p.Houses[0].Places[1]
	}
	want, live, ok := g.newest(place, side, a.Present.Probe)
	if !ok {
		return
	}
	seen[fmt.Sprint(a.State, live)]++
	value := w.Value(Temperature, want)
	switch now := a.Present; {
	case now.Value == nil || *now.Value != want || now.Live != live:
		g.t.Errorf("%s, %v: %+v, want %.1f, live %v", a.ID, a.State, now, want, live)
	case live && !strings.Contains(a.Sentence, ": "+value+" now"):
		g.t.Errorf("%s, %v: %q does not say %q of now", a.ID, a.State, a.Sentence, value)
	case !live && (!strings.Contains(a.Sentence, "now is not known; last heard at ") || !strings.Contains(a.Sentence, " ago: "+value)):
		g.t.Errorf("%s, %v: %q does not say that %q is old", a.ID, a.State, a.Sentence, value)
	case a.Active && (now.Worst == nil || now.First == nil):
		g.t.Errorf("%s, %v: neither worst nor first are known: %+v", a.ID, a.State, now)
	case live && a.Active && side == HighSide && *now.Beyond > 0 && *now.Worst < want,
		live && a.Active && side == LowSide && *now.Beyond > 0 && *now.Worst > want:
		g.t.Errorf("%s, %v: the worst is %.1f, yet it is %.1f", a.ID, a.State, *now.Worst, want)
	}
	for _, pt := range place.Points {
		if pt.Quantity == Temperature && pt.Level != Within && pt.Side == side && live && (pt.Value != want || pt.At != a.Present.At || pt.Probe != a.Present.Probe) {
			g.t.Errorf("the place shows %.1f of %s at %v, its alarm %.1f of %s at %v", pt.Value, pt.Probe, pt.At, want, a.Present.Probe, a.Present.At)
		}
	}
}
