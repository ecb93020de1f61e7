package scenario

import (
	"bytes"
	"fmt"

	"telltale/alarms"
)

// loopLine reads what follows "loop": "from bench, fan loop-fan", "soil mean 10,
// swing 8" or "pipe outlet-1: depth 1.5, flow 0.05".
func (p *parser) loopLine(c *cursor) {
	if p.house.Loop == nil {
		p.house.Loop = &alarms.Loop{}
	}
	l := p.house.Loop
	switch {
	case c.take("from"):
		l.House = alarms.PlaceID(c.name("a place"))
		for c.take(",") {
			loopItem(c, l)
		}
	case c.take("soil"):
		l.Soil = readSoil(c)
	case c.take("pipe"):
		l.Pipes = append(l.Pipes, readPipe(c))
	default:
		c.fail("want from, soil or pipe, got %s", c.got())
	}
}

// loopItem reads one of the things said of a loop.
func loopItem(c *cursor, l *alarms.Loop) {
	switch {
	case c.take("fan"):
		l.Fan = alarms.DriveID(c.name("a drive"))
	case c.take("runs", "by"):
		l.Runs = readEvidence(c)
	case c.take("power", "by"):
		l.FanPower = alarms.ProbeID(c.name("a probe"))
	case c.take("draws"):
		l.FanWatts = c.number("the power of the fan")
	case c.take("flow", "at", "house"):
		l.AtHouse = true
	case c.take("pressure"):
		l.Pressure = c.number("the air pressure")
	case c.take("warm", "below"):
		l.WarmBelow = alarms.At(c.number("warmth"))
	case c.take("cool", "above"):
		l.CoolAbove = alarms.At(c.number("cooling"))
	case c.take("priority"):
		l.Priority = named[alarms.Priority](c, "a priority")
	default:
		c.fail("want fan, runs by, power by, draws, flow at house, pressure, warm below, cool above or priority, got %s", c.got())
	}
}

func readSoil(c *cursor) *alarms.Ground {
	s := &alarms.Ground{}
	for more := true; more && c.err == nil; more = c.take(",") {
		switch {
		case c.take("mean"):
			s.Mean = c.number("the mean")
		case c.take("swing"):
			s.Swing = c.number("the swing")
		case c.take("coldest"):
			s.Coldest = c.number("the coldest day")
		case c.take("diffusivity"):
			s.Diffusivity = c.number("the diffusivity")
		default:
			c.fail("want mean, swing, coldest or diffusivity, got %s", c.got())
		}
	}
	return s
}

func readPipe(c *cursor) alarms.Pipe {
	p := alarms.Pipe{Outlet: alarms.PlaceID(c.name("an outlet"))}
	c.need(":")
	for more := true; more && c.err == nil; more = c.take(",") {
		switch {
		case c.take("depth"):
			p.Depth = c.number("the depth")
		case c.take("flow"):
			p.Flow = c.number("the flow")
		case c.take("effectiveness"):
			p.Effectiveness = c.number("the effectiveness")
		case c.take("damper"):
			p.Damper = readEvidence(c)
		default:
			c.fail("want depth, flow, effectiveness or damper, got %s", c.got())
		}
	}
	return p
}

func printLoop(b *bytes.Buffer, l *alarms.Loop) {
	if l == nil {
		return
	}
	it := items{"from " + word(string(l.House))}
	if l.Fan != "" {
		it = append(it, "fan "+word(string(l.Fan)))
	}
	if l.FanPower != "" {
		it = append(it, "power by "+word(string(l.FanPower)))
	}
	it.number("draws", l.FanWatts)
	if l.AtHouse {
		it = append(it, "flow at house")
	}
	it.number("pressure", l.Pressure)
	it.limit("warm below", l.WarmBelow)
	it.limit("cool above", l.CoolAbove)
	it.priority("priority", l.Priority)
	if l.Runs.Probe != "" { // last: its own figures are parted by commas too
		it = append(it, "runs by "+evidenceWords(l.Runs))
	}
	fmt.Fprintf(b, "    loop %s\n", it)
	if s := l.Soil; s != nil {
		fmt.Fprintf(b, "    loop soil mean %s, swing %s, coldest %s, diffusivity %s\n", figure(s.Mean), figure(s.Swing),
			figure(s.Coldest), figure(s.Diffusivity))
	}
	for _, p := range l.Pipes {
		it := items{"depth " + figure(p.Depth), "flow " + figure(p.Flow)}
		it.number("effectiveness", p.Effectiveness)
		if p.Damper.Probe != "" {
			it = append(it, "damper "+evidenceWords(p.Damper))
		}
		fmt.Fprintf(b, "    loop pipe %s: %s\n", word(string(p.Outlet)), it)
	}
}
