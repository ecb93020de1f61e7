package page

import (
	"context"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/words"
)

// stillReading is what a probe says while it is held against something known.
type stillReading struct {
	Value    float64 // the middle of the last minutes
	Low      float64
	High     float64
	N        int
	Over     time.Duration
	Newest   time.Time
	Restless bool // it still moves too much
}

// stillFor is over which time a probe must stand still, and how many readings
// that must be.
const (
	stillFor      = 5 * time.Minute
	stillReadings = 4
)

// standing looks at what p says of q in the last minutes. An error that is a
// fault says why it cannot be calibrated now.
func (s calibration) standing(ctx context.Context, w words.Words, p alarms.ProbePicture, q alarms.Quantity, now time.Time) (r stillReading, err error) {
	if !s.watch.Picture().Link {
		return r, answer.Say(answer.Away, "The broker is not reached, so nothing is known of what the probe says now. Calibrate it when it is heard again.")
	}
	if why := notBelieved(w, p); why != "" {
		return r, answer.Say(answer.Away, "The probe cannot be calibrated now: %s Mend that first.", why)
	}
	r.Over = max(stillFor, stillReadings*p.Interval)
	from := now.Add(-r.Over)
	for _, c := range p.Calibrations {
		if c.Quantity == q && c.At.After(from) {
			from = c.At // readings before it had another correction
		}
	}
	points, err := s.options.Tending.Readings(ctx, p.ID, q, from, now.Add(time.Second))
	if err != nil {
		return r, err
	}
	if len(points) == 0 {
		return r, answer.Say(answer.Away, "The probe has sent no %s in the last %s (last heard: %s). Calibrate it when it reports.",
			w.Core.Word(q), now.Sub(from), w.Clock(p.Heard, now))
	}
	r.Newest, r.N = points[len(points)-1].At, len(points)
	if old := now.Sub(r.Newest); p.Interval > 0 && old > 3*p.Interval+time.Minute {
		return r, answer.Say(answer.Away, "The newest %s is %s old, so the probe may be silent. Calibrate it when it reports.", w.Core.Word(q), old)
	}
	values := make([]float64, 0, len(points))
	for _, pt := range points {
		values = append(values, pt.Value)
	}
	slices.Sort(values)
	r.Low, r.High = values[0], values[len(values)-1]
	r.Value = (values[(len(values)-1)/2] + values[len(values)/2]) / 2
	r.Restless = r.High-r.Low > q.Facts().Offset.Restless
	return r, nil
}

// notBelieved says what makes p's readings worthless, "" for nothing.
func notBelieved(w words.Words, p alarms.ProbePicture) string {
	for _, f := range p.Faults {
		switch f {
		case alarms.FaultRange, alarms.FaultValue, alarms.FaultStuck, alarms.FaultSpikes, alarms.FaultGarbled:
			return faultSentence(w, f)
		}
	}
	if p.Silent {
		return w.Say("it is silent.")
	}
	return ""
}

// words says what the probe says now.
func (r stillReading) words(w words.Words, q alarms.Quantity) string {
	if r.N == 1 {
		return w.Say("It says %s now, which is the only reading of the last %s.", fine(w, q, r.Value), w.Core.Span(r.Over))
	}
	return w.Say("It says %s now: the middle of %d readings of the last %s, from %s to %s.", fine(w, q, r.Value), r.N,
		w.Core.Span(r.Over), fine(w, q, r.Low), fine(w, q, r.High))
}

// fine writes a value with one decimal more than elsewhere, as a calibration
// needs.
func fine(w words.Words, q alarms.Quantity, v float64) string {
	return w.Number(w.Shown(q, v), q.Facts().Digits+1) + w.Unit(q)
}

// fineStep is fine for a difference, always positive.
func fineStep(w words.Words, q alarms.Quantity, d float64) string {
	d = w.ShownDifference(q, d)
	return w.Number(max(d, -d), q.Facts().Digits+1) + w.Unit(q)
}
