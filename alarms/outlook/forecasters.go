package outlook

import "math"

// Forecasters, in the order of Ahead.Weights.
const (
	Regression = iota
	Trend
	Yesterday
	forecasters
)

const (
	simples   = forecasters - 1 // those without a spread of their own
	damping   = 8.0             // slots in which a trend falls to 1/e
	memory    = 2000            // slots over which skill and sizes are remembered
	slowest   = 4000            // slots over which quantiles are, at most
	strictest = 10              // power of the skill by which is weighed
	unlearned = 16              // square of a doubt from which the regression has less to say
	near      = 0.5             // K, from the extremes of the last day
	wider     = 1.15            // stretch at first: what many houses came to
	widening  = 0.002           // step of the stretch
)

// record is what is known of the errors at one horizon of one side.
type record struct {
	// quantiles are those of the regression's errors, in units of its spread: usually,
	// and where it expects what the last day did not see, when it tends to go too far.
	quantiles [2][levels]float32
	loss      [2][forecasters]float32 // K, the skill of all, by night and by day
	// stretch is by how much what lies below, and above, the middle is spread wider
	// than the forecasters think together.
	stretch [2]float32
}

// sizes are the mean errors of a forecaster without a spread, by night and by day, in K.
type sizes [horizons][2]float32

// normal are the quantiles of a normal distribution whose mean absolute error is 1:
// the errors of the regression before it has made any, and of the others.
var normal = [levels]float32{-2.0615, -1.6062, -0.6572, 0, 0.6572, 1.6062, 2.0615}

func (r *record) empty() {
	r.stretch = [2]float32{short(wider), short(wider)}
	for i := range r.loss {
		for j, q := range normal {
			r.quantiles[i][j] = short(float64(q))
		}
		for who := range r.loss[i] {
			r.loss[i][who] = short(0.3)
		}
	}
}

// simply is what a forecaster without a spread expects, in K.
func (v *view) simply(who, side, h int) (by float64, known bool) {
	if who == Yesterday {
		return v.rise(side, horizonSlots[h])
	}
	slope := 0.6*(v.now-v.back(6))/6 + 0.4*(v.now-v.back(2))/2
	by = slope * damping * (1 - math.Exp(-float64(horizonSlots[h])/damping))
	if side == Highest {
		return max(by, 0), true
	}
	return min(by, 0), true
}

// unseen is 1 if what the regression expects goes beyond the last day's extreme, or
// nearly, else 0.
func (v *view) unseen(side int, told float64) int {
	return yes(side == Highest && v.now+told > v.top-near || side == Lowest && v.now+told < v.bottom+near)
}

func yes(b bool) int {
	if b {
		return 1
	}
	return 0
}

// rate is the step of something that has seen n, over so many at most.
func rate(n float32, most float64) float64 { return 1 / min(float64(n)+50, most) }

// judge holds the forecasters against the rise, or fall, y that came.
func (c *Course) judge(v *view, side, h int, y, told, spread float64) {
	r, day, unseen := &c.records[side][h], yes(v.day), v.unseen(side, told)
	q := &r.quantiles[unseen]
	loss := [forecasters]float64{Regression: pinball(y, told, spread, q)}
	of := c.learned
	if unseen == 1 {
		of = c.unseen[side] / horizons
		c.unseen[side] = min(c.unseen[side]+1, slowest)
	}
	track(q, (y-told)/spread, rate(of, slowest))
	pace := rate(c.learned, memory)
	for who := Trend; who < forecasters; who++ {
		by, known := v.simply(who, side, h)
		if !known {
			loss[who] = 1.5 * loss[Trend]
			continue
		}
		size := &c.sizes[who-1][side][h][day]
		loss[who] = pinball(y, by, float64(*size), &normal)
		*size = short(max(leastOf, float64(*size)+pace*(math.Abs(y-by)-float64(*size))))
	}
	for who := range loss {
		l := &r.loss[day][who]
		*l = short(float64(*l) + pace*(loss[who]-float64(*l)))
	}
}

// pinball is twice the mean loss of quantiles about a middle, in K: near the mean
// absolute error of a sharp forecast.
func pinball(y, middle, size float64, q *[levels]float32) (sum float64) {
	for i, a := range Quantiles {
		if d := y - middle - size*float64(q[i]); d > 0 {
			sum += a * d
		} else {
			sum += (a - 1) * d
		}
	}
	return 2 * sum / levels
}

// track moves quantiles towards what was seen: each settles where its share of
// the errors lies below it (Robbins & Monro 1951, Ann. Math. Stat. 22:400).
func track(q *[levels]float32, e, rate float64) {
	for i, a := range Quantiles {
		if e < float64(q[i]) {
			a--
		}
		q[i] = short(float64(q[i]) + 4*rate*a)
		if i > 0 {
			q[i] = max(q[i], q[i-1])
		}
	}
}

// weigh gives each forecaster its say. What was learned does not count for what was
// not: the regression has the less to say the more its errors may be.
func (r *record) weigh(day int, doubt float64) (w [forecasters]float64) {
	sum := 0.0
	for who, l := range r.loss[day] {
		if who == Regression {
			l *= float32(max(1, doubt*doubt/unlearned))
		}
		w[who] = power(1/(float64(l)+1e-4), strictest)
		sum += w[who]
	}
	for who := range w {
		w[who] /= sum
	}
	return w
}

func power(x float64, n int) float64 {
	out := 1.0
	for ; n > 0; n /= 2 {
		if n%2 == 1 {
			out *= x
		}
		x *= x
	}
	return out
}

// widen moves the stretch so that one in ten lies below the lower of the quantiles
// for that, and one in ten above the upper: adaptive conformal inference (Gibbs &
// Candès 2021, Adv. Neural Inf. Process. Syst. 34, from memory). y is the rise, or
// fall, that came; below no rise, or above no fall, nothing can lie.
func (r *record) widen(a *Ahead, now, y float64, side int) {
	low, high := a.Quantiles[1]-now, a.Quantiles[levels-2]-now
	for i, outside := range [2]bool{y < low, y > high} {
		if side == Highest && i == 0 && low <= 0 || side == Lowest && i == 1 && high >= 0 {
			continue
		}
		s := float64(r.stretch[i]) + widening*(float64(yes(outside))-Quantiles[1])
		r.stretch[i] = short(min(max(s, 0.3), 3))
	}
}

// mix averages the quantiles of all.
func (c *Course) mix(v *view, out *Ahead, side, h int, told, spread float64) {
	r, day := &c.records[side][h], yes(v.day)
	q := &r.quantiles[v.unseen(side, told)]
	out.Weights = r.weigh(day, v.doubt)
	var by, size [forecasters]float64
	for who := Trend; who < forecasters; who++ {
		known := false
		if by[who], known = v.simply(who, side, h); !known {
			out.Weights[Regression] += out.Weights[who]
			out.Weights[who] = 0
		}
		size[who] = float64(c.sizes[who-1][side][h][day])
	}
	average := func(i int) float64 {
		sum := out.Weights[Regression] * (told + spread*float64(q[i]))
		for who := Trend; who < forecasters; who++ {
			sum += out.Weights[who] * (by[who] + size[who]*float64(normal[i]))
		}
		return sum
	}
	middle := average(levels / 2)
	for i := range out.Quantiles {
		sum := middle + float64(r.stretch[yes(i > levels/2)])*(average(i)-middle)
		if side == Highest {
			sum = max(sum, 0)
		} else {
			sum = min(sum, 0)
		}
		out.Quantiles[i] = v.now + sum
	}
}
