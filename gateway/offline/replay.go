package offline

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/alarms/score"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/record"
)

// ReplayOptions say which recorded readings to judge.
type ReplayOptions struct {
	Config *config.Config // nil: places and units are guessed, limits are Crop's or the usual ones
	Files  []string       // tables, or line protocol, which is read by the config's sources of that form
	Table  record.Options // what is known of tables
	// Columns say what columns of tables are; without any all are guessed.
	Columns []Column
	Degrees string // "°C" or "°F" of temperatures that state none; empty: guessed
	Crop    string // that grows in all places but outside, without a Config
	Outlook bool   // hold against the readings what would have been said beforehand
}

// Recording is recorded readings that were looked at, ready to be judged.
type Recording struct {
	Said  []string // how they are read and why, to be shown before they are judged
	Plan  alarms.Plan
	tapes []*tape
	fan   score.Fan
	ahead bool // the outlook is scored too
}

// Replayed is what a replay came to.
type Replayed struct {
	score.Sheet
	Transitions int
	Outlooks    []score.Outlook // of each place with limits of its temperature, if they were asked for
}

// OpenRecording looks at recorded readings, and says how they will be read. Where that
// would be unsafe the error says what to add. Close the Recording.
func OpenRecording(o ReplayOptions) (_ *Recording, err error) {
	r := &Recording{ahead: o.Outlook}
	defer func() {
		if err != nil {
			err = errors.Join(err, r.Close())
		}
	}()
	for _, name := range o.Files {
		t, err := openTape(name, o)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		r.tapes = append(r.tapes, t)
	}
	if o.Config != nil {
		err = r.byConfig(o)
	} else {
		err = r.byGuess(o)
	}
	if err != nil {
		return nil, err
	}
	for _, t := range r.tapes {
		r.Said = append(r.Said, t.said...)
	}
	for _, t := range r.tapes {
		if t.used() {
			return r, nil
		}
	}
	return nil, fmt.Errorf("no reading was found in %s: are the columns or sources named right?", strings.Join(o.Files, ", "))
}

// Close lets go of the files.
func (r *Recording) Close() (err error) {
	for _, t := range r.tapes {
		err = errors.Join(err, t.table.Close())
	}
	return err
}

// Faults are what could not be read of each file, said in a line each.
func (r *Recording) Faults() (out []string) {
	for _, t := range r.tapes {
		for _, f := range t.table.Faults.All() {
			out = append(out, t.name+": "+f.String())
		}
	}
	return out
}

// span is from the first to the last row of all files.
func (r *Recording) span() (from, to time.Time) {
	for _, t := range r.tapes {
		if from.IsZero() || t.table.From.Before(from) {
			from = t.table.From
		}
		if t.table.To.After(to) {
			to = t.table.To
		}
	}
	return from, to
}

// Run gives the readings to the very core that judges live ones, as fast as it
// can, and calls emit for each transition.
func (r *Recording) Run(progress func(done uint64), emit func(alarms.Transition)) (Replayed, error) {
	var out Replayed
	engine, err := engine.New(r.Plan)
	if err != nil {
		return out, err
	}
	from, to := r.span()
	sheet := score.New(r.Plan, r.fan, from, to)
	outlooks := score.NewOutlooks(r.Plan, from, to)
	err = r.each(func(v value) {
		if progress != nil && sheet.Readings()%10000 == 0 {
			progress(sheet.Readings())
		}
		if v.aside {
			sheet.Aside(v.Measured, v.Probe, v.Value.Value)
			return
		}
		right := engine.Corrected(v.Probe, v.Quantity, v.Value.Value)
		for _, t := range say.Step(engine, alarms.Input{At: v.Measured, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity, Value: right}) {
			out.Transitions++
			sheet.Transition(t)
			emit(t)
		}
		sheet.Reading(v.Measured, v.Probe, v.Quantity, right)
		if r.ahead {
			outlooks.Reading(v.Measured, v.Probe, v.Quantity, right)
		}
	})
	out.Sheet = sheet.Sum()
	if r.ahead {
		out.Outlooks = outlooks.Sum()
	}
	return out, err
}

// value is one reading; aside: it is compared, not judged.
type value struct {
	decode.Value
	aside bool
}

// each gives the readings of all files by time.
func (r *Recording) each(take func(value)) error {
	for {
		var first *tape
		for _, t := range r.tapes {
			ok, err := t.ready()
			if err != nil {
				return fmt.Errorf("%s: %w", t.name, err)
			}
			if ok && (first == nil || t.next[0].Measured.Before(first.next[0].Measured)) {
				first = t
			}
		}
		if first == nil {
			return nil
		}
		for _, v := range first.next {
			take(v)
		}
		first.next = first.next[:0]
	}
}
