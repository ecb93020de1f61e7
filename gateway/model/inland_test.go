package model

import (
	"math"
	"testing"
	"time"
)

// The cold interior goes from below -37 °C outside in January to over 38 °C in
// the house in July, and its year swings 18 K about 6 °C.
func TestInlandGoesFromHardFrostToHeat(t *testing.T) {
	c, coldest, sum := inlandClimate(), math.Inf(1), 0.0
	january := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for seed := range uint64(20) {
		for hour := range 31 * 24 {
			at := january.Add(time.Duration(hour) * time.Hour)
			coldest = math.Min(coldest, c.at(seed, Weather{Warmer: -4, Swing: 1.4}, at).air.temperature)
		}
	}
	if coldest > -37 || coldest < -50 {
		t.Errorf("the coldest hour of 20 Januaries has %.1f °C, want it below -37 and above -50", coldest)
	}
	for day := range 365 {
		sum += c.at(1, Weather{}, january.AddDate(0, 0, day)).air.temperature + c.at(1, Weather{}, january.AddDate(0, 0, day).Add(12*time.Hour)).air.temperature
	}
	near(t, "mean of a year", sum/730, 6, 2)
	s, err := Tell(Story{Start: time.Date(2026, 7, 14, 0, 0, 0, 0, time.UTC), Weather: Weather{Warmer: 4, Swing: 1.2}, Fitted: Fitted{Inland: true}}, 7)
	if err != nil {
		t.Fatal(err)
	}
	hottest := math.Inf(-1)
	for range 24 {
		s.Advance(s.now.Add(time.Hour))
		hottest = math.Max(hottest, s.Truth().House("long-house").Temperature)
	}
	if hottest < 38 || hottest > 50 {
		t.Errorf("the house comes to %.1f °C on a July day, want over 38", hottest)
	}
}
