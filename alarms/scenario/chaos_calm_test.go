package scenario_test

import (
	"math"
	"time"

	"telltale/alarms"
)

// calm is everything being well: link and probes are there, all is in
// service, nothing is shelved for longer, no trouble, good values. Probes
// that disagreed must agree for a day before that is believed.
func (s *story) calm(ids []alarms.AlarmID) []alarms.Input {
	begin := s.at(s.length + 4)
	var first []alarms.Input
	do := func(in alarms.Input) {
		in.At = begin
		first = append(first, in)
	}
	do(alarms.Input{Kind: alarms.LinkUp})
	for _, id := range append(append([]alarms.AlarmID{}, ids...), alarms.Troubles...) {
		do(alarms.Input{Kind: alarms.PutBack, Alarm: id})
		do(alarms.Input{Kind: alarms.Unshelve, Alarm: id})
		do(alarms.Input{Kind: alarms.TroubleOff, Alarm: id})
	}
	s.calmControls(do)
	s.inputs, s.start, s.length = nil, begin, 4*3600 // what swung must have been quiet for long
	var probes []alarms.Probe
	for _, h := range s.plan.Houses {
		for _, p := range h.Places {
			probes = append(probes, p.Probes...)
			if p.Disagree == nil && len(p.Probes) > 1 {
				s.length = 26 * 3600
			}
		}
	}
	for i, pr := range probes {
		do(alarms.Input{Kind: alarms.PutBack, Probe: pr.ID})
		s.well(pr, i)
		s.provedByHand(pr)
	}
	s.coverAndUncover()
	s.inOrder()
	return append(first, s.inputs...)
}

func (s *story) well(p alarms.Probe, i int) {
	every := int(usual(p).Seconds())
	for t := 5 + i; t < s.length; t += every {
		wiggle := float64((t/every)%3) / 10
		for _, st := range p.Streams {
			v := map[alarms.Quantity]float64{alarms.Temperature: 18, alarms.Humidity: 60, alarms.Surface: 17.5,
				alarms.Battery: 90, alarms.Signal: -50}[st.Quantity]
			if showing(p) {
				v, wiggle = 0, 0
			}
			in := alarms.Input{At: s.at(t), Kind: alarms.ReadingIn, Probe: p.ID, Quantity: st.Quantity, Value: v + wiggle}
			in.Measured = in.At.Add(-time.Second)
			s.inputs = append(s.inputs, in)
		}
	}
}

// usual is how often a probe sends, also one whose interval is to be learned.
func usual(p alarms.Probe) time.Duration {
	if p.Every == 0 {
		return 3 * time.Minute
	}
	return p.Every
}

// calibrates lets people find some probes to be a little off, and one that is
// too far off to be put right.
func (s *story) calibrates() {
	for range s.rnd.IntN(3) {
		probe := pick(s.rnd, pick(s.rnd, pick(s.rnd, s.plan.Houses...).Places...).Probes...)
		s.inputs = append(s.inputs, alarms.Input{At: s.at(s.second()), Kind: alarms.Calibrate, Probe: probe.ID,
			Quantity: pick(s.rnd, probe.Streams...).Quantity, Value: pick(s.rnd, 0, 0.3, -0.3, 0.11, 50, math.NaN()), By: "grower"})
	}
}
