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
		loopItems(l).more(c)
	case c.take("soil"):
		l.Soil = &alarms.Ground{}
		soilItems(l.Soil).list(c)
	case c.take("pipe"):
		pipe := alarms.Pipe{Outlet: alarms.PlaceID(c.name("an outlet"))}
		c.need(":")
		pipeItems(&pipe).list(c)
		l.Pipes = append(l.Pipes, pipe)
	default:
		c.fail("want from, soil or pipe, got %s", c.got())
	}
}

func printLoop(b *bytes.Buffer, l *alarms.Loop) {
	if l == nil {
		return
	}
	fmt.Fprintf(b, "    loop %s\n", loopItems(l).after("from "+word(string(l.House)), ", "))
	if l.Soil != nil {
		fmt.Fprintf(b, "    loop soil %s\n", soilItems(l.Soil).or("mean 0"))
	}
	for _, p := range l.Pipes {
		fmt.Fprintf(b, "    loop pipe %s: %s\n", word(string(p.Outlet)), pipeItems(&p).or("depth 0"))
	}
}

// loopItems has the evidence last: its own figures have commas between them too.
func loopItems(l *alarms.Loop) items {
	return items{text("fan", "a drive", &l.Fan), text("power by", "a probe", &l.FanPower), number("draws", &l.FanWatts),
		flag("flow at house", &l.AtHouse, true), number("pressure", &l.Pressure), limit("warm below", &l.WarmBelow),
		limit("cool above", &l.CoolAbove), priority("priority", &l.Priority), evidence("runs by", &l.Runs)}
}

func soilItems(s *alarms.Ground) items {
	return items{number("mean", &s.Mean), number("swing", &s.Swing), number("coldest", &s.Coldest), number("diffusivity", &s.Diffusivity)}
}

func pipeItems(p *alarms.Pipe) items {
	return items{number("depth", &p.Depth), number("flow", &p.Flow), number("effectiveness", &p.Effectiveness), evidence("damper", &p.Damper)}
}

func evidence(words string, e *alarms.Evidence) item {
	return item{words, func(c *cursor) { *e = readEvidence(c) },
		func() string { return said(words, e.Probe != "", func() string { return evidenceWords(e) }) }}
}
