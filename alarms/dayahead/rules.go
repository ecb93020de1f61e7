package dayahead

import "math"

// Single rules, by which it is looked ahead.
const (
	Yesterday = iota // as warm, or cold, as yesterday
	Rise             // from now on as much warmer, or colder, as yesterday
	Mean             // as the mean of the last three days
	MeanRise         // from now on as the mean of the last three days
	Kept             // yesterday, and the usual part of what it is warmer or colder by now
	KeptMean         // the mean, and the usual part of what it is warmer or colder by now
	rules
)

const (
	stages  = 3    // of a half day, each with its own errors
	memory  = 0.07 // of the newest error in the mean error, at least
	power   = 5    // of the weights
	leastOf = 0.05 // K, of an error
	widest  = 60   // K, of an error
	forget  = 0.99 // a day, of the usual part
	outside = 0.1  // share of what comes beyond each end of the interval
	pace    = 0.05 // at which the interval follows, in mean errors, at least
	// ends is where the interval begins, in mean errors: 1.61 for errors of the normal
	// and of the Laplace distribution alike, and some for what has not been seen yet.
	ends = 1.75
)

// due is how long in s after sunrise, or sunset, a stage is held to what it says.
var due = [stages]int64{2 * slot, 5 * slot, 8 * slot}

// stageOf is the stage nearest to a moment so many seconds after sunrise, or sunset.
func stageOf(passed int64) int {
	i := 0
	for i < stages-1 && passed > (due[i]+due[i+1])/2 {
		i++
	}
	return i
}

// basis is what the rules go by, in °C.
type basis struct{ yesterday, rise, mean, meanRise float64 }

// asked is what a stage went by today, and what has come since, in 0.01 °C.
type asked struct {
	Open                            bool
	Yesterday, Rise, Mean, MeanRise int16
	Now                             int16 // then
	Since                           int16 // the highest since, or the lowest
}

func (a *asked) take(v float64, night bool) {
	if x := packed(v); a.Open && (night && x < a.Since || !night && x > a.Since) {
		a.Since = x
	}
}

func (a *asked) basis() basis {
	return basis{unpacked(a.Yesterday), unpacked(a.Rise), unpacked(a.Mean), unpacked(a.MeanRise)}
}

// record is what the rules are worth at one stage.
type record struct {
	Days      float32       // on which it was held to what it said
	Errors    [rules]uint16 // 0.001 K, mean of late
	Off       float32       // K, the same of all together
	XY, XX    float32       // K², of which the usual part is made
	Low, High float32       // ends of the interval, in mean errors of all together
}

// empty begins with all rules worth the same, but for what is left of a half day:
// then the temperature is not far from where it ends.
func (r *record) empty(stage int) {
	*r = record{Off: 1, XY: 2, XX: 4, Low: -ends, High: ends}
	for i := range r.Errors {
		r.Errors[i] = 1000
	}
	if stage > 0 {
		r.Errors[Rise], r.Errors[MeanRise] = 500, 500
	}
}

// say fills what each rule says, its weight, and what all say together.
func (r *record) say(b basis, now float64, out *Ahead) {
	kept, sum := float64(r.XY/r.XX), 0.0
	out.Rules = [rules]float64{b.yesterday, b.rise, b.mean, b.meanRise,
		b.yesterday + kept*(b.rise-b.yesterday), b.mean + kept*(b.meanRise-b.mean)}
	for i, v := range out.Rules {
		out.Rules[i] = beyond(v, now, out.Night)
		out.Weights[i] = math.Pow(float64(r.Errors[i])/1000+leastOf, -power)
		sum += out.Weights[i]
	}
	out.Value = 0
	for i, v := range out.Rules {
		out.Weights[i] /= sum
		out.Value += out.Weights[i] * v
	}
	out.Value = beyond(out.Value, now, out.Night)
}

// beyond is v, or what it is now where that is lower by night, or higher by day.
func beyond(v, now float64, night bool) float64 {
	if night {
		return min(v, now)
	}
	return max(v, now)
}

// width is the mean error that is expected, in K.
func (r *record) width() float64 { return max(float64(r.Off), leastOf) }

// learn holds what was said against what came.
func (r *record) learn(a *asked, night bool) {
	if !a.Open {
		return
	}
	b, came, said := a.basis(), unpacked(a.Since), Ahead{Night: night}
	r.say(b, unpacked(a.Now), &said)
	r.Days++
	part := max(memory, 1/(r.Days+1))
	for i, v := range said.Rules {
		e := float64(r.Errors[i])
		r.Errors[i] = uint16(math.Round(e + float64(part)*(1000*min(math.Abs(v-came), widest)-e)))
	}
	at, step := float32((came-said.Value)/r.width()), max(pace, 0.5/(r.Days+1))
	r.Low += step * (outside - share(at < r.Low))
	r.High += step * (1 - outside - share(at < r.High))
	r.Off += part * (float32(math.Abs(came-said.Value)) - r.Off)
	r.keep(b.rise-b.yesterday, came-b.yesterday)
	r.keep(b.meanRise-b.mean, came-b.mean)
}

// keep learns which part of x came.
func (r *record) keep(x, came float64) {
	r.XY = forget*r.XY + float32(x*came)
	r.XX = max(forget*r.XX+float32(x*x), 0.01)
}

func share(yes bool) float32 {
	if yes {
		return 1
	}
	return 0
}
