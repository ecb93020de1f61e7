package gateway

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/gateway/model"
)

// witness looks at the truth and finds when a fault becomes knowable: the first
// moment at which what the drive really does has been, for all the time that
// the plan allows, what no right mechanism would do. A right mechanism is a
// thermostat anywhere within the tolerance of its dial, as a probe shows it, or
// the season.
//
//   - fan-dead, heater-dead, loop-fan-dead: it is called and stands, for the lag
//     of the bulb and its Start; where the season wants it always, for its Start.
//   - fan-stuck-on: it is not called and turns, for the lag and its Stop; barred
//     by the season, for its Stop.
//   - shutter-stuck-closed: it is not open while the fan turns, for its Start.
//   - shutter-stuck-open: it is open while the fan stands and is not called, for
//     the lag and its Stop; barred by the season, for its Stop.
//   - breaker-tripped: as long as the slowest probe of the circuit may be silent.
//   - dial-drifted: the drifted dial has switched six times the same way, as few
//     as a switch point can be judged by.
//
// Where probes report seldom, two reports more, and what must be open while a
// fan turns must be called: between two reports the fan may have stood.
type witness struct {
	draw   *trialDraw
	house  *alarms.House
	drive  *alarms.Drive // that the fault is in; nil for a breaker
	dial   dialBounds
	known  time.Time    // zero: not yet
	wrong  [2]time.Time // since when it stands, or runs, as it should not; zero: it does not
	ran    bool
	turned [2]int // stops and starts by the drifted dial
}

// driftTurns is how many switchings show where a dial switches.
const driftTurns = 6

// probeMost is how far a probe is off at most, K.
const probeMost = 0.25

// dialBounds is the two thermostats at the ends of the tolerance of the dials
// that drive something: what both do, every one in between does.
type dialBounds struct {
	stages      []alarms.Stage
	early, late []bool // the ones that call first and last call
	// seldom: readings are far apart, and do not tell what was in between; what is
	// within the differential is then neither called nor idle.
	seldom bool
}

// feel lets the thermostats feel a temperature in °C, and says whether all
// that are right call, or none does.
func (b *dialBounds) feel(celsius float64) (called, idle bool) {
	idle = true
	for i, s := range b.stages {
		over, tolerance := celsius-s.SetPoint, s.Tolerance+probeMost
		if s.Mode == alarms.Heating {
			over = -over
		}
		b.early[i] = over >= -tolerance || b.early[i] && over > -tolerance-s.Differential
		b.late[i] = over >= tolerance || b.late[i] && over > tolerance-s.Differential
		if b.seldom {
			b.late[i], b.early[i] = over >= tolerance, over > -tolerance-s.Differential
		}
		called, idle = called || b.late[i], idle && !b.early[i]
	}
	return called, idle
}

// faultDrives says which kind of drive a fault is in.
var faultDrives = map[model.Kind]alarms.DriveKind{
	model.FanDead: alarms.ExhaustFan, model.FanStuckOn: alarms.ExhaustFan, model.DialDrifted: alarms.ExhaustFan,
	model.ShutterStuckClosed: alarms.IntakeShutter, model.ShutterStuckOpen: alarms.IntakeShutter,
	model.LoopFanDead: alarms.LoopFan, model.HeaterDead: alarms.Heater,
}

func newWitness(d *trialDraw) *witness {
	w := &witness{draw: d}
	for i := range d.plan.Houses {
		if d.plan.Houses[i].ID == d.fault.House {
			w.house = &d.plan.Houses[i]
		}
	}
	var with []alarms.DriveID // the drive and the fan that it opens for
	for i := range w.house.Drives {
		if dr := &w.house.Drives[i]; dr.Kind == faultDrives[d.fault.Kind] {
			w.drive, with = dr, append(with, dr.ID)
		}
	}
	for _, dr := range w.house.Drives {
		if w.drive != nil && slices.Contains(dr.With, w.drive.ID) {
			with = append(with, dr.ID)
		}
	}
	for _, c := range w.house.Controls {
		for _, s := range c.Stages {
			acts := len(s.Seasons) == 0 || slices.Contains(s.Seasons, d.season)
			if acts && slices.ContainsFunc(s.Drives, func(id alarms.DriveID) bool { return slices.Contains(with, id) }) {
				w.dial.stages = append(w.dial.stages, s)
			}
		}
	}
	w.dial.seldom = d.fitted.Every > 0
	w.dial.early, w.dial.late = make([]bool, len(w.dial.stages)), make([]bool, len(w.dial.stages))
	return w
}

// see looks at the truth; the looks must follow each other closely.
func (w *witness) see(t model.Truth) {
	h := t.House(w.draw.fault.House)
	called, idle := w.dial.feel(h.Temperature)
	if t.At.Before(w.draw.began) || !t.At.Before(w.draw.ended) {
		w.wrong, w.ran = [2]time.Time{}, h.Fan
		return
	}
	switch w.draw.fault.Kind {
	case model.BreakerTripped:
		w.hold(t.At, 0, true, w.silence(), w.draw.began)
	case model.DialDrifted:
		w.countTurns(t.At, h)
	default:
		w.compare(t.At, h, called, idle)
	}
}

// compare holds what the drive does against what every right mechanism does.
func (w *witness) compare(at time.Time, h model.HouseTruth, called, idle bool) {
	runs := map[alarms.DriveKind]bool{alarms.ExhaustFan: h.Fan, alarms.IntakeShutter: h.Shutter > 0.95,
		alarms.LoopFan: h.Loop, alarms.Heater: h.Heater}[w.drive.Kind]
	lag := control.DefaultLag
	barred := slices.Contains(w.drive.Barred, w.draw.season)
	always := slices.ContainsFunc(w.drive.Runs, func(r alarms.Run) bool { return r.Season == w.draw.season && r.On })
	switch {
	case barred:
		called, idle, lag = false, true, 0
	case always:
		called, idle, lag = true, false, 0
	case w.drive.Kind == alarms.IntakeShutter && h.Fan && w.draw.fitted.Every == 0:
		called, idle, lag = true, false, 0
	}
	lag += 2 * w.draw.fitted.Every // until a reading of the air and one of the drive show it
	w.hold(at, 0, called && !runs, lag+w.drive.Start, at)
	w.hold(at, 1, idle && runs, lag+w.drive.Stop, at)
}

// hold notes since when something is wrong, and that it is knowable when that
// has lasted.
func (w *witness) hold(at time.Time, which int, wrong bool, grace time.Duration, since time.Time) {
	switch {
	case !wrong:
		w.wrong[which] = time.Time{}
	case w.wrong[which].IsZero():
		w.wrong[which] = since
	}
	if wrong && at.Sub(w.wrong[which]) >= grace {
		w.known = at
	}
}

// silence is how long the slowest probe of the circuit may be silent.
func (w *witness) silence() (longest time.Duration) {
	for _, pr := range fedBy(w.house, w.draw.fault.Circuit) {
		longest = max(longest, time.Duration(pr.MissesAllowed*float64(pr.Every)))
	}
	return longest
}

func (w *witness) countTurns(at time.Time, h model.HouseTruth) {
	if h.Fan == w.ran {
		return
	}
	w.ran = h.Fan
	which := 0
	if h.Fan {
		which = 1
	}
	if w.turned[which]++; w.turned[which] == driftTurns {
		w.known = at
	}
}
