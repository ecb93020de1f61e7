package page

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
)

// fixedPoint is what a probe is held against.
type fixedPoint struct {
	Value float64 // what it should say, in the core's unit
	Words string  // for the log
}

// confirmFrom is from which offset on a person must confirm that no mistake was
// made, K or %RH; common practice, no source.
var confirmFrom = map[alarms.Quantity]float64{alarms.Temperature: 5, alarms.Surface: 5, alarms.Soil: 5, alarms.Humidity: 10}

// against reads what the form says that the probe is held against.
func (w words) against(r *http.Request, p alarms.ProbePicture, q alarms.Quantity) (fixedPoint, error) {
	switch by := r.Form.Get("against"); {
	case by == "ice" && q != alarms.Humidity:
		return fixedPoint{icePoint, "in melting ice, which is " + w.value(q, icePoint)}, nil
	case by == "reference":
		return w.reference(r.Form.Get("value"), q)
	case q == alarms.Humidity:
		if s, ok := saltOf(by); ok {
			return w.overSalt(s, p)
		}
	}
	return fixedPoint{}, faultf(kindInvalid, "Say what the probe is held against.")
}

// reference reads what a person read on a reference.
func (w words) reference(text string, q alarms.Quantity) (fixedPoint, error) {
	text = strings.TrimSuffix(strings.TrimSpace(text), strings.TrimSpace(w.unit(q)))
	text = strings.NewReplacer(",", ".", "−", "-").Replace(strings.TrimSpace(text))
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return fixedPoint{}, faultf(kindInvalid, "Write what the reference says as a number, such as %s.", w.example(q))
	}
	if q == alarms.Humidity && (v < 0 || v > 100) {
		return fixedPoint{}, faultf(kindInvalid, "A humidity lies between 0 and 100 %%.")
	}
	v = w.notShown(q, v)
	if q != alarms.Humidity && (v < -60 || v > 100) {
		return fixedPoint{}, faultf(kindInvalid, "No probe in a greenhouse stands at %s. Write what the reference says.", w.value(q, v))
	}
	return fixedPoint{v, "a reference said " + w.fine(q, v)}, nil
}

// notShown is shown backwards.
func (w words) notShown(q alarms.Quantity, v float64) float64 {
	zero := w.shown(q, 0)
	return (v - zero) / (w.shown(q, 1) - zero)
}

func (w words) example(q alarms.Quantity) string {
	if q == alarms.Humidity {
		return w.number(62.5, 1)
	}
	return w.number(w.shown(q, 21.4), 1)
}

func (w words) overSalt(s salt, p alarms.ProbePicture) (fixedPoint, error) {
	celsius, known := 25.0, false
	for _, v := range p.Values {
		if v.Quantity == alarms.Temperature && v.HasValue {
			celsius, known = v.Value, true
		}
	}
	rh, ok := s.humidity(celsius)
	if !ok {
		return fixedPoint{}, faultf(kindInvalid, "Over a salt the probe must be between %s and %s, and it says %s.",
			w.value(alarms.Temperature, 0), w.value(alarms.Temperature, 40), w.value(alarms.Temperature, celsius))
	}
	at := " at " + w.value(alarms.Temperature, celsius)
	if !known {
		at += ", which was taken for granted"
	}
	return fixedPoint{rh, fmt.Sprintf("over wet %s, %s%s", s.Name, w.fine(alarms.Humidity, rh), at)}, nil
}

// proposal is a calibration that was worked out, to be agreed to.
type proposal struct {
	Quantity alarms.Quantity
	Offset   string   // in full, for the form
	Note     string   // for the log
	Says     []string // what was worked out, in sentences
	Warnings []string
	Confirm  string // what must be confirmed, "" for nothing
	Back     string // address without the proposal
}

// propose works out what would have to be added to p's readings.
func (s *Server) propose(ctx context.Context, w words, r *http.Request, p alarms.ProbePicture, q alarms.Quantity, now time.Time) (*proposal, error) {
	still, err := s.standing(ctx, w, p, q, now)
	if err != nil {
		return nil, err
	}
	known, err := w.against(r, p, q)
	if err != nil {
		return nil, err
	}
	off := known.Value - still.Value
	offset := math.Round((offsetOf(p, q)+off)*1000) / 1000
	v := &proposal{Quantity: q, Offset: strconv.FormatFloat(offset, 'f', -1, 64), Note: strings.ReplaceAll(known.Words, noBreak, " "), Back: probeAddress(p.ID)}
	v.Says = []string{still.words(w, q), "It should say " + w.fine(q, known.Value) + " (" + known.Words + ").", w.offSentence(q, off, offset)}
	if still.Restless {
		v.Warnings = append(v.Warnings, fmt.Sprintf("It moved by %s within the last minutes. Wait until it stands still, or the offset will be wrong.",
			w.fineStep(q, still.High-still.Low)))
	}
	if math.Abs(off) > confirmFrom[q] {
		v.Warnings = append(v.Warnings, fmt.Sprintf("That is a lot: a sound probe is not off by %s. Look whether it is the right probe, and whether it has taken on what it is held against.",
			w.fineStep(q, off)))
	}
	if len(v.Warnings) > 0 {
		v.Confirm = "I have looked again, and it is right."
	}
	return v, nil
}

func (w words) offSentence(q alarms.Quantity, off, offset float64) string {
	says := "It is right."
	if math.Round(off*100) != 0 {
		word := "too little"
		if off < 0 {
			word = "too much"
		}
		says = fmt.Sprintf("It says %s %s.", w.fineStep(q, off), word)
	}
	switch {
	case offset > 0:
		return says + " From now on " + w.fineStep(q, offset) + " would be added to what it sends."
	case offset < 0:
		return says + " From now on " + w.fineStep(q, offset) + " would be taken off what it sends."
	}
	return says + " Nothing would be added to what it sends."
}

// offsetOf is what is added to p's readings of q now.
func offsetOf(p alarms.ProbePicture, q alarms.Quantity) float64 {
	for _, c := range p.Calibrations {
		if c.Quantity == q {
			return c.Offset
		}
	}
	return 0
}

// calibrate takes a calibration that a person agreed to, or takes one back.
func (s *Server) calibrate(w http.ResponseWriter, r *http.Request) error {
	p, ok := findProbe(s.watch.Picture(), r.PostForm.Get("probe"))
	if !ok {
		return faultf(kindChanged, "That probe is not there any more, so nothing was done.")
	}
	q, now := alarms.Quantity(r.PostForm.Get("quantity")), s.watch.Now()
	offset, err := strconv.ParseFloat(r.PostForm.Get("offset"), 64)
	if !q.Calibrates() || err != nil || math.IsNaN(offset) || math.IsInf(offset, 0) {
		return faultf(kindInvalid, "The form does not say what is to be added to which readings.")
	}
	words, said := s.wordsOf(r), "uncalibrated"
	if offset != 0 {
		said = "calibrated"
		if err := s.mayCalibrate(r, words, p, q, offset, now); err != nil {
			return err
		}
	}
	note := tidy(r.PostForm.Get("note"), maxReason)
	in := alarms.Input{At: now, Kind: alarms.Calibrate, Probe: p.ID, Quantity: q, Value: offset, By: s.who(w, r), Note: note}
	err = s.options.Tending.Calibrate(r.Context(), in)
	if no := Refusal(""); errors.As(err, &no) {
		return &fault{Kind: kindInvalid, Say: sentence(capital(string(no))), Err: err}
	}
	if err != nil {
		return err
	}
	return s.done(w, r, said)
}

// mayCalibrate refuses what makes no sense, also to who did not come through
// the page.
func (s *Server) mayCalibrate(r *http.Request, w words, p alarms.ProbePicture, q alarms.Quantity, offset float64, now time.Time) error {
	still, err := s.standing(r.Context(), w, p, q, now)
	if err != nil {
		return err
	}
	by := offset - offsetOf(p, q)
	if r.PostForm.Get("sure") == "yes" {
		return nil
	}
	if math.Abs(by) > confirmFrom[q] {
		return faultf(kindInvalid, "A probe that is off by %s is most likely not the right one, or not yet as warm as what it is held against. "+
			"Confirm that you looked again. Nothing was done.", w.fineStep(q, by))
	}
	if still.Restless {
		return faultf(kindInvalid, "The probe moved by %s within the last minutes. Wait until it stands still, or confirm that it is right. Nothing was done.",
			w.fineStep(q, still.High-still.Low))
	}
	return nil
}
