package decode

import (
	"encoding/json"
	"fmt"
	"testing"

	"telltale/alarms"
)

// BenchmarkDecode is one message of one of 1,000 topics, routing included.
func BenchmarkDecode(b *testing.B) {
	forms := []struct {
		name    string
		reads   []Read
		form    Form
		clock   Clock
		payload string
	}{
		{"number", one(alarms.Temperature, "°F"), Number, Clock{}, "70.5"},
		{"json-22-bytes", []Read{{Quantity: alarms.Temperature, At: "/t"}, {Quantity: alarms.Humidity, At: "/rh"}}, JSON, Clock{}, `{"t":21.47,"rh":63.21}`},
		{"json-60-bytes", []Read{{Quantity: alarms.Temperature, At: "/air/temperature"}, {Quantity: alarms.Humidity, At: "/air/humidity"}}, JSON,
			Clock{At: "/time"}, `{"time":1775369228,"air":{"temperature":21.47,"humidity":63}}`},
		{"senml", []Read{{Quantity: alarms.Temperature, At: "bench:t"}, {Quantity: alarms.Humidity, At: "bench:rh"}}, SenML, Clock{},
			`[{"bn":"bench:","n":"t","u":"Cel","v":21.47},{"n":"rh","u":"%RH","v":63.2}]`},
		{"line", []Read{{Quantity: alarms.Temperature, At: "t"}, {Quantity: alarms.Humidity, At: "rh"}}, Line, Clock{}, `climate,place=bench t=21.47,rh=63.21 1775369228250000000`},
	}
	for _, f := range forms {
		b.Run(f.name, func(b *testing.B) {
			var sources []Source
			var topics []string
			for i := range 1000 {
				topics = append(topics, fmt.Sprintf("long-house/place-%03d/climate", i))
				sources = append(sources, Source{Probe: alarms.ProbeID(fmt.Sprintf("p-%03d", i)), Filter: topics[i], Form: f.form, Reads: f.reads, Clock: f.clock})
			}
			table := mustNew(b, sources...)
			payload := []byte(f.payload)
			n := 0
			emit := func(Value) { n++ }
			b.ReportAllocs()
			b.ResetTimer()
			for i := range b.N {
				if ps := table.Decode(topics[i%1000], payload, noon, emit); ps != nil {
					b.Fatal(ps)
				}
			}
			if n != b.N*len(f.reads) {
				b.Fatalf("got %d values", n)
			}
		})
	}
	b.Run("bare-encoding-json-map", func(b *testing.B) {
		b.ReportAllocs()
		for range b.N {
			var m map[string]any
			if err := json.Unmarshal([]byte(`{"t":21.47,"rh":63.21}`), &m); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkCells(b *testing.B) {
	c, err := NewCells("t", Read{Quantity: alarms.Temperature, Unit: "°F"})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for range b.N {
		if v, cause, _ := c.Value([]byte("70.25")); cause != "" || v < 21 {
			b.Fatal(v, cause)
		}
	}
}

func BenchmarkLines(b *testing.B) {
	l, err := NewLines([]Source{lineSource()})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for range b.N {
		if v, bad := l.Read([]byte("climate,place=bench,unit=1 temp=21.25,rh=63.5 1775369228000000000")); len(v) != 2 || bad != nil {
			b.Fatal(v, bad)
		}
	}
}
