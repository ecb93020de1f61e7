package page

import (
	"context"
	"errors"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// fixedPoint is what a probe is held against.
type fixedPoint struct {
	Value float64 // what it should say, in the core's unit
	Words string  // for the log
}

// heldAgainst reads what the form says that the probe is held against.
func heldAgainst(w words.Words, r *http.Request, p alarms.ProbePicture, q alarms.Quantity) (fixedPoint, error) {
	switch by := r.Form.Get("against"); {
	case by == "ice" && q != alarms.Humidity:
		return fixedPoint{icePoint, w.Say("in melting ice, which is %s", w.Value(q, icePoint))}, nil
	case by == "reference":
		return referenceRead(w, r.Form.Get("value"), q)
	case q == alarms.Humidity:
		if s, ok := saltOf(by); ok {
			return overSalt(w, s, p)
		}
	}
	return fixedPoint{}, answer.Say(answer.Invalid, "Say what the probe is held against.")
}

// referenceRead reads what a person read on a reference.
func referenceRead(w words.Words, text string, q alarms.Quantity) (fixedPoint, error) {
	text = strings.TrimSuffix(strings.TrimSpace(text), strings.TrimSpace(w.Unit(q)))
	text = strings.NewReplacer(",", ".", "−", "-").Replace(strings.TrimSpace(text))
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return fixedPoint{}, answer.Say(answer.Invalid, "Write what the reference says as a number, such as %s.", exampleOf(w, q))
	}
	if q == alarms.Humidity && (v < 0 || v > 100) {
		return fixedPoint{}, answer.Say(answer.Invalid, "A humidity lies between 0 and 100 %.")
	}
	v = notShown(w, q, v)
	if q != alarms.Humidity && (v < -60 || v > 100) {
		return fixedPoint{}, answer.Say(answer.Invalid, "No probe in a greenhouse stands at %s. Write what the reference says.", w.Value(q, v))
	}
	return fixedPoint{v, w.Say("a reference said %s", fine(w, q, v))}, nil
}

// notShown is shown backwards.
func notShown(w words.Words, q alarms.Quantity, v float64) float64 {
	zero := w.Shown(q, 0)
	return (v - zero) / (w.Shown(q, 1) - zero)
}

func exampleOf(w words.Words, q alarms.Quantity) string {
	if q == alarms.Humidity {
		return w.Number(62.5, 1)
	}
	return w.Number(w.Shown(q, 21.4), 1)
}

func overSalt(w words.Words, s salt, p alarms.ProbePicture) (fixedPoint, error) {
	celsius, known := 25.0, false
	for _, v := range p.Values {
		if v.Quantity == alarms.Temperature && v.HasValue {
			celsius, known = v.Value, true
		}
	}
	rh, ok := s.humidity(celsius)
	if !ok {
		return fixedPoint{}, answer.Say(answer.Invalid, "Over a salt the probe must be between %s and %s, and it says %s.",
			w.Value(alarms.Temperature, 0), w.Value(alarms.Temperature, 40), w.Value(alarms.Temperature, celsius))
	}
	at := w.Value(alarms.Temperature, celsius)
	if !known {
		return fixedPoint{rh, w.Say("over wet %s, %s at %s, which was taken for granted", w.Say(s.Name), fine(w, alarms.Humidity, rh), at)}, nil
	}
	return fixedPoint{rh, w.Say("over wet %s, %s at %s", w.Say(s.Name), fine(w, alarms.Humidity, rh), at)}, nil
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
func (s calibration) propose(ctx context.Context, w words.Words, r *http.Request, p alarms.ProbePicture, q alarms.Quantity, now time.Time) (*proposal, error) {
	still, err := s.standing(ctx, w, p, q, now)
	if err != nil {
		return nil, err
	}
	known, err := heldAgainst(w, r, p, q)
	if err != nil {
		return nil, err
	}
	off := known.Value - still.Value
	offset := math.Round((offsetOf(p, q)+off)*1000) / 1000
	v := &proposal{Quantity: q, Offset: strconv.FormatFloat(offset, 'f', -1, 64), Note: strings.ReplaceAll(known.Words, words.NoBreak, " "), Back: probeAddress(p.ID)}
	v.Says = []string{still.words(w, q), w.Say("It should say %s (%s).", fine(w, q, known.Value), known.Words), offSentence(w, q, off, offset)}
	if still.Restless {
		v.Warnings = append(v.Warnings, w.Say("It moved by %s within the last minutes. Wait until it stands still, or the offset will be wrong.",
			fineStep(w, q, still.High-still.Low)))
	}
	if math.Abs(off) > q.Facts().Offset.Doubtful {
		v.Warnings = append(v.Warnings, w.Say("That is a lot: a sound probe is not off by %s. Look whether it is the right probe, and whether it has taken on what it is held against.",
			fineStep(w, q, off)))
	}
	if len(v.Warnings) > 0 {
		v.Confirm = w.Say("I have looked again, and it is right.")
	}
	return v, nil
}

func offSentence(w words.Words, q alarms.Quantity, off, offset float64) string {
	says := w.Say("It is right.")
	switch {
	case math.Round(off*100) < 0:
		says = w.Say("It says %s too much.", fineStep(w, q, off))
	case math.Round(off*100) > 0:
		says = w.Say("It says %s too little.", fineStep(w, q, off))
	}
	switch {
	case offset > 0:
		return says + " " + w.Say("From now on %s would be added to what it sends.", fineStep(w, q, offset))
	case offset < 0:
		return says + " " + w.Say("From now on %s would be taken off what it sends.", fineStep(w, q, offset))
	}
	return says + " " + w.Say("Nothing would be added to what it sends.")
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
func (s calibration) calibrate(w http.ResponseWriter, r *http.Request) error {
	_, _, p, ok := placeOf(s.watch.Picture(), r.PostForm.Get("probe"))
	if !ok {
		return answer.Say(answer.Changed, "That probe is not there any more, so nothing was done.")
	}
	q, now := alarms.Quantity(r.PostForm.Get("quantity")), s.watch.Now()
	offset, err := strconv.ParseFloat(r.PostForm.Get("offset"), 64)
	if !q.Calibrates() || err != nil || math.IsNaN(offset) || math.IsInf(offset, 0) {
		return answer.Say(answer.Invalid, "The form does not say what is to be added to which readings.")
	}
	say, said := s.wordsOf(r), "uncalibrated"
	if offset != 0 {
		said = "calibrated"
		if err := s.mayCalibrate(r, say, p, q, offset, now); err != nil {
			return err
		}
	}
	note := answer.Tidy(r.PostForm.Get("note"), maxReason)
	in := alarms.Input{At: now, Kind: alarms.Calibrate, Probe: p.ID, Quantity: q, Value: offset, By: s.who(w, r), Note: note}
	err = s.options.Tending.Calibrate(r.Context(), in)
	if no, is := errors.AsType[service.Refusal](err); is {
		return &answer.Error{Kind: answer.Invalid, Args: []any{words.Capital(no.In(say.Tongue)) + "."}, Err: err}
	}
	if err != nil {
		return err
	}
	return s.done(w, r, said)
}

// mayCalibrate refuses what makes no sense, also to who did not come through
// the page.
func (s calibration) mayCalibrate(r *http.Request, w words.Words, p alarms.ProbePicture, q alarms.Quantity, offset float64, now time.Time) error {
	still, err := s.standing(r.Context(), w, p, q, now)
	if err != nil {
		return err
	}
	by := offset - offsetOf(p, q)
	if r.PostForm.Get("sure") == "yes" {
		return nil
	}
	if math.Abs(by) > q.Facts().Offset.Doubtful {
		return answer.Say(answer.Invalid, "A probe that is off by %s is most likely not the right one, or not yet as warm as what it is held against. "+
			"Confirm that you looked again. Nothing was done.", fineStep(w, q, by))
	}
	if still.Restless {
		return answer.Say(answer.Invalid, "The probe moved by %s within the last minutes. Wait until it stands still, or confirm that it is right. Nothing was done.",
			fineStep(w, q, still.High-still.Low))
	}
	return nil
}

// salt is a saturated solution of a salt: sealed in with it, air comes to a
// humidity that depends on the temperature alone.
type salt struct {
	Key  string
	Name tongue.Text
	at   [9]float64 // %RH at 0, 5, 10 ... 40 °C
}

// salts after Greenspan, Humidity fixed points of binary saturated aqueous
// solutions, J. Res. Natl. Bur. Stand. 81A (1977) 89-96; the figures are from
// memory.
var salts = []salt{
	{"nacl", "common salt (sodium chloride)", [9]float64{75.51, 75.65, 75.67, 75.61, 75.47, 75.29, 75.09, 74.87, 74.68}},
	{"mgcl2", "magnesium chloride", [9]float64{33.66, 33.60, 33.47, 33.30, 33.07, 32.78, 32.44, 32.05, 31.60}},
	{"kcl", "potassium chloride", [9]float64{88.61, 87.67, 86.77, 85.92, 85.11, 84.34, 83.62, 82.95, 82.32}},
}

// humidity over the salt at so many °C; ok is false where it is not known.
func (s salt) humidity(celsius float64) (rh float64, ok bool) {
	if !(celsius >= 0 && celsius <= 40) {
		return 0, false
	}
	i := min(int(celsius/5), len(s.at)-2)
	share := celsius/5 - float64(i)
	return s.at[i] + share*(s.at[i+1]-s.at[i]), true
}

func saltOf(key string) (salt, bool) {
	for _, s := range salts {
		if s.Key == key {
			return s, true
		}
	}
	return salt{}, false
}

// icePoint is what a thermometer must say in melting ice, °C: pure water and
// ice in air at sea level (ITS-90, where the triple point of water is 0.01 °C,
// and ASTM E563 on the ice bath; both from memory).
const icePoint = 0.0
