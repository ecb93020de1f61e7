package say_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

// gardenNow is a house under a random life: a place with one probe, one with
// two, and what was last sent of each.
type gardenNow struct {
	t    *testing.T
	rnd  *rand.Rand
	plan alarms.Plan
	e    *engine.Engine
	at   time.Time
	sent map[alarms.ProbeID]float64 // temperature, as it was last taken
	when map[alarms.ProbeID]time.Time
	next map[alarms.ProbeID]float64 // a slow walk, so that nothing is doubted
	mute map[alarms.ProbeID]bool
	down bool
}

func newGardenNow(t *testing.T, seed uint64) *gardenNow {
	probe := func(id alarms.ProbeID) alarms.Probe {
		return alarms.Probe{ID: id, Name: string(id), Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}
	}
	limits := []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{LowLow: alarms.At(3), Low: alarms.At(8), High: alarms.At(30), HighHigh: alarms.At(38)}}}
	g := &gardenNow{t: t, rnd: rand.New(rand.NewPCG(seed, 8)), sent: map[alarms.ProbeID]float64{}, when: map[alarms.ProbeID]time.Time{},
		next: map[alarms.ProbeID]float64{"one": 29, "left": 28, "right": 26}, mute: map[alarms.ProbeID]bool{},
		at: time.Date(2026, 6, 21, 10, 0, 0, 0, time.UTC)}
	g.plan = alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Houses: []alarms.House{{ID: "long-house", Name: "Long House", Places: []alarms.Place{
		{ID: "bench", Name: "bench", Bands: limits, Probes: []alarms.Probe{probe("one")},
			Rates: []alarms.RateLimit{{Quantity: alarms.Temperature, Rise: alarms.At(8), Fall: alarms.At(8)}}},
		{ID: "ridge", Name: "ridge", Bands: limits, Probes: []alarms.Probe{probe("left"), probe("right")}},
	}}}}
	var err error
	if g.e, err = engine.New(g.plan); err != nil {
		t.Fatal(err)
	}
	return g
}

// act does something at random: mostly readings, now and then all else that
// changes what is known or in what state an alarm is.
func (g *gardenNow) act() {
	g.at = g.at.Add(time.Duration(1+g.rnd.IntN(40)) * time.Second)
	probes := []alarms.ProbeID{"one", "left", "right"}
	p := probes[g.rnd.IntN(len(probes))]
	in := alarms.Input{At: g.at, Kind: alarms.ReadingIn, Probe: p, Quantity: alarms.Temperature}
	switch n := g.rnd.IntN(60); {
	case n == 0:
		g.mute[p] = !g.mute[p]
		in = alarms.Input{At: g.at, Kind: alarms.Tick}
	case n == 1:
		g.down = !g.down
		in = alarms.Input{At: g.at, Kind: alarms.LinkUp}
		if g.down {
			in.Kind = alarms.LinkDown
		}
	case n == 2:
		g.restart()
		in = alarms.Input{At: g.at, Kind: alarms.Tick}
	case n < 8:
		in = g.person()
	case g.mute[p] || g.down:
		in = alarms.Input{At: g.at, Kind: alarms.Tick}
	default:
		g.next[p] = min(max(g.next[p]+g.rnd.NormFloat64()*0.6, 1), 44)
		in.Value = math.Round(g.next[p]*10) / 10
		g.sent[p], g.when[p] = in.Value, g.at
	}
	step(g.e, in)
}

// person does something to an alarm that is not normal.
func (g *gardenNow) person() alarms.Input {
	in := alarms.Input{At: g.at, Kind: alarms.Tick}
	all := seen(g.e).Alarms
	if len(all) == 0 {
		return in
	}
	in.Alarm, in.By = all[g.rnd.IntN(len(all))].ID, "Ann"
	in.Kind = []alarms.InputKind{alarms.Acknowledge, alarms.Shelve, alarms.Unshelve, alarms.TakeOut, alarms.PutBack}[g.rnd.IntN(5)]
	if in.Kind == alarms.Shelve {
		in.Until = g.at.Add(20 * time.Minute)
	}
	return in
}

func (g *gardenNow) restart() {
	snap, err := g.e.Snapshot()
	if err != nil {
		g.t.Fatal(err)
	}
	if g.e, err = engine.Restore(g.plan, snap); err != nil {
		g.t.Fatal(err)
	}
}

// newest is what should be shown of a place on one side: of the probes that are
// live the worst, else what was last sent of the one that is named.
func (g *gardenNow) newest(pl alarms.PlacePicture, side alarms.Side, named alarms.ProbeID) (v float64, live, ok bool) {
	for _, pr := range pl.Probes {
		was, sent := g.sent[pr.ID]
		switch {
		case !sent || !pr.Values[0].Live:
		case !live, side == alarms.HighSide && was > v, side == alarms.LowSide && was < v:
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
			w := say.Locale{Fahrenheit: n%5 == 0, Zone: time.UTC}
			p := seenIn(g.e, w.Fahrenheit)
			for _, a := range p.Alarms {
				if a.Rule == alarms.RuleLimit {
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
	for _, s := range []alarms.State{alarms.Unacknowledged, alarms.Acknowledged, alarms.ReturnedUnack, alarms.Shelved, alarms.OutOfService} {
		for _, live := range []bool{true, false} {
			if seen[fmt.Sprint(s, live)] == 0 {
				t.Errorf("no alarm was ever seen %v with its probe live: %v", s, live)
			}
		}
	}
}

func (g *gardenNow) limitShown(p alarms.Picture, a alarms.AlarmPicture, w say.Locale, seen map[string]int) {
	g.t.Helper()
	side := alarms.HighSide
	if strings.HasSuffix(string(a.ID), "/low") {
		side = alarms.LowSide
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
	value := w.Value(alarms.Temperature, want)
	switch now := a.Present; {
	case now.Value == nil || *now.Value != want || now.Live != live:
		g.t.Errorf("%s, %v: %+v, want %.1f, live %v", a.ID, a.State, now, want, live)
	case live && !strings.Contains(a.Sentence, ": "+value+" now"):
		g.t.Errorf("%s, %v: %q does not say %q of now", a.ID, a.State, a.Sentence, value)
	case !live && (!strings.Contains(a.Sentence, "now is not known; last heard at ") || !strings.Contains(a.Sentence, " ago: "+value)):
		g.t.Errorf("%s, %v: %q does not say that %q is old", a.ID, a.State, a.Sentence, value)
	case a.Active && (now.Worst == nil || now.First == nil):
		g.t.Errorf("%s, %v: neither worst nor first are known: %+v", a.ID, a.State, now)
	case live && a.Active && side == alarms.HighSide && *now.Beyond > 0 && *now.Worst < want,
		live && a.Active && side == alarms.LowSide && *now.Beyond > 0 && *now.Worst > want:
		g.t.Errorf("%s, %v: the worst is %.1f, yet it is %.1f", a.ID, a.State, *now.Worst, want)
	}
	for _, pt := range place.Points {
		if pt.Quantity == alarms.Temperature && pt.Level != alarms.Within && pt.Side == side && live && (pt.Value != want || pt.At != a.Present.At || pt.Probe != a.Present.Probe) {
			g.t.Errorf("the place shows %.1f of %s at %v, its alarm %.1f of %s at %v", pt.Value, pt.Probe, pt.At, want, a.Present.Probe, a.Present.At)
		}
	}
}
