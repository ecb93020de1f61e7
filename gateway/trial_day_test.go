package gateway

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/model"
)

// trialBench holds what all days of a trial share; it does not change.
type trialBench struct {
	plan    alarms.Plan // with nothing left to default
	sources []decode.Source
}

func newTrialBench(c *config.Config) (*trialBench, error) {
	if _, err := engine.New(c.Plan); err != nil {
		return nil, err
	}
	b := &trialBench{plan: c.Plan.Filled(), sources: c.Sources}
	_, err := decode.New(b.sources)
	return b, err
}

const (
	trialStep  = 10 * time.Second // between two looks at the truth
	trialTries = 200              // draws until a fault becomes knowable
	trialDrift = 72 * time.Hour   // how long a drifted dial has to show itself
	faultEarly = time.Hour        // after midnight, when a fault begins
	faultShort = time.Hour        // how long it lasts at least
	faultLong  = 8 * time.Hour    // and at most
	warmerMost = 4.0              // K, either way
)

// trialDraw is a day that was drawn.
type trialDraw struct {
	trialGarden
	seed   uint64 // of the garden's own chance
	start  time.Time
	length time.Duration
	season alarms.Season
	story  model.Story
	fault  *model.Fault
	began  time.Time
	ended  time.Time
}

// summers reports whether the day of a seed lies in summer: every other.
func summers(seed uint64) bool { return seed%2 == 1 }

// drawDay draws a day: May to the middle of September with the vents in use,
// or December to February with the vents covered, as much as 4 K warmer or
// colder than usual.
func drawDay(seed uint64, garden trialGarden, rng *rand.Rand) trialDraw {
	d := trialDraw{seed: rng.Uint64(), trialGarden: garden, length: 24 * time.Hour}
	if summers(seed) {
		d.season = alarms.SeasonOpen
		d.start = time.Date(2026, time.May, 1+rng.IntN(137), 0, 0, 0, 0, time.UTC)
	} else {
		d.season = alarms.SeasonWinter
		d.start = time.Date(2026, time.December, 1+rng.IntN(90), 0, 0, 0, 0, time.UTC)
	}
	d.story = model.Story{Name: "trial", Start: d.start, Fitted: garden.fitted, Weather: model.Weather{
		Warmer: warmerMost * (2*rng.Float64() - 1), Swing: 0.6 + 0.8*rng.Float64(),
	}}
	return d
}

// spoil draws the time and length of a fault. A drifted dial is there from
// the first hour on, for three days: it takes many switchings to see it.
func (d *trialDraw) spoil(f model.Fault, rng *rand.Rand) {
	d.fault = &f
	if f.Kind == model.DialDrifted {
		d.length = trialDrift
		d.began, d.ended = d.start.Add(faultEarly), d.start.Add(d.length)
	} else {
		span := func(most time.Duration) time.Duration {
			return time.Duration(rng.Int64N(int64(most/time.Second))) * time.Second
		}
		d.began = d.start.Add(faultEarly + span(d.length-faultEarly-faultShort))
		d.ended = d.began.Add(faultShort + span(faultLong-faultShort))
	}
	d.story.Events = []model.Event{{After: d.began.Sub(d.start), Fault: f, On: true}}
	if d.ended.Before(d.start.Add(d.length)) {
		d.story.Events = append(d.story.Events, model.Event{After: d.ended.Sub(d.start), Fault: f})
	}
}

// free lives through a day without a fault.
func (b *trialBench) free(seed uint64) (trialDay, error) {
	d := drawDay(seed, b.fit(drawFitted(seed)), rand.New(rand.NewPCG(seed, 0)))
	sim, err := model.Tell(d.story, d.seed)
	if err != nil {
		return trialDay{}, err
	}
	day := trialDay{Seed: seed, Date: d.start.Format(time.DateOnly), Season: d.season, Garden: fittedName(d.fitted)}
	return day, b.judge(&day, &d, sim.Advance(d.start.Add(d.length)))
}

// faulty lives through a day with a fault that becomes knowable in it. One that
// does not is drawn again, with the same kind of fault in other weather and at
// another hour.
func (b *trialBench) faulty(ctx context.Context, seed uint64, only model.Kind) (trialDay, error) {
	f := trialFault(&b.plan, seed, rand.New(rand.NewPCG(seed, 1)), only)
	fitted := drawFitted(seed)
	if f.Kind == model.DialDrifted {
		fitted.Every, fitted.Off = 0, 0 // seldom readings do not follow a house whose fan switches
	}
	garden := b.fit(fitted)
	for try := range uint64(trialTries) {
		if ctx.Err() != nil {
			return trialDay{}, ctx.Err()
		}
		rng := rand.New(rand.NewPCG(seed, 2+try))
		d := drawDay(seed, garden, rng)
		d.spoil(f, rng)
		messages, knowable, err := b.live(&d)
		if err != nil {
			return trialDay{}, err
		}
		if knowable.IsZero() {
			continue
		}
		day := trialDay{Seed: seed, Date: d.start.Format(time.DateOnly), Season: d.season,
			Garden: fittedName(d.fitted), Fault: f.String(), Kind: f.Kind,
			Began: d.began, Ended: d.ended, Knowable: knowable, Redrawn: int(try)}
		return day, b.judge(&day, &d, messages)
	}
	return trialDay{}, fmt.Errorf("%s became knowable in none of %d days", f, trialTries)
}

// live lets the garden live through a day and returns what its probes sent,
// and when the fault became knowable, zero for never.
func (b *trialBench) live(d *trialDraw) (sent []model.Published, knowable time.Time, err error) {
	sim, err := model.Tell(d.story, d.seed)
	if err != nil {
		return nil, knowable, err
	}
	w := newWitness(d)
	for at := d.start; at.Before(d.start.Add(d.length)); {
		at = at.Add(trialStep)
		sent = append(sent, sim.Advance(at)...)
		if w.known.IsZero() {
			w.see(sim.Truth())
		}
	}
	return sent, w.known, nil
}

// judge gives the messages of a day to the core and files what it tells.
func (b *trialBench) judge(day *trialDay, d *trialDraw, messages []model.Published) error {
	engine, err := engine.New(d.plan)
	if err != nil {
		return err
	}
	table, err := decode.New(d.sources)
	if err != nil {
		return err
	}
	step := func(in alarms.Input) {
		for _, t := range say.Step(engine, in) {
			day.hear(&d.plan, d, t)
		}
	}
	for _, h := range d.plan.Houses {
		step(alarms.Input{At: d.start, Kind: alarms.SetSeason, House: h.ID, Season: d.season})
	}
	for _, m := range messages {
		problems := table.Decode(m.Topic, m.Payload, m.At, func(v decode.Value) {
			step(alarms.Input{At: m.At, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity,
				Value: engine.Corrected(v.Probe, v.Quantity, v.Value), Measured: v.Measured})
		})
		if len(problems) > 0 {
			return fmt.Errorf("the config does not fit the simulated garden: %s on %s: %s", problems[0].Cause, m.Topic, problems[0].Detail)
		}
	}
	step(alarms.Input{At: d.start.Add(d.length), Kind: alarms.Tick})
	return nil
}

// hear files one transition.
func (day *trialDay) hear(plan *alarms.Plan, d *trialDraw, t alarms.Transition) {
	if !t.Told() {
		return
	}
	told := trialAlarm{t.Due, t.Alarm, t.Sentence}
	day.Told = append(day.Told, told)
	if t.Move == alarms.Return {
		return
	}
	if t.Reason.Rule == alarms.RuleControl && !touches(plan, d.fault, t) {
		day.False = append(day.False, told)
	}
	if d.fault == nil || !day.Named.IsZero() || t.Due.Before(d.began) || !names(plan, *d.fault, t) {
		return
	}
	day.Named, day.As = t.Due, trialVerdict(t)
	day.Delay = max(0, t.Due.Sub(day.Knowable))
	day.Right = day.Delay <= trialWithin
}

// trialVerdict says in a few words what a transition says is wrong.
func trialVerdict(t alarms.Transition) string {
	if t.Reason.Verdict == "" {
		return string(t.Reason.Rule)
	}
	return strings.TrimSpace(string(t.Reason.Drive) + " " + t.Reason.Verdict)
}
