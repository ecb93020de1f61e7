package gateway

import (
	"cmp"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
)

// ReplayOptions say which recorded readings to judge.
type ReplayOptions struct {
	Config *config.Config
	Files  []string
	// Columns describes tables (.csv); files of any other ending are line
	// protocol, read by the config's sources of that form.
	Columns decode.Columns
	// Progress is called now and then with how many readings were judged of how
	// many; it may be nil.
	Progress func(done, of int)
}

// Replayed is what a replay came to.
type Replayed struct {
	Readings    int
	From, To    time.Time
	Transitions int
	Raised      map[alarms.AlarmID]int // how often each alarm was raised
	Bad         []string               // what could not be read, file:line, the first ones
	BadCount    uint64
}

// Replay gives recorded readings to the very core that judges live ones, as
// fast as it can, and calls emit for each transition. The readings of several
// files are merged by time.
func Replay(o ReplayOptions, emit func(alarms.Transition)) (Replayed, error) {
	r := Replayed{Raised: map[alarms.AlarmID]int{}}
	values, err := r.read(o)
	if err != nil {
		return r, err
	}
	if len(values) == 0 {
		return r, fmt.Errorf("no reading was found in %s: are the columns or sources named right?", strings.Join(o.Files, ", "))
	}
	slices.SortStableFunc(values, func(a, b decode.Value) int { return a.Measured.Compare(b.Measured) })
	engine, err := alarms.New(o.Config.Plan)
	if err != nil {
		return r, err
	}
	r.Readings, r.From, r.To = len(values), values[0].Measured, values[len(values)-1].Measured
	for i, v := range values {
		r.take(engine.Step(alarms.Input{At: v.Measured, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity,
			Value: engine.Corrected(v.Probe, v.Quantity, v.Value)}), emit)
		if o.Progress != nil && i%10000 == 0 {
			o.Progress(i, len(values))
		}
	}
	if o.Progress != nil {
		o.Progress(len(values), len(values))
	}
	return r, nil
}

func (r *Replayed) take(ts []alarms.Transition, emit func(alarms.Transition)) {
	for _, t := range ts {
		r.Transitions++
		if t.Move == alarms.Raise {
			r.Raised[t.Alarm]++
		}
		emit(t)
	}
}

// read collects the readings of all files.
func (r *Replayed) read(o ReplayOptions) ([]decode.Value, error) {
	var values []decode.Value
	for _, name := range o.Files {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		history, err := readFile(f, name, o, func(v decode.Value) { values = append(values, v) })
		if err := cmp.Or(err, f.Close()); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		r.BadCount += history.Bad
		for _, p := range history.Problems {
			r.Bad = append(r.Bad, fmt.Sprintf("%s:%s", name, p))
		}
	}
	return values, nil
}

func readFile(f io.Reader, name string, o ReplayOptions, emit func(decode.Value)) (decode.History, error) {
	if strings.EqualFold(filepath.Ext(name), ".csv") {
		return decode.ReadCSV(f, o.Columns, emit)
	}
	return decode.ReadLines(f, sourcesOf(o.Config), emit)
}

// Column reads "header=probe/quantity" or "header=probe/quantity:unit".
func Column(text string) (decode.Column, error) {
	header, what, ok := strings.Cut(text, "=")
	probe, rest, ok2 := strings.Cut(what, "/")
	quantity, unit, _ := strings.Cut(rest, ":")
	q := alarms.Quantity(quantity)
	if !ok || !ok2 || header == "" || probe == "" || !q.Known() || q.Derived() {
		return decode.Column{}, fmt.Errorf("column %q: want header=probe/quantity or header=probe/quantity:unit, for example inside_c=bench-1/temperature:°C", text)
	}
	return decode.Column{Header: header, Probe: alarms.ProbeID(probe), Quantity: q, Unit: unit}, nil
}
