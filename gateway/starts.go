package gateway

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
)

// Three runs within half an hour that nobody stopped, each followed by a start,
// are told: one may be a power cut. Common practice, no source.
const (
	brokenTold   = 3
	brokenWithin = 30 * time.Minute
)

// starts is what one run leaves for the next in the store: that it is under
// way, and when of late a run began after one that had not been stopped.
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

// begin notes that a run begins at now, and returns what is to be kept of it.
func (s *starts) begin(k keeper, now time.Time, log zerolog.Logger) (keep string) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	text, err := k.Kept(ctx, startsKept)
	if err == nil && text != "" {
		err = json.Unmarshal([]byte(text), s)
	}
	if err != nil {
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
		in.Note = fmt.Sprintf("%d times within %s the machine or the program ended without the watch having been stopped", brokenTold, alarms.Span(brokenWithin))
	}
	s.told = in.Kind == alarms.TroubleOn
	return in
}

// over reports whether the trouble that was told is over at now.
func (s *starts) over(now time.Time) bool {
	return s.told && s.trouble(now).Kind == alarms.TroubleOff
}
