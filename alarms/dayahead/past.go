package dayahead

import "math"

const (
	kept    = days*24 + 3 // slots: three days, the one that is filled, and some to stand between
	missing = math.MinInt16
	most    = 320 // °C that fit
)

// past is the last days by hours of the core's time, in 0.01 °C: a ring, in which
// hour n since 1970 has place n mod kept.
type past struct {
	Slot    int64       // that is filled now
	Night   bool        // it has been, in part, night
	Values  [kept]int16 // at the beginning of each
	Extreme [kept]int16 // the lowest of each that was, in part, night; the highest of the others
}

func (p *past) empty() {
	*p = past{}
	for i := range kept {
		p.Values[i], p.Extreme[i] = missing, missing
	}
}

func packed(v float64) int16 { return int16(math.Round(100 * min(max(v, -most), most))) }

func unpacked(v int16) float64 {
	if v == missing {
		return math.NaN()
	}
	return float64(v) / 100
}

func place(slot int64) int { return int(((slot % kept) + kept) % kept) }

// reach lets the hours pass from the last reading until now. In a time that was
// heard as a whole the mean went straight to the new reading.
func (p *past) reach(heard, now int64, mean, v float32) {
	to, whole := floor(now), now-heard <= stale
	if to-p.Slot > kept {
		p.empty()
		p.Slot = to - 1
	}
	for p.Slot < to {
		p.Slot++
		i := place(p.Slot)
		p.Values[i], p.Extreme[i], p.Night = missing, missing, false
		if whole {
			part := float64(p.Slot*slot-heard) / float64(max(1, now-heard))
			p.Values[i] = packed(float64(mean) + part*float64(v-mean))
		}
	}
}

func floor(at int64) int64 {
	n := at / slot
	if at%slot < 0 {
		n--
	}
	return n
}

// take takes a reading of the hour that is filled.
func (p *past) take(now int64, v float32, night bool) {
	if p.Slot == 0 {
		p.Slot = floor(now)
	}
	x, i := packed(float64(v)), place(p.Slot)
	switch e := p.Extreme[i]; {
	case e == missing || night && !p.Night || night && x < e || !night && !p.Night && x > e:
		p.Extreme[i] = x
	}
	p.Night = p.Night || night
}

// at is the temperature at a past moment; NaN: not known.
func (p *past) at(when int64) float64 {
	n := floor(when)
	a, b := p.value(n), p.value(n+1)
	return a + float64(when-n*slot)/slot*(b-a)
}

func (p *past) value(n int64) float64 {
	if n > p.Slot || n <= p.Slot-kept {
		return math.NaN()
	}
	return unpacked(p.Values[place(n)])
}

// extremeOf is the highest of a past day, or the lowest of a past night, and when
// it was; false: too much of it was not heard.
func (p *past) extremeOf(from, until int64, night bool) (best float64, when int64, known bool) {
	gone, of := 0, 0
	for n := floor(from); n*slot < until; n++ {
		of++
		v := math.NaN()
		if n < p.Slot && n > p.Slot-kept {
			v = unpacked(p.Extreme[place(n)])
		}
		switch {
		case v != v:
			gone++
		case when == 0 || night && v < best || !night && v > best:
			best, when = v, n*slot+slot/2
		}
	}
	return best, when, gone*8 <= of && when != 0
}
