package page

import (
	"fmt"
	"math"
	"sync"
)

// arrangements keep where text was placed, because finding it takes long and
// the same house is drawn again and again. The zero value is ready.
type arrangements struct {
	mu   sync.Mutex
	kept map[string]arrangement
}

// arrangement is where the blocks of one drawing stand.
type arrangement struct {
	sky   float64
	boxes []box
	forms []int
}

const (
	skyStep  = 30.0 // more room above the roof, in steps
	skyCost  = 40.0 // what a step costs
	fewSkies = 3    // tried in any case
	mostSkys = 60   // tried where there is no room else
	mostKept = 64
)

// arrange finds room for all text of what prepare makes with so much more sky.
func (k *arrangements) arrange(prepare func(sky float64) *sketch) (*sketch, bool) {
	first := prepare(0)
	key := first.key()
	k.mu.Lock()
	defer k.mu.Unlock()
	known, ok := k.kept[key]
	if !ok {
		if known, ok = search(prepare); !ok {
			return nil, false
		}
		if k.kept == nil || len(k.kept) >= mostKept {
			k.kept = map[string]arrangement{}
		}
		k.kept[key] = known
	}
	s := first
	if known.sky > 0 {
		s = prepare(known.sky)
	}
	for i, b := range s.blocks {
		b.box, b.form = known.boxes[i], known.forms[i]
	}
	return s, true
}

// search tries several skies and takes the one with which text stands best.
func search(prepare func(sky float64) *sketch) (arrangement, bool) {
	best, found := math.Inf(1), arrangement{}
	for n := range mostSkys {
		if n >= fewSkies && !math.IsInf(best, 1) {
			break
		}
		s := prepare(float64(n) * skyStep)
		if cost := s.canvas.place(s.blocks) + float64(n)*skyCost; cost < best {
			best, found = cost, arrangement{sky: float64(n) * skyStep}
			for _, b := range s.blocks {
				found.boxes, found.forms = append(found.boxes, b.box), append(found.forms, b.form)
			}
		}
	}
	return found, !math.IsInf(best, 1)
}

// key is all that an arrangement follows from.
func (s *sketch) key() string {
	key := fmt.Append(nil, s.form.Width, s.form.Eaves, s.form.Ridge, s.plot, s.canvas.solid, s.canvas.lines)
	for _, b := range s.blocks {
		key = fmt.Append(key, b.at, b.size, b.zone, b.near)
	}
	return string(key)
}
