package outlook

import (
	"math"
	"time"

	"telltale/alarms/sun"
)

const (
	kept    = aDay + ahead + 2 // slots: yesterday, as seen two hours ago
	missing = math.MinInt16
	most    = 320 // °C that fit
)

// past is the recent temperatures by slots, the newest first, in 0.01 °C.
type past struct {
	values    [kept]int16
	high, low [ahead]int16 // of all readings since the slot before
}

func (p *past) empty() {
	for i := range p.values {
		p.values[i] = missing
	}
	for i := range p.high {
		p.high[i], p.low[i] = missing, missing
	}
}

func (p *past) push(v, high, low float64) {
	copy(p.values[1:], p.values[:])
	copy(p.high[1:], p.high[:])
	copy(p.low[1:], p.low[:])
	p.values[0], p.high[0], p.low[0] = packed(v), packed(high), packed(low)
}

func packed(v float64) int16 {
	if math.IsNaN(v) {
		return missing
	}
	return int16(math.Round(100 * min(max(v, -most), most)))
}

// value is the temperature of a slot; NaN: missing.
func (p *past) value(i int) float64 {
	if i >= kept || p.values[i] == missing {
		return math.NaN()
	}
	return float64(p.values[i]) / 100
}

// extreme is the highest or lowest from a slot on, over some slots, that slot
// with its value.
func (p *past) extreme(side, from, slots int) float64 {
	best := p.value(from)
	for i := from - slots; i < from; i++ {
		if side == Highest {
			best = max(best, float64(p.high[i])/100)
		} else {
			best = min(best, float64(p.low[i])/100)
		}
	}
	return best
}

// view is the past as seen from some moment.
type view struct {
	c           *Course
	at          int64   // Unix s
	now         float64 // °C
	shift       int     // slots from the newest to this moment
	part        float64 // of a slot, since the slot at shift
	top, bottom float64 // of 24 h, °C
	doubt       float64 // of the regression
	day         bool    // the sun shines, or will within an hour
}

// back is the temperature some slots ago; NaN: not known.
func (v *view) back(slots int) float64 {
	where := float64(slots) - v.part
	if where <= 0 {
		return v.now
	}
	i := int(where)
	a, f := v.c.past.value(v.shift+i), where-float64(i)
	if f < 1e-9 {
		return a
	}
	return a + f*(v.c.past.value(v.shift+i+1)-a)
}

// rise is how far yesterday went up, or down, from this hour on, over some slots.
func (v *view) rise(side, slots int) (by float64, known bool) {
	from := v.back(aDay)
	for i := 1; i <= slots; i++ {
		switch w := v.back(aDay-i) - from; {
		case side == Highest && w > by, side == Lowest && w < by:
			by = w
		}
	}
	return by, from == from
}

const width = 15 // of features

// features are what the regression goes by, in kelvin and of about one size.
type features [width]float64

// features fills x, and what else is known of the moment; false: the last hour was
// not heard as a whole.
func (v *view) features(x *features) bool {
	high, low, sum := v.now, v.now, 0.0
	for i := 1; i <= hour; i++ {
		w := v.back(i)
		sum += w
		if i <= hour/2 {
			high, low = max(high, w), min(low, w)
		}
	}
	if sum+v.now != sum+v.now {
		return false
	}
	v.top, v.bottom = v.now, v.now
	for i := 1; i <= aDay; i++ {
		switch w := v.c.past.value(v.shift + i); {
		case w > v.top:
			v.top = w
		case w < v.bottom:
			v.bottom = w
		}
	}
	yesterday := v.back(aDay)
	if yesterday != yesterday {
		yesterday = v.now
	}
	sun0, side := v.sun(0)
	sun60, _ := v.sun(time.Hour)
	if sun0+sun60 == 0 {
		side = 0
	}
	v.day = max(sun0, sun60) > 0.1
	t, slope := v.now, (v.now-v.back(6))/2
	*x = features{1, (t - 20) / 10, t - v.back(1), (t - v.back(4)) / 2, slope,
		(high - t) / 2, (t - low) / 2, (t - sum/hour) / 3, 2 * sun0, 2 * sun60, side, (t - yesterday) / 5, slope * sun0}
	up, _ := v.rise(Highest, ahead)
	down, _ := v.rise(Lowest, ahead)
	x[13], x[14] = up/3, down/3
	return true
}

// sun is the sine of the sun's height, 0 below the horizon, some time from this
// moment, and on which side of noon it then stands, -1 to 1.
func (v *view) sun(in time.Duration) (height, side float64) {
	p := sun.At(v.c.latitude, v.c.longitude, time.Unix(v.at+v.c.wall, 0).Add(in))
	return max(0, math.Sin(p.Elevation*math.Pi/180)), math.Sin((p.Azimuth - 180) * math.Pi / 180)
}
