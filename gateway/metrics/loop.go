package metrics

import (
	"strconv"

	"telltale/alarms"
)

// joules in a kWh.
const joules = 3.6e6

// loopFamilies are the metric names of a ground loop.
type loopFamilies struct {
	running, better, ground, effectiveness, watts *family
	heat, cold, watched, moisture, wet, dried     *family
	fan, run                                      *family
}

func newLoopFamilies(b *builder) loopFamilies {
	pipe := []string{"house", "place", "depth_meters"}
	return loopFamilies{
		running:       b.gauge("loop_fan_running", "Whether the fan of the ground loop runs (1) or stands (0); left out when not known.", "house"),
		better:        b.gauge("loop_depth_better", "Whether this depth of the ground loop is the better one now (1).", pipe...),
		ground:        b.gauge("loop_ground_celsius", "Temperature that the undisturbed ground should have at the depth of a pipe now.", pipe...),
		effectiveness: b.gauge("loop_effectiveness_ratio", "Share of the difference between house and ground that a pipe gives to the air, where they differ enough.", pipe...),
		watts:         b.gauge("loop_heat_watts", "Warmth that a pipe of the ground loop brings into the house, negative for cold; without what its moisture carries.", pipe...),
		moisture:      b.gauge("loop_moisture_watts", "Heat that the moisture of a pipe's air carries into the house, negative where it dries it; it warms nothing until it condenses.", pipe...),
		wet:           b.counter("loop_moisture_in_joules_total", "Heat that moisture from a pipe of the ground loop has carried into the house.", pipe...),
		dried:         b.counter("loop_moisture_out_joules_total", "Heat that moisture has carried out of the house into a pipe of the ground loop.", pipe...),
		heat:          b.counter("loop_heat_joules_total", "Warmth that a pipe of the ground loop has brought into the house.", pipe...),
		cold:          b.counter("loop_cold_joules_total", "Warmth that a pipe of the ground loop has taken out of the house.", pipe...),
		watched:       b.counter("loop_watched_seconds_total", "Time over which it was known what a pipe of the ground loop brings.", pipe...),
		fan:           b.counter("loop_fan_joules_total", "Energy that the fan of the ground loop has drawn, where known.", "house"),
		run:           b.counter("loop_fan_run_seconds_total", "Time for which the fan of the ground loop was seen to run.", "house"),
	}
}

// loop shows what holds now unless the watch stands still, and sums in any
// case.
func (s *scrape) loop(house string, l *alarms.LoopPicture) {
	if l == nil {
		return
	}
	f := &s.families.loop
	if l.Known && !s.stalled {
		s.flag(f.running, l.Running, house)
	}
	s.put(f.fan, l.Total.Fan*joules, house)
	s.put(f.run, l.Total.Run.Seconds(), house)
	for i := range l.Pipes {
		p := &l.Pipes[i]
		depth := strconv.FormatFloat(p.Depth, 'f', -1, 64)
		s.put(f.heat, p.Total.Heat*joules, house, string(p.Outlet), depth)
		s.put(f.cold, p.Total.Cold*joules, house, string(p.Outlet), depth)
		s.put(f.wet, p.Total.Wet*joules, house, string(p.Outlet), depth)
		s.put(f.dried, p.Total.Dried*joules, house, string(p.Outlet), depth)
		s.put(f.watched, p.Total.Watched.Seconds(), house, string(p.Outlet), depth)
		if s.stalled {
			continue
		}
		s.flag(f.better, l.Better != nil && *l.Better == p.Depth, house, string(p.Outlet), depth)
		for _, one := range []struct {
			family *family
			value  *float64
		}{{f.ground, p.Ground}, {f.effectiveness, p.Effectiveness}, {f.watts, p.Watts}, {f.moisture, p.Moisture}} {
			if one.value != nil {
				s.put(one.family, *one.value, house, string(p.Outlet), depth)
			}
		}
	}
}
