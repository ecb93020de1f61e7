package alarms

import (
	"slices"
	"time"

	"telltale/alarms/control"
)

// unprovenAfter is how long a drive may go without having been seen to switch
// as it should, or tested by hand, until its sentence says so.
const unprovenAfter = 14 * 24 * time.Hour

// DriveState is what the evidence shows of a drive.
type DriveState string

// States of a drive.
const (
	DriveUnknown  DriveState = "unknown"
	DriveStanding DriveState = "standing" // of a shutter: shut
	DriveRunning  DriveState = "running"  // of a shutter: open
)

// DrivePicture is one drive, and what speaks for it.
type DrivePicture struct {
	ID        DriveID    `json:"id"`
	Name      string     `json:"name"`
	Kind      DriveKind  `json:"kind"`
	State     DriveState `json:"state"`
	Does      string     `json:"does"`            // State in a few words: "runs", "is shut", "probably runs"
	Since     time.Time  `json:"since,omitzero"`  // it runs since, as far as it was seen
	Call      string     `json:"call"`            // called, not called, or between
	Wish      string     `json:"wish"`            // of season and selectors, in words
	Timed     bool       `json:"timed,omitempty"` // Call is that of a timer of its own
	Failing   bool       `json:"failing"`         // a verdict speaks against it now
	Evidenced bool       `json:"evidenced"`       // a probe shows whether it runs

	// Inferred is how likely it runs, 0 to 1, from the temperatures alone; nil
	// where that is not inferred. It is no evidence. Guess is what that is worth:
	// unknown while it is not sure enough for a change to be told of.
	Inferred *float64   `json:"inferred,omitempty"`
	Guess    DriveState `json:"guess,omitempty"`

	StartsToday int           `json:"starts_today"`
	RanToday    time.Duration `json:"ran_today_ns"`
	RightToday  int           `json:"right_today"`           // complete switchings as they should be
	FirstToday  time.Time     `json:"first_today,omitzero"`  // start of the first of them
	FirstTemp   *float64      `json:"first_temp,omitempty"`  // °C at it
	StartsTotal int           `json:"starts_total"`          // since the watch counts
	RanTotal    time.Duration `json:"ran_total_ns"`          // since the watch counts
	LastProof   time.Time     `json:"last_proof,omitzero"`   // it last did what it should; zero: never seen to
	LastByHand  time.Time     `json:"last_by_hand,omitzero"` // it was last tested by hand
	Unproven    time.Time     `json:"unproven,omitzero"`     // since then neither, for 14 days or more
	UsualDraw   string        `json:"usual_draw,omitempty"`  // in words, given or learned

	// Trial is what a person shelves who tries something on the drive; TrialBy and
	// TrialUntil say who does so until when, zero for nobody.
	Trial      AlarmID   `json:"trial"`
	TrialBy    string    `json:"trial_by,omitempty"`
	TrialUntil time.Time `json:"trial_until,omitzero"`

	Sentence string `json:"sentence"`
}

// SelectorPicture is one selector switch.
type SelectorPicture struct {
	ID        SelectorID `json:"id"`
	Name      string     `json:"name"`
	At        string     `json:"at"`        // name of the position it is in, as far as is known
	Positions []string   `json:"positions"` // names of all
	Told      string     `json:"told"`      // who tells it: a person, a contact or the season
}

// Who tells the position of a selector.
const (
	ToldByPerson  = "a person"
	ToldByContact = "a contact"
	ToldBySeason  = "the season"
)

// drawDrives draws the drives of h in the order of the plan.
func (e *Engine) drawDrives(h *house) []DrivePicture {
	drawn := map[DriveID]DrivePicture{}
	for _, m := range h.mechanisms {
		for i, d := range m.drives {
			drawn[d.ID] = m.draw(i)
		}
	}
	var all []DrivePicture
	for i := range h.plan.Drives {
		if p, ok := drawn[h.plan.Drives[i].ID]; ok {
			all = append(all, p)
		}
	}
	return all
}

func (m *mechanism) draw(i int) DrivePicture {
	d, proof := m.drives[i], m.judge.Proof(i)
	p := DrivePicture{
		ID: d.ID, Name: d.Name, Kind: d.Kind, State: shownStates[proof.State], Call: proof.Call.String(),
		Wish: m.wish(i, proof.Wish), Timed: proof.Wish == control.ByHours, Failing: m.failing(i) != nil, Evidenced: len(d.Evidence) > 0,
		StartsToday: proof.Today.Starts, RanToday: proof.Today.Ran, RightToday: proof.Today.Right,
		StartsTotal: proof.Total.Starts, RanTotal: proof.Total.Ran,
		LastProof: m.at(proof.Last), LastByHand: m.at(proof.LastByHand), UsualDraw: m.usualDraw(d, proof.Usual),
	}
	if p.Trial = m.log[i].id; m.log[i].State == Shelved {
		p.TrialBy, p.TrialUntil = orSomebody(m.log[i].By), m.at(control.Moment(m.log[i].Until))
	}
	if proof.State == control.Running {
		p.Since = m.at(proof.Since)
	}
	if proof.Today.Right > 0 {
		p.FirstToday, p.FirstTemp = m.at(proof.Today.First), &proof.Today.FirstTemp
	}
	if b, ok := m.belief(i); ok {
		p.Inferred, p.Guess = &b.Running, shownStates[b.Shown()]
	}
	if since, ok := m.judge.Unproven(i, unprovenAfter); ok && p.Evidenced {
		p.Unproven = m.at(since)
	}
	p.Does = p.does()
	p.Sentence = m.driveSentence(i, &p, proof)
	return p
}

var shownStates = map[control.Shown]DriveState{
	control.Unknown: DriveUnknown, control.Standing: DriveStanding, control.Running: DriveRunning,
}

// belief is what the temperatures say of drive i, which nothing else shows; ok
// false where nothing is inferred of it, as without a probe outside, or too little
// was heard for it.
func (m *mechanism) belief(i int) (control.Belief, bool) {
	if m.sense == nil || m.guess != i || m.sense.Last.IsZero() {
		return control.Belief{}, false
	}
	b := m.sense.Belief(m.engine.now.utc())
	return b, b.Outside
}

// failing returns the gravest verdict that speaks against drive i now, nil for
// none.
func (m *mechanism) failing(i int) *control.Finding {
	var worst *control.Finding
	for _, v := range m.order {
		if !v.last.On || v.key.drive != i {
			continue
		}
		if worst == nil || gravityOf(v.key.kind, m.drives[i]) > gravityOf(worst.Kind, m.drives[i]) {
			worst = &v.last
		}
	}
	return worst
}

// usualDraw says what d draws while it runs, by the plan or as learned.
func (m *mechanism) usualDraw(d *Drive, learned float64) string {
	w := m.engine.plan.Words
	i := slices.IndexFunc(d.Evidence, func(ev Evidence) bool { return ev.Quantity == Current || ev.Quantity == Power })
	if i < 0 {
		return ""
	}
	ev := &d.Evidence[i]
	switch low, high := ev.UsualLow, ev.UsualHigh; {
	case low.Set && high.Set:
		return w.Value(ev.Quantity, low.Value) + " to " + w.Value(ev.Quantity, high.Value)
	case low.Set:
		return "at least " + w.Value(ev.Quantity, low.Value)
	case high.Set:
		return "at most " + w.Value(ev.Quantity, high.Value)
	case learned > 0:
		return "about " + w.Value(ev.Quantity, learned)
	}
	return ""
}

// drawSelectors draws the selector switches of h.
func drawSelectors(h *house) []SelectorPicture {
	var all []SelectorPicture
	for i := range h.plan.Selectors {
		s := &h.plan.Selectors[i]
		p := SelectorPicture{ID: s.ID, Name: s.Name, Told: s.told()}
		for _, pos := range s.Positions {
			p.Positions = append(p.Positions, pos.Name)
		}
		if pos := h.position(i); pos != nil {
			p.At = pos.Name
		}
		all = append(all, p)
	}
	return all
}

func (s *Selector) told() string {
	switch {
	case s.Probe != "":
		return ToldByContact
	case slices.ContainsFunc(s.Positions, func(p Position) bool { return len(p.Seasons) > 0 }):
		return ToldBySeason
	}
	return ToldByPerson
}
