package gateway

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

// TrialOptions say how long the simulated garden is put on trial.
type TrialOptions struct {
	Config *config.Config // must fit the simulated garden
	Days   int            // with a fault each, and as many without
	Seed   uint64         // of the first day; each further day takes the next
	Kind   model.Kind     // only this fault; empty: every one by turns
	// Progress is called after each day with how many are done of how many; it
	// may be nil. Calls never overlap.
	Progress func(done, of int)
}

// TrialAlarm is an alarm that a person was told.
type TrialAlarm struct {
	At       time.Time      `json:"at"`
	Alarm    alarms.AlarmID `json:"alarm"`
	Sentence string         `json:"sentence"`
}

// TrialDay is one day of the trial and what was told in it.
type TrialDay struct {
	Seed   uint64        `json:"seed"`
	Date   string        `json:"date"`
	Season alarms.Season `json:"season"`
	Garden string        `json:"garden"` // how it is fitted out
	// Of a day with a fault; zero for one without. Knowable is the first moment
	// at which the house showed it, Named when a person was told so, zero: never.
	Fault    string        `json:"fault,omitempty"`
	Kind     model.Kind    `json:"kind,omitempty"`
	Began    time.Time     `json:"began,omitzero"`
	Ended    time.Time     `json:"ended,omitzero"`
	Knowable time.Time     `json:"knowable,omitzero"`
	Named    time.Time     `json:"named,omitzero"`
	As       string        `json:"as,omitempty"` // the verdict by which it was named
	Delay    time.Duration `json:"delay_ns,omitempty"`
	Right    bool          `json:"right,omitempty"` // within TrialWithin
	Redrawn  int           `json:"redrawn,omitempty"`
	// False are control alarms about drives that no fault touched; Told is
	// everything that a person was told.
	False []TrialAlarm `json:"false,omitempty"`
	Told  []TrialAlarm `json:"told,omitempty"`
}

// TrialWithin is how soon after it is knowable a fault must be named.
const TrialWithin = 15 * time.Minute

// TrialResult is all days of a trial, those with a fault and those without,
// each in the order of their seeds.
type TrialResult struct {
	Faulty []TrialDay `json:"faulty"`
	Free   []TrialDay `json:"free"`
}

// Trial lets the simulated garden live through days of summer and winter by
// turns, in random weather, with one random fault each, and through as many
// days without, and holds what the very core tells against the truth. Only
// simulated time passes. The same options give the same result.
func Trial(ctx context.Context, o TrialOptions) (TrialResult, error) {
	bench, err := newTrialBench(o.Config)
	if err != nil {
		return TrialResult{}, err
	}
	r := TrialResult{Faulty: make([]TrialDay, o.Days), Free: make([]TrialDay, o.Days)}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	var counting sync.Mutex
	done := 0
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
			counting.Lock()
			defer counting.Unlock()
			if done++; o.Progress != nil {
				o.Progress(done, 2*o.Days)
			}
			return nil
		})
	}
	return r, g.Wait()
}

// TrialRow sums the days with one kind of fault.
type TrialRow struct {
	Kind    model.Kind    `json:"kind"`
	Days    int           `json:"days"`
	Right   int           `json:"right"`
	Median  time.Duration `json:"median_ns"` // of the delays of those named at all
	Worst   time.Duration `json:"worst_ns"`
	Missed  []uint64      `json:"missed,omitempty"` // seeds: named late, otherwise or never
	Redrawn int           `json:"redrawn"`
}

// Rows sums the days with a fault by kind, in the order of the kinds' names.
func (r TrialResult) Rows() []TrialRow {
	days := map[model.Kind][]TrialDay{}
	var kinds []model.Kind
	for _, d := range r.Faulty {
		if days[d.Kind] == nil {
			kinds = append(kinds, d.Kind)
		}
		days[d.Kind] = append(days[d.Kind], d)
	}
	slices.Sort(kinds)
	rows := make([]TrialRow, 0, len(kinds))
	for _, k := range kinds {
		rows = append(rows, trialRow(k, days[k]))
	}
	return rows
}

func trialRow(k model.Kind, days []TrialDay) TrialRow {
	row := TrialRow{Kind: k, Days: len(days)}
	var delays []time.Duration
	for _, d := range days {
		row.Redrawn += d.Redrawn
		if d.Right {
			row.Right++
		} else {
			row.Missed = append(row.Missed, d.Seed)
		}
		if !d.Named.IsZero() {
			delays = append(delays, d.Delay)
		}
	}
	if len(delays) > 0 {
		slices.Sort(delays)
		row.Median, row.Worst = delays[len(delays)/2], delays[len(delays)-1]
	}
	return row
}

// Right counts the days whose fault was named right in time.
func (r TrialResult) Right() int {
	n := 0
	for _, d := range r.Faulty {
		if d.Right {
			n++
		}
	}
	return n
}

// FalseAlarms counts those of some days, and lists by number the days that
// had any.
func FalseAlarms(days []TrialDay) (n int, seeds []uint64) {
	for _, d := range days {
		if n += len(d.False); len(d.False) > 0 {
			seeds = append(seeds, d.Seed)
		}
	}
	return n, seeds
}
