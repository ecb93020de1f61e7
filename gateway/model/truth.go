package model

import (
	"time"

	"telltale/alarms"
)

// Truth is how things really are, whatever the probes say.
type Truth struct {
	At      time.Time
	Outside OutsideTruth
	Houses  []HouseTruth
	Broker  bool
	Faults  []Fault
}

// OutsideTruth is the weather.
type OutsideTruth struct {
	Temperature float64 // °C
	Humidity    float64 // %
	Wind        float64 // m/s
	Cloud       float64 // share of the sky, 0 to 1
	Sun         float64 // W/m² on level ground
}

// HouseTruth is one house.
type HouseTruth struct {
	ID          alarms.HouseID
	Name        string
	Temperature float64 // °C, on the benches
	Humidity    float64 // %, the same
	Ridge       float64 // °C, under the roof
	Mass        float64 // °C, beds, wall, water
	Cover       float64 // °C
	Fan         bool    // the exhaust fan turns
	Shutter     float64 // 0 closed to 1 open
	Loop        bool    // the loop fan turns
	Heater      bool
	Covered     bool // vents covered for the winter: the exhaust fan is out of use
	Outlets     []OutletTruth
	Stored      float64 // J, from 0 °C
	Ledger      Ledger  // since the simulation began
}

// OutletTruth is the mouth of one loop pipe.
type OutletTruth struct {
	Depth       float64 // m
	Temperature float64 // °C
	Humidity    float64 // %
}

// Truth returns a copy of how things are now.
func (s *Sim) Truth() Truth {
	out := s.climate.at(s.seed, s.weather, s.now)
	t := Truth{At: s.now, Broker: s.BrokerUp(), Faults: s.Faults(), Outside: OutsideTruth{
		out.air.temperature, out.air.humidity(), out.wind, out.cloud, out.light.global}}
	for _, r := range s.houses {
		t.Houses = append(t.Houses, r.truth())
	}
	return t
}

func (r *running) truth() HouseTruth {
	c := r.controls
	t := HouseTruth{ID: alarms.HouseID(r.house.id), Name: r.house.name,
		Temperature: r.now.air.temperature, Humidity: r.now.air.humidity(), Ridge: r.now.ridge.temperature,
		Mass: r.nodes.mass, Cover: r.nodes.cover, Fan: c.fan, Shutter: c.shutter, Loop: c.loop, Heater: c.heater, Covered: c.covered,
		Stored: r.house.stored(r.nodes), Ledger: r.ledger}
	for i, p := range r.house.pipes {
		o := r.now.outlet[i]
		t.Outlets = append(t.Outlets, OutletTruth{p.depth, o.temperature, o.humidity()})
	}
	return t
}

// House returns the truth about one house; the zero value if it is not there.
func (t Truth) House(id alarms.HouseID) HouseTruth {
	for _, h := range t.Houses {
		if h.ID == id {
			return h
		}
	}
	return HouseTruth{}
}
