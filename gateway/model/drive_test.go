package model

import (
	"math"
	"testing"
	"time"
)

func TestThermostat(t *testing.T) {
	cool := thermostat{dial: 29.5, differential: 2.8}
	heat := thermostat{dial: 9, differential: 2, heats: true}
	for _, c := range []struct {
		at         float64
		cool, heat bool
	}{{20, false, false}, {29.4, false, false}, {29.5, true, false}, {27, true, false}, {26.7, false, false}, {28, false, false},
		{7.1, false, false}, {7, false, true}, {8.9, false, true}, {9, false, false}} {
		cool.feel(c.at)
		heat.feel(c.at)
		if cool.on != c.cool || heat.on != c.heat {
			t.Errorf("at %v °C: cooling %v heating %v, want %v %v", c.at, cool.on, heat.on, c.cool, c.heat)
		}
	}
}

func TestCalendar(t *testing.T) {
	from, to := calendar{time.November, 25}, calendar{time.March, 15}
	for date, want := range map[string]bool{"2026-11-24": false, "2026-11-25": true, "2026-01-01": true, "2026-03-14": true, "2026-03-15": false, "2026-07-01": false} {
		at, err := time.Parse(time.DateOnly, date)
		if err != nil {
			t.Fatal(err)
		}
		if between(at, from, to) != want {
			t.Errorf("%s: want %v", date, want)
		}
		if between(at, to, from) == want {
			t.Errorf("%s: the other half of the year must be the contrary", date)
		}
	}
}

// runControls lets the controls of Long House act for a time in warm air.
func runControls(c *controls, air float64, seconds int, bad ...Kind) setting {
	broken := func(k Kind) bool {
		for _, b := range bad {
			if b == k {
				return true
			}
		}
		return false
	}
	live := func(string) bool { return !broken(BreakerTripped) }
	var s setting
	for range seconds / 5 {
		s = c.run(time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC), air, broken, live, 5)
	}
	return s
}

func TestFanAndShutterGoTogether(t *testing.T) {
	c := longHouseControls()
	c.bulb = 31
	if s := runControls(&c, 31, 15); s.fan == 0 || s.shutter < 0.4 || s.shutter > 0.6 {
		t.Errorf("after 15 s: fan %v shutter %v, want on and about half open", s.fan, s.shutter)
	}
	if s := runControls(&c, 31, 15); s.shutter != 1 {
		t.Errorf("after 30 s: shutter %v, want open", s.shutter)
	}
	if s := runControls(&c, 20, 300); s.fan > 0 || s.shutter != 0 {
		t.Errorf("cool again: fan %v shutter %v, want off and closed", s.fan, s.shutter)
	}
}

func TestBrokenDrives(t *testing.T) {
	for _, c := range []struct {
		bad     Kind
		fan     bool
		shutter float64
		loop    bool
	}{{FanDead, false, 1, true}, {ShutterStuckClosed, true, 0, true}, {LoopFanDead, true, 1, false}, {BreakerTripped, false, 0, false}} {
		k := longHouseControls()
		k.bulb = 31
		s := runControls(&k, 31, 60, c.bad)
		if (s.fan > 0) != c.fan || s.shutter != c.shutter || s.loop != c.loop {
			t.Errorf("%s: fan %v shutter %v loop %v, want %v %v %v", c.bad, s.fan, s.shutter, s.loop, c.fan, c.shutter, c.loop)
		}
	}
	w := longHouseControls()
	if s := runControls(&w, 15, 60, FanStuckOn); s.fan == 0 || s.shutter != 0 {
		t.Error("a fan whose relay has welded pulls on the closed shutter")
	}
	d := longHouseControls()
	d.bulb = 32
	if s := runControls(&d, 32, 60, DialDrifted); s.fan > 0 {
		t.Error("a dial that has drifted by 3 K must not call at 32 °C")
	}
	if s := runControls(&d, 33, 300, DialDrifted); s.fan == 0 {
		t.Error("a dial that has drifted by 3 K calls at 32.5 °C")
	}
	k := longHouseControls()
	if s := runControls(&k, 15, 60, ShutterStuckOpen); s.fan > 0 || s.shutter != 1 {
		t.Error("a shutter stuck open stays open without a fan")
	}
}

// The second speed comes with the second stage, and the dial is off by what the
// garden says.
func TestAFanOfTwoSpeeds(t *testing.T) {
	for _, c := range []struct{ air, speed float64 }{{29, 0}, {30.4, 0}, {30.6, 0.5}, {32.9, 0.5}, {33.1, 1}} {
		k := longHouseControls()
		k.fit(Fitted{Off: 1})
		k.split()
		k.bulb = c.air
		if s := runControls(&k, c.air, 60); s.fan != c.speed || s.shutter != math.Ceil(c.speed) {
			t.Errorf("at %.1f °C: fan at %v of its speed, shutter %v, want %v", c.air, s.fan, s.shutter, c.speed)
		}
	}
}

func TestVentsAreCoveredInWinter(t *testing.T) {
	c := longHouseControls()
	c.bulb = 35
	no, yes := func(Kind) bool { return false }, func(string) bool { return true }
	s := c.run(time.Date(2026, 12, 24, 12, 0, 0, 0, time.UTC), 35, no, yes, 5)
	if s.fan > 0 || s.shutter != 0 || !s.covered || !s.loop || s.shade != 0 {
		t.Errorf("got %+v, want covered vents, loop fan alone, no shading", s)
	}
}
