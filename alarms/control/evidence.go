package control

import (
	"slices"
	"time"

	"telltale/alarms/timing"
)

// Shown is what the evidence shows of a drive.
type Shown uint8

// What is shown.
const (
	Unknown Shown = iota
	Standing
	Running
)

const (
	backShare = 0.1 // of Above by which a current or power must fall to show standing
	backDuct  = 0.5 // K, the same for a duct

	longSilent = 24 * time.Hour // what shows running and was not heard since says nothing
)

// said is the last reading of one evidence.
type said struct {
	Known bool           `json:"known,omitempty"`
	Runs  bool           `json:"runs,omitempty"`
	Value float64        `json:"value,omitempty"`
	When  timing.Instant `json:"when,omitempty"`
	Top   float64        `json:"top,omitempty"` // the highest value of a speed or position

	Gap time.Duration `json:"gap,omitempty"` // since the reading before
	// Prompt says that its last change was heard well before its time: it is sent
	// on change too.
	Prompt bool `json:"prompt,omitempty"`
}

func (e *said) forget() { *e = said{Top: e.Top, Prompt: e.Prompt} }

func (e *said) take(now timing.Instant, spec *EvidenceSpec, v float64) {
	if !finite(v) {
		e.forget()
		return
	}
	if spec.What == Moving {
		e.Top = max(e.Top, v)
	}
	back := 0.0 // a deadband, so that noise at Above makes no starts
	switch spec.What {
	case Current, Power, Moving:
		back = backShare * spec.Above
	case Duct:
		back = backDuct
	}
	edge := spec.Above
	switch {
	case e.Runs && spec.Inverted:
		edge += back
	case e.Runs:
		edge -= back
	}
	gap, runs, prompt := time.Duration(0), (v >= edge) != spec.Inverted, e.Prompt
	if e.Known {
		gap = now.Since(e.When)
		if runs != e.Runs {
			prompt = gap < spec.Every/2
		}
	}
	*e = said{Known: true, Runs: runs, Value: v, When: now, Top: e.Top, Gap: gap, Prompt: prompt}
}

// shown is what all evidence of a drive says, and what was taken from it.
type shown struct {
	Evidence []said `json:"evidence,omitempty"` // in order of trust
	State    Shown  `json:"state,omitempty"`
	Source   int    `json:"source"` // index of the evidence that says State
}

// meters are what shows whether a drive runs.
type meters struct {
	*shown
	specs []EvidenceSpec
}

// take takes a reading of one of them and reports whether what it says is another.
func (m meters) take(now timing.Instant, index int, v float64) bool {
	e := &m.Evidence[index]
	runs, known := e.Runs, e.Known
	e.take(now, &m.specs[index], v)
	return e.Known != known || e.Runs != runs
}

// read returns what the first known evidence says, and whether a change of it was
// seen to happen: what is because other evidence has to speak was not.
func (m meters) read() (state Shown, seen bool) {
	was := m.Source
	m.Source = slices.IndexFunc(m.Evidence, func(e said) bool { return e.Known })
	switch {
	case m.Source < 0:
	case m.Evidence[m.Source].Runs:
		state = Running
	default:
		state = Standing
	}
	return state, m.Source == was && m.State != Unknown
}

func (m meters) forget() {
	for i := range m.Evidence {
		m.Evidence[i].forget()
	}
}

// disbelieve forgets an evidence that shows running, and has not been heard for a
// day, where nothing says how often it should be: a meter that died while the fan
// ran would show it running for ever. That something stands is believed on: of a dead
// meter as of a dead fan somebody then hears. It reports whether there was one.
func (m meters) disbelieve(now timing.Instant) bool {
	for i := range m.Evidence {
		if e := &m.Evidence[i]; e.Known && e.Runs && m.specs[i].Every == 0 && now.Since(e.When) > longSilent {
			e.forget()
			return true
		}
	}
	return false
}

// every is the time between two readings of one; 0 where it is not known, or where a
// change is heard at once.
func (m meters) every(index int) time.Duration {
	if index < 0 || m.Evidence[index].Prompt {
		return 0
	}
	return m.specs[index].Every
}

// heard returns when one was last heard; of what is heard as soon as it changes, now.
func (m meters) heard(now timing.Instant, index int) timing.Instant {
	if m.every(index) == 0 {
		return now
	}
	return m.Evidence[index].When
}

// blurred reports whether what shows the drive may be heard later than within after it
// changed.
func (m meters) blurred(within time.Duration) bool { return m.every(m.Source) > within }

// blur is by how much later than it happened the last change may have been seen: it
// is read so seldom.
func (m meters) blur() time.Duration {
	if m.Source < 0 {
		return 0
	}
	return m.Evidence[m.Source].Gap
}

// contradicts returns the first evidence that contradicts the state, -1 for
// none.
func (m meters) contradicts() int {
	return slices.IndexFunc(m.Evidence, func(e said) bool { return e.Known && e.Runs != (m.State == Running) })
}

// moves returns the speed or position that shows how fast the drive runs.
func (m meters) moves() (e said, known bool) {
	for i, e := range m.Evidence {
		if e.Known && m.specs[i].What == Moving {
			return e, true
		}
	}
	return said{}, false
}

// signs are what the evidence says that is known.
func (m meters) signs() (s Sign) {
	for i, e := range m.Evidence {
		what := m.specs[i].What
		switch {
		case !e.Known:
		case what.electric() && !e.Runs:
			s |= DrawsNothing
		case what == Contact && e.Runs:
			s |= ContactMade
		case what == Contact:
			s |= ContactOpen
		}
	}
	return s
}
