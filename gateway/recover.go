package gateway

import (
	"cmp"
	"context"
	"encoding/json"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
)

// recovery is what a run begins with: the core in the state in which it was left, and
// what a crash left unsaved.
type recovery struct {
	engine    *engine.Engine
	recovered bool                // from an earlier run
	gone      []string            // of what was saved, as tongue.Keep has it, not yet told
	lacks     string              // what people must set again, as tongue.Keep has it
	fresh     []alarms.Transition // made, not yet given to the writer
	newest    time.Time           // newest At given to the core
	linkDown  time.Time           // when the newest loss of the broker began
}

// recover brings the core to the state in which it was left.
func (p *parts) recover() (r recovery, err error) {
	snap, inputs, err := p.store.Recover()
	if err != nil {
		r.lacks = p.forget(err)
	}
	e, fresh, err := restore(p.cfg.Plan, snap)
	if err != nil {
		r.gone = append(r.gone, tongue.Keep("the saved state of the alarms does not fit"))
		r.lacks = p.forget(err)
		if e, err = engine.New(p.cfg.Plan); err != nil {
			return r, err
		}
		fresh = true
	}
	var made []alarms.Transition
	for in, err := range inputs {
		if err != nil {
			r.gone = append(r.gone, tongue.Keep("the rest of the journal cannot be read"))
			p.log.Error().Err(err).Msg("the watch goes on without it")
			break
		}
		fresh = false
		made = append(made, say.Step(e, in)...)
	}
	p.markSaved(made)
	if !p.store.Knows() { // what is read of the disk later comes before this run
		p.store.Append(alarms.Input{Kind: alarms.RestartMarker, At: p.clock.Core().Truncate(time.Millisecond), Note: alarms.AwayUnsure})
	}
	r.newest, r.linkDown = e.Now(), e.Now() // what the broker holds came after this
	if !fresh {
		for _, in := range p.comeBack(e) {
			in.At = in.At.Truncate(time.Millisecond)
			if in.At.Before(r.newest) {
				in.At = r.newest
			}
			r.newest = in.At
			p.store.Append(in)
			made = append(made, say.Step(e, in)...)
		}
	}
	r.engine, r.fresh, r.recovered = e, made, !fresh
	return r, nil
}

// comeBack sets the clock to go on from where an earlier run ended, and returns
// what the core must be told. Within one start of the machine both times are
// measured. After a power-off they cannot be: the clock on the wall, if it has
// not gone back, says how long that took; or somebody has set it.
func (p *parts) comeBack(e *engine.Engine) []alarms.Input {
	last, c := e.Now(), p.clock
	ahead := e.Wall(last).Sub(last)
	back := alarms.Input{Kind: alarms.RestartMarker}
	run, err := p.store.Notes.Origin(context.Background())
	if err != nil {
		p.log.Error().Err(err).Msg("when the last run began cannot be read; the time away is taken from the clock")
	}
	switch now := last; {
	case err == nil && c.boot != "" && run.Boot == c.boot:
		now = run.At.Add(c.source.passed())
		c.resume(service.Later(now, last), ahead)
	default:
		back.Note = alarms.AwayUnsure
		c.resume(service.Later(c.Now().Add(-ahead), last), ahead)
	}
	back.At = c.Core()
	if p.played != nil && back.At.Sub(last) < time.Second { // else it was away in what is played
		back.Note = alarms.AwayPlayed
	}
	told := []alarms.Input{back}
	if by := c.step(); by != 0 {
		c.stepTaken(by)
		told = append(told, alarms.Input{Kind: alarms.ClockStep, At: back.At, Shift: by})
	}
	return told
}

// markSaved lets the outbox know which of the transitions that are made again
// were saved before: they are told from there, however the disk takes it now.
func (p *parts) markSaved(made []alarms.Transition) {
	for _, t := range made {
		saved, err := p.store.Log.Saved(context.Background(), t)
		if err != nil {
			p.log.Error().Err(err).Msg("what was told before cannot be read")
			return
		}
		if saved {
			p.box.before[t.ID] = true
		}
	}
}

// forget notes that every alarm begins normal, and returns what people must set again.
func (p *parts) forget(why error) string {
	p.log.Error().Err(why).Msg("alarms begin normal, and what people had set is not known")
	return lacking(p.cfg.Plan, p.push != nil)
}

// lacking says what people are to set again, and what holds until they do.
func lacking(plan alarms.Plan, push bool) string {
	seasons, selectors := "", false
	for _, h := range plan.Houses {
		seasons = tongue.KeepList("%s, %s", seasons, tongue.Keep("%s is judged as in season %q", cmp.Or(h.Name, string(h.ID)), say.KeptSeason(h.Season)))
		selectors = selectors || len(h.Selectors) > 0
	}
	switches, phones := "", ""
	if selectors {
		switches = tongue.Keep("; where the switches stand")
	}
	if push {
		phones = tongue.Keep("; which phones take pushed alarms, if the page does not show them")
	}
	return tongue.Keep("what people had set is not known: %s until the season is set%s; what was calibrated, put aside or taken out of service%s: please set it again",
		seasons, switches, phones)
}

func restore(plan alarms.Plan, snap []byte) (e *engine.Engine, fresh bool, err error) {
	if snap == nil {
		e, err = engine.New(plan)
		return e, true, err
	}
	e, err = engine.Restore(plan, snap)
	return e, false, err
}

// Three runs within half an hour that nobody stopped, each followed by a start,
// are told: one may be a power cut. Common practice, no source.
const (
	brokenTold   = 3
	brokenWithin = 30 * time.Minute
)

// starts is what one run leaves for the next in the store: that it is under
// way, and when recently a run began after one that had not been stopped.
type starts struct {
	UnderWay bool        `json:"under_way,omitempty"`
	Broken   []time.Time `json:"broken,omitempty"` // by the core's time

	told bool // the trouble was on when asked last
}

const startsKept = "runs"

// keeper keeps small values.
type keeper interface {
	Keep(ctx context.Context, name, value string) error
	Kept(ctx context.Context, name string) (string, error)
}

// recall reads into v what was kept as JSON under a name; where nothing was v stays as it is.
func recall(ctx context.Context, k keeper, name string, v any) error {
	text, err := k.Kept(ctx, name)
	if err == nil && text != "" {
		err = json.Unmarshal([]byte(text), v)
	}
	return err
}

// begin notes that a run begins at now, and returns what is to be kept of it.
func (s *starts) begin(k keeper, now time.Time, log zerolog.Logger) (keep string) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := recall(ctx, k, startsKept, s); err != nil {
		log.Error().Err(err).Msg("how the last run ended cannot be read")
	}
	if s.UnderWay {
		s.Broken = append(s.Broken, now)
		log.Warn().Msg("the last run was not stopped: it broke off")
	}
	return s.kept(true)
}

// end notes that the run was stopped, with all that it had to save, and returns
// what is to be kept of it.
func (s *starts) end() (keep string) { return s.kept(false) }

func (s *starts) kept(underWay bool) string {
	s.UnderWay, s.Broken = underWay, s.Broken[max(0, len(s.Broken)-brokenTold):]
	text, _ := json.Marshal(s) // times and a truth can always be written
	return string(text)
}

// trouble is what to tell of it at now.
func (s *starts) trouble(now time.Time) alarms.Input {
	in := alarms.Input{At: now, Kind: alarms.TroubleOff, Alarm: alarms.TroubleStarts}
	n := len(s.Broken)
	if n >= brokenTold && s.Broken[n-1].Sub(s.Broken[n-brokenTold]) <= brokenWithin && now.Sub(s.Broken[n-1]) <= brokenWithin {
		in.Kind = alarms.TroubleOn
		in.Note = tongue.Keep("%d times within %s the machine or the program ended without the watch having been stopped", brokenTold, brokenWithin)
	}
	s.told = in.Kind == alarms.TroubleOn
	return in
}

// over reports whether the trouble that was told is over at now.
func (s *starts) over(now time.Time) bool {
	return s.told && s.trouble(now).Kind == alarms.TroubleOff
}
