package engine_test

import (
	"fmt"
	"runtime"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// manyProbes is one house with n places of one probe each.
func manyProbes(n int) (alarms.Plan, []alarms.ProbeID) {
	p := longHouse()
	base := p.Houses[0].Places[0]
	p.Houses[0].Places = nil
	var probes []alarms.ProbeID
	for i := range n {
		pl := base
		pl.ID = alarms.PlaceID(fmt.Sprintf("bench-%d", i))
		id := alarms.ProbeID(fmt.Sprintf("probe-%d", i))
		pl.Probes = []alarms.Probe{{ID: id, Circuit: "north", Every: 30 * time.Second,
			Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}
		probes = append(probes, id)
		p.Houses[0].Places = append(p.Houses[0].Places, pl)
	}
	return p, probes
}

// BenchmarkMemory is what the core keeps for each of a thousand probes that
// have reported for half an hour.
func BenchmarkMemory(b *testing.B) {
	p, probes := manyProbes(1000)
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	e, err := engine.New(p)
	if err != nil {
		b.Fatal(err)
	}
	at := noon
	for range 60 {
		at = at.Add(30 * time.Second)
		for _, id := range probes {
			e.Step(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: id, Quantity: alarms.Temperature, Value: 21})
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	snap, err := e.Snapshot()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		runtime.KeepAlive(e)
	}
	b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/float64(len(probes)), "B/probe")
	b.ReportMetric(float64(len(snap))/float64(len(probes)), "snapshot-B/probe")
	b.ReportMetric(0, "ns/op")
}
