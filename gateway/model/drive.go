package model

import "time"

// thermostat is a mechanical one: a bulb with a lag, a dial and a differential.
type thermostat struct {
	dial         float64 // °C, where it switches on when it cools, off when it heats
	differential float64 // K
	heats        bool
	on           bool
}

// feel lets the thermostat judge the temperature of its bulb.
func (t *thermostat) feel(bulb float64) {
	upper, lower := bulb >= t.dial, bulb <= t.dial-t.differential
	switch {
	case t.heats && lower, !t.heats && upper:
		t.on = true
	case t.heats && upper, !t.heats && lower:
		t.on = false
	}
}

const (
	bulbLag      = 60.0 // s
	usualDrift   = 3.0  // K, of a dial that has drifted
	shutterSwing = 30.0 // s from closed to open; a spring closes it as slowly
)

// controls are the thermostats and drives of a house.
type controls struct {
	bulb                     float64 // °C
	cool, loopCool, loopHeat thermostat
	heat                     thermostat
	fanCircuit, loopCircuit  string
	fan, loop, heater        bool       // what runs
	fanSpeed                 float64    // share of the full one
	fast                     thermostat // of a fan of two speeds, that switches the higher one
	twoSpeeds                bool
	drift                    float64 // K, of a dial that has drifted
	covered                  bool    // vents covered for the winter
	shutter                  float64
	coverFrom, coverTo       calendar // vents covered
	shadeFrom, shadeTo       calendar // shading up
	shade                    float64  // share of the light it keeps out
	alwaysLoop               bool     // the loop fan runs without a thermostat in winter
}

// calendar is a day in any year.
type calendar struct {
	month time.Month
	day   int
}

// between reports whether at lies from one day of the year to before another,
// over the turn of the year if need be.
func between(at time.Time, from, to calendar) bool {
	key := func(c calendar) int { return int(c.month)*100 + c.day }
	now := key(calendar{at.Month(), at.Day()})
	if key(from) <= key(to) {
		return now >= key(from) && now < key(to)
	}
	return now >= key(from) || now < key(to)
}

// run lets thermostats and drives act for some seconds in air of a given
// temperature, and says what that makes of the house.
func (c *controls) run(at time.Time, air float64, broken func(Kind) bool, live func(circuit string) bool, seconds float64) setting {
	c.bulb += (air - c.bulb) * min(1, seconds/bulbLag)
	bulb := c.bulb
	if broken(DialDrifted) {
		bulb -= c.drift
	}
	c.cool.feel(bulb)
	c.fast.feel(bulb)
	for _, t := range []*thermostat{&c.loopCool, &c.loopHeat, &c.heat} {
		t.feel(c.bulb)
	}
	s := setting{covered: between(at, c.coverFrom, c.coverTo)}
	if between(at, c.shadeFrom, c.shadeTo) {
		s.shade = c.shade
	}
	c.covered = s.covered
	called := c.cool.on && !s.covered && live(c.fanCircuit)
	c.fan = (called || broken(FanStuckOn) && live(c.fanCircuit)) && !broken(FanDead)
	c.fanSpeed = c.speed()
	c.move(called, broken, seconds)
	wanted := c.loopCool.on || c.loopHeat.on || s.covered && c.alwaysLoop
	c.loop = wanted && live(c.loopCircuit) && !broken(LoopFanDead)
	c.heater = c.heat.on && live(c.loopCircuit) && !broken(HeaterDead)
	s.fan, s.shutter, s.loop, s.heater = c.fanSpeed, c.shutter, c.loop, c.heater
	return s
}

// speed is the share of its full speed at which the exhaust fan turns.
func (c *controls) speed() float64 {
	switch {
	case !c.fan:
		return 0
	case c.twoSpeeds && !c.fast.on:
		return 0.5
	}
	return 1
}

// fit sets the dials as the garden is fitted.
func (c *controls) fit(f Fitted) {
	for _, t := range []*thermostat{&c.cool, &c.loopCool, &c.loopHeat, &c.heat} {
		t.dial += f.Off
	}
	if f.Drift > 0 {
		c.drift = f.Drift
	}
}

// split gives the exhaust fan two speeds.
func (c *controls) split() {
	c.twoSpeeds, c.fast = true, c.cool
	c.fast.dial += SecondStage
}

// move turns the shutter towards where it is wanted, unless it is stuck.
func (c *controls) move(open bool, broken func(Kind) bool, seconds float64) {
	step := seconds/shutterSwing + 1e-9 // six steps of 5 s shall do
	switch {
	case broken(ShutterStuckClosed):
		c.shutter = 0
	case broken(ShutterStuckOpen):
		c.shutter = 1
	case open:
		c.shutter = min(1, c.shutter+step)
	default:
		c.shutter = max(0, c.shutter-step)
	}
}
