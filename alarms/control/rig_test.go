package control

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"telltale/alarms/timing"
)

// rig is a house with a mechanical thermostat for the tests of the Judge: the
// fan draws outside air through the shutter, both switched by a bulb that lags
// and a dial that is off by a little. What is broken is a function of time.
type rig struct {
	seed    uint64
	days    int
	outside float64 // °C, mean of the day
	faults  faults
}

type faults struct {
	fanDead, fanStuck, shutterShut, shutterStuckOpen, noAir, locked, belt, contactLies bool
	dial, dialOff                                                                      float64 // K
	narrow                                                                             bool    // a differential of almost nothing
	from, to                                                                           int     // days on which they hold
}

const (
	fan, shutter = 0, 1
	tick         = 10 * time.Second
)

func dial() Spec {
	return Spec{
		Stages: []StageSpec{{Mode: Cooling, On: 29, Off: 26.2, Tolerance: 1.5, Drives: []int{fan, shutter}}},
		Drives: []DriveSpec{
			{Kind: ExhaustFan, Evidence: []EvidenceSpec{{What: Current, Above: 0.3}, {What: Contact}}, With: []int{shutter}},
			{Kind: IntakeShutter, Evidence: []EvidenceSpec{{What: EndSwitch}}},
		},
	}
}

// judge makes a Judge of drives with their defaults.
func judge(s Spec) *Judge {
	s.Drives = slices.Clone(s.Drives)
	for i := range s.Drives {
		d, answer := &s.Drives[i], DefaultAnswer
		if d.Kind == IntakeShutter {
			answer = DefaultShutter
		}
		d.Start, d.Stop = cmp.Or(d.Start, answer), cmp.Or(d.Stop, answer)
		d.Effect, d.MaxStarts = cmp.Or(d.Effect, DefaultEffect), cmp.Or(d.MaxStarts, DefaultStarts)
	}
	return NewJudge(s)
}

// event is one call of a Judge, kept so that it can be played again.
type event struct {
	at           timing.Instant
	what         byte // t emperature, o utside, e vidence, d ay, a dvance, b lind, r earrange, h and test
	drive, index int
	value        float64
	arranged     Arrangement
}

func (e event) play(j *Judge) Told {
	switch e.what {
	case 't':
		return j.Feel(e.at, 0, e.value)
	case 'o':
		return j.Outside(e.at, e.value)
	case 'e':
		return j.Evidence(e.at, e.drive, e.index, e.value)
	case 'd':
		return j.Day(e.at)
	case 'b':
		return j.Blind(e.at)
	case 'r':
		return j.Arrange(e.at, e.arranged)
	case 'h':
		return j.Test(e.at, e.drive, timing.At(e.at.UTC().Add(time.Duration(e.value))))
	}
	return j.Advance(e.at)
}

// events simulates r.
func (r rig) events() (list []event) {
	random := rand.New(rand.NewPCG(r.seed, 3))
	begin := timing.At(time.Date(2026, 6, 20, 0, 0, 0, 0, time.UTC))
	air, mass, bulb, probe, cloud, dull := 16.0, 16.0, 16.0, 16.0, 0.3, 0.2
	calls, open, sent := false, 0.0, [2][2]float64{{-1, -1}, {-1, -1}}
	off := random.Float64() - 0.5 // of this dial, K
	for n := range r.days * 8640 {
		now := begin.Add(time.Duration(n) * tick)
		hour := float64(n%8640) / 360
		f := r.faults
		if d := n / 8640; d < f.from || d >= f.to {
			f = faults{}
		}
		if n%8640 == 0 {
			dull = 0.6 * random.Float64()
			list = append(list, event{at: now, what: 'd'})
		}
		if n%60 == 0 {
			cloud = math.Max(0, math.Min(1, cloud+(dull-cloud)/4+0.15*random.NormFloat64()))
		}
		out := r.outside + 6*math.Cos((hour-15)/12*math.Pi)
		sun := 21 * 0.5 * 800 * math.Max(0, math.Sin((hour-5.5)/13*math.Pi)) * (1 - 0.7*cloud)
		width := 2.8
		if f.narrow {
			width = 0.15
		}
		set := 29 + off + f.dial
		calls = bulb >= set || calls && bulb > set-width-f.dialOff
		runs := calls && !f.fanDead || f.fanStuck
		want := 0.0
		if (calls || f.shutterStuckOpen) && !f.shutterShut {
			want = 1
		}
		open += math.Max(-1.0/9, math.Min(1.0/9, want-open)) // its motor takes 90 s
		flow := 0.0
		if runs && !f.noAir && !f.locked {
			flow = 0.7 * (0.1 + 0.9*open)
			if f.belt {
				flow *= 0.1
			}
		}
		air += 10 * (sun*0.6 + 500*(mass-air) - (250+1200*flow)*(air-out)) / 160000
		mass += 10 * (sun*0.4 - 500*(mass-air)) / 1200000
		bulb += (air - bulb) / 12
		probe += (air - probe) / 6
		if n%3 == 0 {
			list = append(list, event{at: now, what: 't', value: math.Round(10*(probe+0.1*random.NormFloat64())) / 10})
		}
		if n%30 == 1 {
			list = append(list, event{at: now, what: 'o', value: math.Round(10*(out+0.2*random.NormFloat64())) / 10})
		}
		amps := 0.0
		if runs {
			amps = 1.5 + 0.04*random.NormFloat64()
			switch {
			case f.locked:
				amps *= 4
			case f.belt:
				amps *= 0.5
			}
		}
		contact := 0.0
		if runs && !f.contactLies {
			contact = 1
		}
		say := func(d, i int, v float64, every bool) {
			if sent[d][i] != v && (!every || (v > 0.3) != (sent[d][i] > 0.3)) || n%6 == 2 {
				list = append(list, event{at: now, what: 'e', drive: d, index: i, value: v})
				sent[d][i] = v
			}
		}
		say(fan, 0, amps, true)
		say(fan, 1, contact, false)
		say(shutter, 0, math.Floor(math.Min(1, open+0.01)), false)
	}
	return list
}

// play runs events and checks that each verdict begins and ends in turn.
func play(t testing.TB, j *Judge, events []event) (found []Finding, log []Switching) {
	t.Helper()
	on := map[string]bool{}
	last, now := timing.Instant(0), timing.Instant(0)
	for _, e := range events {
		now = max(now, e.at) // an event before the last happens with it
		told := e.play(j)
		for _, f := range told.Findings {
			key := fmt.Sprint(f.Kind, f.Drive)
			if on[key] == f.On {
				t.Fatalf("%v: %v of drive %d told twice: on %v", f.Due.UTC(), f.Kind, f.Drive, f.On)
			}
			on[key] = f.On
			if f.Due < last || f.Due > now {
				t.Fatalf("%v of %v told in an event of %v after %v", f.Kind, f.Due.UTC(), now.UTC(), last.UTC())
			}
			last = f.Due
		}
		found = append(found, told.Findings...)
		log = append(log, told.Switchings...)
	}
	return found, log
}

// kinds counts what began, per drive and kind.
func kinds(found []Finding) map[string]int {
	m := map[string]int{}
	for _, f := range found {
		if f.On {
			m[fmt.Sprintf("%d %v", f.Drive, f.Kind)]++
		}
	}
	return m
}

func show(found []Finding) (s string) {
	for _, f := range found {
		b, _ := json.Marshal(f)
		s += fmt.Sprintf("%v %v %s\n", f.Due.UTC().Format("02 15:04:05"), f.Kind, b)
	}
	return s
}

func same(a, b any) bool { return reflect.DeepEqual(a, b) }
