package gateway

import (
	"context"
	"flag"
	"fmt"
	"runtime"
	"slices"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

var trialKind = flag.String("fault", "", "the only kind of fault of TestTrialDays, on the days of its season")

// TestTrialDays puts the judging of the mechanical control on trial and prints how
// soon each fault was named right once the house showed it, and how often an alarm
// about the control was false:
//
//	go test ./gateway -run TestTrialDays -v -days 200 -seed 1
//
// A fault is knowable from the first moment at which a drive has done, for all the
// time that the config allows, what no thermostat within the tolerance of its dial
// would do; a drifted dial when it has switched six times; a tripped breaker when
// its slowest probe may be silent no longer. A day on which the fault never showed
// is drawn again. Only drives that a probe shows are tried, and circuits that feed
// two probes or more. Where probes report seldom, a fault is knowable two reports
// later, and no drifted dial is tried. Odd seeds lie in summer.
func TestTrialDays(t *testing.T) {
	t.Parallel()
	kind := model.Kind(*trialKind)
	if kinds := trialKinds(); kind != "" && !slices.Contains(kinds, kind) {
		t.Fatalf("there is no fault %q in a trial; there are %q", kind, kinds)
	}
	if *longDays < 1 {
		t.Fatalf("-days is %d, want 1 or more", *longDays)
	}
	r, err := putOnTrial(t.Context(), trialOptions{Config: demoGarden(t), Days: *longDays, Seed: *longSeed, Kind: kind})
	ok(t, err)
	for _, d := range slices.Concat(r.Faulty, r.Free) {
		if len(d.False) > 0 || d.Fault != "" && !d.Right {
			t.Errorf("seed %d: a fault was missed or an alarm false", d.Seed)
			printTrialDay(t.Output(), d)
		}
	}
	ok(t, printTrial(t.Output(), r))
}

// trialOptions say how long the simulated garden is put on trial.
type trialOptions struct {
	Config *config.Config // must fit the simulated garden
	Days   int            // with a fault each, and as many without
	Seed   uint64         // of the first day; each further day takes the next
	Kind   model.Kind     // only this fault, on the days of its season; empty: every one in turn
}

// trialAlarm is an alarm that a person was told.
type trialAlarm struct {
	At       time.Time
	Alarm    alarms.AlarmID
	Sentence string
}

// trialDay is one day of the trial and what was told in it.
type trialDay struct {
	Seed   uint64
	Date   string
	Season alarms.Season
	Garden string // how it is fitted out
	// Of a day with a fault; zero for one without. Knowable is the first moment
	// at which the house showed it, Named when a person was told so, zero: never.
	Fault    string
	Kind     model.Kind
	Began    time.Time
	Ended    time.Time
	Knowable time.Time
	Named    time.Time
	As       string // the verdict by which it was named
	Delay    time.Duration
	Right    bool // within trialWithin
	Redrawn  int
	// False are control alarms about drives that no fault touched; Told is
	// everything that a person was told.
	False []trialAlarm
	Told  []trialAlarm
}

// trialWithin is how soon after it is knowable a fault must be named.
const trialWithin = 15 * time.Minute

// trialResult is all days of a trial, those with a fault and those without,
// each in the order of their seeds.
type trialResult struct {
	Faulty []trialDay
	Free   []trialDay
}

// putOnTrial lets the simulated garden live through days of summer and winter by
// turns, in random weather, with one random fault each, and through as many
// days without, and holds what the very core tells against the truth. Only
// simulated time passes. The same options give the same result.
func putOnTrial(ctx context.Context, o trialOptions) (trialResult, error) {
	bench, err := newTrialBench(o.Config)
	if err != nil {
		return trialResult{}, err
	}
	r := trialResult{Faulty: make([]trialDay, o.Days), Free: make([]trialDay, o.Days)}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range 2 * o.Days {
		g.Go(func() (err error) {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			seed := o.Seed + uint64(i/2)
			if i%2 == 0 {
				r.Faulty[i/2], err = bench.faulty(ctx, seed, o.Kind)
			} else {
				r.Free[i/2], err = bench.free(seed)
			}
			if err != nil {
				return fmt.Errorf("seed %d: %w", seed, err)
			}
			return nil
		})
	}
	return r, g.Wait()
}
