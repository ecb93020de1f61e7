package engine

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// pointState is what a snapshot keeps of a point.
type pointState struct {
	Value   float64              `json:"value,omitempty"`
	Has     bool                 `json:"has,omitempty"`
	Words   map[string]savedWord `json:"words,omitempty"` // on whose the alarms rest
	Latches savedLatches         `json:"latches,omitempty"`
}

// savedLatches are latches by the name of what they judge. One that is off and
// waits for nothing is left out.
type savedLatches map[string]savedLatch

// savedLatch is a latch in a snapshot, with what it judges by.
type savedLatch struct {
	timing.LatchState
	By   string        `json:"by,omitempty"`   // the limit, or the siblings; empty in early snapshots
	Wait time.Duration `json:"wait,omitempty"` // the delay before it turns on
}

// Names of the latches of a point.
const (
	latchLow      = "low"
	latchLowLow   = "low-low"
	latchHigh     = "high"
	latchHighHigh = "high-high"
	latchFalling  = "falling"
	latchRising   = "rising"
	latchDiffer   = "differ"
)

// latchesByPosition names what early snapshots kept as a list. Of a point they
// kept the latches of its band, of its rate limit and of its siblings, as far
// as it had them, in this order.
var latchesByPosition = map[int][]string{
	1: {latchDiffer},
	2: {latchFalling, latchRising},
	3: {latchFalling, latchRising, latchDiffer},
	4: {latchLow, latchLowLow, latchHigh, latchHighHigh},
	5: {latchLow, latchLowLow, latchHigh, latchHighHigh, latchDiffer},
	6: {latchLow, latchLowLow, latchHigh, latchHighHigh, latchFalling, latchRising},
	7: {latchLow, latchLowLow, latchHigh, latchHighHigh, latchFalling, latchRising, latchDiffer},
}

// UnmarshalJSON reads latches by name, or those of an early snapshot.
func (s *savedLatches) UnmarshalJSON(b []byte) error {
	if !bytes.HasPrefix(b, []byte("[")) {
		return json.Unmarshal(b, (*map[string]savedLatch)(s))
	}
	var list []timing.LatchState
	if err := json.Unmarshal(b, &list); err != nil {
		return err
	}
	names := latchesByPosition[len(list)]
	if len(list) != len(names) {
		return fmt.Errorf("%d latches of a point, none ever had so many", len(list))
	}
	*s = savedLatches{}
	for i, name := range names {
		(*s)[name] = savedLatch{LatchState: list[i]}
	}
	return nil
}

// namedLatch is a latch and its name in a snapshot.
type namedLatch struct {
	name string
	*timing.Latch
}

func (pt *point) latches() []namedLatch {
	var all []namedLatch
	if pt.banded {
		all = append(all, namedLatch{latchLow, pt.low.outer}, namedLatch{latchLowLow, pt.low.inner},
			namedLatch{latchHigh, pt.high.outer}, namedLatch{latchHighHigh, pt.high.inner})
	}
	if pt.rate != nil {
		all = append(all, namedLatch{latchFalling, pt.falling.latch}, namedLatch{latchRising, pt.rising.latch})
	}
	if pt.differ != nil {
		all = append(all, namedLatch{latchDiffer, pt.differ})
	}
	return all
}

// namedWord is a word and the name of the latch that goes by it.
type namedWord struct {
	name string
	*word
}

// words are whose the alarms of pt are.
func (pt *point) words() []namedWord {
	var all []namedWord
	if pt.banded {
		all = append(all, namedWord{latchLow, &pt.low.word}, namedWord{latchHigh, &pt.high.word})
	}
	if pt.rate != nil {
		all = append(all, namedWord{latchFalling, &pt.falling.word}, namedWord{latchRising, &pt.rising.word})
	}
	return all
}

func (pt *point) save() pointState {
	s := pointState{Value: pt.value, Has: pt.has}
	for _, w := range pt.words() {
		if len(w.by)+len(w.gone) > 0 {
			if s.Words == nil {
				s.Words = map[string]savedWord{}
			}
			s.Words[w.name] = w.save()
		}
	}
	for _, l := range pt.latches() {
		if ls := l.Save(); ls != (timing.LatchState{}) {
			if s.Latches == nil {
				s.Latches = savedLatches{}
			}
			by, wait := pt.judgesBy(l.name)
			s.Latches[l.name] = savedLatch{ls, by, wait}
		}
	}
	return s
}

// load takes what was saved of pt. Under another plan a delay goes on if the
// limit is the same, and begins again if not; an alarm that is on stays on and
// ends by the new limit, unless there is none any more, or what it compares has
// changed.
func (pt *point) load(s pointState, replanned bool) {
	pt.value, pt.has = s.Value, s.Has
	for _, w := range pt.words() {
		*w.word = pt.place.loadWord(s.Words[w.name])
	}
	for _, l := range pt.latches() {
		ls := s.Latches[l.name]
		by, wait := pt.judgesBy(l.name)
		switch {
		case !replanned, ls.By == "" && by != "":
		case by == ls.By && !ls.On && ls.Due != 0:
			ls.Due = ls.Due.Add(wait - ls.Wait)
		case by == ls.By && !ls.On && ls.Left != 0:
			ls.Left = max(ls.Left+wait-ls.Wait, 1)
		case !pt.measured(), by != ls.By && (!ls.On || by == "" || l.name == latchDiffer):
			ls = savedLatch{} // where nothing measures, nobody will ever say that it is over
		}
		l.Load(ls.LatchState)
	}
}

// judgesBy returns what the latch called name goes by now, empty for nothing,
// and the delay before it turns on.
func (pt *point) judgesBy(name string) (by string, wait time.Duration) {
	var l alarms.Limit
	switch b := pt.inForce(); name {
	case latchLow:
		l, wait = b.Low, b.Delay
	case latchLowLow:
		l, wait = b.LowLow, b.QuickDelay
	case latchHigh:
		l, wait = b.High, b.Delay
	case latchHighHigh:
		l, wait = b.HighHigh, b.QuickDelay
	case latchFalling:
		l = pt.falling.limit()
	case latchRising:
		l = pt.rising.limit()
	case latchDiffer:
		return pt.siblings(), pt.place.plan.DisagreeFor
	}
	if !l.Set || !pt.measured() {
		return "", wait
	}
	return strconv.FormatFloat(l.Value, 'g', -1, 64), wait
}

// measured reports whether the plan has what pt is known from.
func (pt *point) measured() bool {
	if !pt.quantity.Derived() {
		return len(pt.streams) > 0
	}
	for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity} {
		if src := pt.place.point(q); src == nil || len(src.streams) == 0 {
			return false
		}
	}
	return true
}

// siblings names the probes that are held against each other, and how far they
// may differ; it is empty where nothing is.
func (pt *point) siblings() string {
	if pt == nil || len(pt.streams) < 2 || pt.mayDiffer() <= 0 {
		return ""
	}
	var all []string
	for _, st := range pt.streams {
		all = append(all, string(st.probe.plan.ID))
	}
	slices.Sort(all)
	return fmt.Sprint(pt.mayDiffer(), all)
}
