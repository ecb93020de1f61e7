package alarms

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Corrected returns v, as the probe sent it, with the plan's offset and with
// what a person found the probe to be off by since. Who gives readings to Step
// must correct them first, so that what is kept of them elsewhere is what is
// judged here.
func (e *Engine) Corrected(p ProbeID, q Quantity, v float64) float64 {
	st := e.streams[streamKey{p, q}]
	if st == nil || st.offset() == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	return rounded(v + st.offset())
}

// Calibrates reports whether a probe may be calibrated for q: beside a
// thermometer, or over a salt.
func (q Quantity) Calibrates() bool { return mostOffset[q] > 0 }

// mostOffset is how far a probe may be off and still be used, K or %RH; common
// practice, no source.
var mostOffset = map[Quantity]float64{Temperature: 20, Surface: 20, Soil: 20, Humidity: 30}

// calibration is what a person found a stream to be off by.
type calibration struct {
	Offset float64 `json:"offset,omitempty"` // added to each reading
	At     instant `json:"at,omitempty"`     // 0: never
	By     string  `json:"by,omitempty"`
	Note   string  `json:"note,omitempty"`
}

// CalibrationPicture is what a person found one quantity of a probe to be off by.
type CalibrationPicture struct {
	Quantity Quantity  `json:"quantity"`
	Offset   float64   `json:"offset"` // added to each reading
	At       time.Time `json:"at"`
	By       string    `json:"by,omitempty"`
	Note     string    `json:"note,omitempty"`
	Sentence string    `json:"sentence"`
}

// calibrate takes what a person found a probe to be off by. Values that are
// held move along, so that no step is seen where there is none.
func (e *Engine) calibrate(in *Input, now instant) {
	st := e.streams[streamKey{in.Probe, in.Quantity}]
	if st == nil {
		return
	}
	e.actor = actor{by: in.By, note: in.Note}
	defer func() { e.actor = actor{} }()
	log, most := e.calibrationLog(st.probe), mostOffset[in.Quantity]
	st.probe.calibrated = nil
	switch {
	case most == 0:
		e.actor.note = fmt.Sprintf("not calibrated: a probe is not calibrated for its %s", in.Quantity.Word())
	case !(math.Abs(in.Value) <= most): // what is no number too
		e.actor.note = fmt.Sprintf("not calibrated: a probe that is off by more than %s is to be replaced",
			e.plan.Words.Distance(in.Quantity, most))
	default:
		st.probe.calibrated = st
		by := rounded(in.Value)
		e.shift(st, by-st.Calibrated.Offset)
		st.Calibrated = calibration{by, now, in.By, in.Note}
		e.rejudge(st.probe.place, now)
	}
	e.note(log, now)
	st.probe.calibrated = nil
}

// shift moves the past of st, and what was learned of it.
func (e *Engine) shift(st *stream, by float64) {
	p := st.probe.place
	q := st.plan.Quantity
	before := p.mean(q)
	st.move(by)
	moved := p.mean(q) - before
	if math.IsNaN(moved) || moved == 0 {
		return
	}
	for _, m := range p.house.mechanisms {
		if i := slices.Index(m.bulbs, bulb{p, q}); i >= 0 {
			m.judge.Shift(i, moved)
		}
		if m.sense != nil && m.place == p && q == Temperature {
			m.sense.Shift(moved)
		}
	}
}

// move shifts the values that st holds of the past.
func (st *stream) move(by float64) {
	if st.Has {
		st.Value = st.plan.Quantity.scaled(rounded(st.Value + by))
	}
	if st.Held {
		st.Retained += by
	}
	if st.Jumped {
		st.JumpTo += by
	}
	courses := []*course{&st.Course}
	if st.Doubted != nil {
		courses = append(courses, &st.Doubted.course)
	}
	for _, c := range courses {
		for i := range c.N {
			c.V[i] += by
		}
	}
}

// scaled keeps v on the scale of q.
func (q Quantity) scaled(v float64) float64 {
	if q == Humidity {
		return min(max(v, 0), 100)
	}
	return v
}

// sent returns what the probe sent, of a reading that was corrected.
func (st *stream) sent(v float64) float64 {
	if st.offset() == 0 {
		return v
	}
	return rounded(v - st.offset())
}

// offset is what lies between what the probe sends and what is judged.
func (st *stream) offset() float64 { return st.plan.Offset + st.Calibrated.Offset }

// rounded leaves out the noise of adding decimals. Six are more than any probe
// has.
func rounded(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// calibrationLog returns what carries the log of p's calibrations, made when
// first needed.
func (e *Engine) calibrationLog(p *probe) *alarm {
	if p.calibrations == nil {
		p.calibrations = e.lateAlarm(&alarm{
			id: p.calibrationID(), rule: RulePerson, house: p.place.house, place: p.place, probe: p, circuit: p.circuit,
			priority: always(Low), order: p.faultOrder + alarmTimerCount*int(faultCount),
			why: func(Move, instant) Reason { return p.whyCalibrated() },
		})
	}
	return p.calibrations
}

func (p *probe) calibrationID() AlarmID {
	return p.place.house.id(p.place.plan.ID, string(p.plan.ID), "calibration")
}

// whyCalibrated says what p is off by now. A calibration that was refused has
// no value.
func (p *probe) whyCalibrated() Reason {
	if p.calibrated == nil {
		return Reason{}
	}
	by := p.calibrated.Calibrated.Offset
	return Reason{Quantity: p.calibrated.plan.Quantity, Value: &by}
}

func (e *Engine) calibrationSentence(a *alarm, t Transition) string {
	r := t.Reason
	if r.Value == nil {
		return fmt.Sprintf("%s: probe %s was %s.", a.where(), a.name(), r.Note)
	}
	return fmt.Sprintf("%s: probe %s is calibrated anew. %s", a.where(), a.name(),
		e.correctionSentence(r.Quantity, *r.Value, r.By, r.Note))
}

// correctionSentence says what is added to the readings of a quantity.
func (e *Engine) correctionSentence(q Quantity, by float64, who, note string) string {
	s := "Nothing is added to its " + q.Word()
	if by != 0 {
		verb := "added to"
		if by < 0 {
			verb = "taken off"
		}
		s = fmt.Sprintf("%s is %s each %s", e.plan.Words.fine(q, math.Abs(by)), verb, q.Word())
	}
	if who != "" {
		s += ", set by " + who
	}
	if note != "" {
		s += " (" + note + ")"
	}
	return s + "."
}

// fine is Distance with one decimal more, for what is itself a correction.
func (w Words) fine(q Quantity, d float64) string {
	switch {
	case q == Humidity:
		return number(d, 1) + " %"
	case w.inFahrenheit():
		return number(d*9/5, 2) + " °F"
	}
	return number(d, 2) + " °C"
}

// drawCalibrations lists what the quantities of p were found to be off by.
func (e *Engine) drawCalibrations(p *probe) []CalibrationPicture {
	var all []CalibrationPicture
	for _, st := range p.streams {
		if c := st.Calibrated; c.At != 0 {
			q := st.plan.Quantity
			all = append(all, CalibrationPicture{q, c.Offset, e.wall(c.At), c.By, c.Note,
				e.correctionSentence(q, c.Offset, c.By, c.Note)})
		}
	}
	return all
}
