package alarms_test

import (
	"reflect"
	"testing"

	"telltale/alarms"
)

// A limit within the tolerance of what switches on first is too near; a second stage, one of
// another season or another place, and a limit that is further away are not.
func TestNear(t *testing.T) {
	stage := func(name string, mode alarms.Mode, at float64, seasons ...alarms.Season) alarms.Stage {
		return alarms.Stage{Name: name, Mode: mode, SetPoint: at, Tolerance: 1.5, Seasons: seasons}
	}
	hot, cold := stage("hot", alarms.Cooling, 30), stage("cold", alarms.Heating, 6.5)
	nightly := cold
	nightly.SetPointNight = alarms.At(4)
	for name, c := range map[string]struct {
		stages []alarms.Stage
		limits alarms.Limits
		place  alarms.PlaceID
		part   alarms.Daypart
		want   []alarms.Near
	}{
		"on the tolerance":     {[]alarms.Stage{hot}, alarms.Limits{High: alarms.At(31.5)}, "bench", alarms.Day, []alarms.Near{{"dial", "hot", alarms.HighSide, 31.5, 31.5}}},
		"beyond the tolerance": {[]alarms.Stage{hot}, alarms.Limits{High: alarms.At(31.6)}, "bench", alarms.Day, nil},
		"only the worst limit": {[]alarms.Stage{hot}, alarms.Limits{HighHigh: alarms.At(31)}, "bench", alarms.Day, []alarms.Near{{"dial", "hot", alarms.HighSide, 31.5, 31}}},
		"the first stage helps": {[]alarms.Stage{stage("hotter", alarms.Cooling, 34), stage("warm", alarms.Cooling, 26)}, alarms.Limits{High: alarms.At(32)},
			"bench", alarms.Day, nil},
		"another season":  {[]alarms.Stage{stage("hot", alarms.Cooling, 33, alarms.SeasonWinter)}, alarms.Limits{High: alarms.At(32)}, "bench", alarms.Day, nil},
		"another place":   {[]alarms.Stage{hot}, alarms.Limits{High: alarms.At(30)}, "ridge", alarms.Day, nil},
		"no limit":        {[]alarms.Stage{hot, cold}, alarms.Limits{}, "bench", alarms.Day, nil},
		"cold":            {[]alarms.Stage{cold}, alarms.Limits{Low: alarms.At(5)}, "bench", alarms.Day, []alarms.Near{{"dial", "cold", alarms.LowSide, 5, 5}}},
		"colder by night": {[]alarms.Stage{nightly}, alarms.Limits{Low: alarms.At(3)}, "bench", alarms.Night, []alarms.Near{{"dial", "cold", alarms.LowSide, 2.5, 3}}},
		"not by day":      {[]alarms.Stage{nightly}, alarms.Limits{Low: alarms.At(3)}, "bench", alarms.Day, nil},
	} {
		p := alarms.Place{ID: c.place, Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: c.limits}}}
		h := alarms.House{Controls: []alarms.Control{{ID: "dial", Place: "bench", Stages: c.stages}}}
		if got := h.Near(&p, alarms.SeasonOpen, c.part); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: got %+v, want %+v", name, got, c.want)
		}
	}
}
