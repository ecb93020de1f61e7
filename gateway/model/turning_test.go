package model

import (
	"testing"
	"time"
)

// Weather that turns is that of the calendar until hours before, and from its
// moment on exactly what holds always elsewhere; in between it goes by small steps.
func TestWeatherTurns(t *testing.T) {
	from := time.Date(2026, time.July, 14, 0, 0, 0, 0, time.UTC)
	c, hot := thimbleGarthClimate(), Weather{Fixed: true, Wind: 2, Warmer: 4.5}
	turning := hot
	turning.From = from
	last := c.at(7, turning, from.Add(-24*time.Hour))
	for at := from.Add(-24 * time.Hour); at.Before(from.Add(24 * time.Hour)); at = at.Add(time.Minute) {
		got, calendar, fixed := c.at(7, turning, at), c.at(7, Weather{}, at), c.at(7, hot, at)
		if !at.Before(from) && got != fixed || at.Before(from.Add(-6*time.Hour)) && got != calendar {
			t.Fatalf("at %v the weather is %+v, want\n%+v before it turns, and\n%+v after", at, got, calendar, fixed)
		}
		if step := got.air.temperature - last.air.temperature; step > 0.3 || step < -0.3 {
			t.Errorf("at %v the air outside goes by %.2f K in a minute", at, step)
		}
		last = got
	}
}
