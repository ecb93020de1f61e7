package thermostat

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// House is what a Thermostat asks of its house.
type House interface {
	Plan() *alarms.House
	// All are the thermostats of the house.
	All() []*Thermostat
	Season() alarms.Season
	// Position is the one in which a selector is, by its place in the plan; nil: not known.
	Position(selector int) *alarms.Position
	// Cover is what is known of the cover on the vent of a drive.
	Cover(of alarms.DriveID) (known, on bool)
	Place(id alarms.PlaceID) Place
	// About reports whether it is day, and whether night, within a time of a moment.
	About(now timing.Instant, within time.Duration) (day, night bool)
	// Needs is what the house needs now, air or warmth, by its dials and its limits.
	Needs() control.Sign
	// Outlets says whether air from the pipes of its loop is like that of the house.
	Outlets() control.Sign
	// Lost reports whether the circuit of a drive is lost.
	Lost(d *alarms.Drive) bool
	// Unfed names the alarm that tells that the circuit of d is lost, "" for none, or was
	// until just now: then d has until starts, else 0, to start.
	Unfed(d *alarms.Drive, now timing.Instant) (by alarms.AlarmID, starts timing.Instant)
	// InHand is the time in hand while what a drive should do is not done.
	InHand(d *alarms.Drive) lifecycle.Hand
	// Every is how often a probe reports by the plan, 0 where that is not given.
	Every(id alarms.ProbeID) time.Duration
	// Show gives what a stream says to ev from now on.
	Show(id alarms.ProbeID, q alarms.Quantity, ev Evidence)
	// Alarm makes an alarm of the house, LateAlarm one with a reserved Order while it is at work.
	Alarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm
	LateAlarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm
	// Restate has Respeak called at the end of the instant.
	Restate(m *Thermostat)
}

// Place is where something of a Thermostat hangs.
type Place interface {
	Plan() *alarms.Place
	// Mean is what is believed of q there, NaN where nothing is.
	Mean(q alarms.Quantity) float64
	// Bounds are the low and the high limit of q there now, NaN for none.
	Bounds(q alarms.Quantity) (low, high float64)
	// Present is the newest value of q there.
	Present(q alarms.Quantity) alarms.Present
}

// Evidence says of which drive a reading is evidence, and which of its.
type Evidence struct {
	m     *Thermostat
	drive int
	index int
}

// Take takes what the evidence says now, NaN for nothing.
func (ev Evidence) Take(v float64, now timing.Instant) {
	ev.m.tell(ev.m.judge.Evidence(now, ev.drive, ev.index, v), now)
}

// Seen is what value v of a contact says of the drive.
func (ev Evidence) Seen(v float64) *alarms.Seen {
	d := ev.m.drives[ev.drive]
	return &alarms.Seen{Kind: d.Kind, Runs: (v >= control.Closed) != d.Evidence[ev.index].Inverted}
}
