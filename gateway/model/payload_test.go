package model

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"telltale/alarms"
)

// values reads a payload back by what the Spec says, in the core's units, with
// standard decoders. Its second result is the time in it, zero if none.
func values(t *testing.T, s Spec, payload []byte) (map[alarms.Quantity]float64, time.Time) {
	t.Helper()
	read := map[alarms.Quantity]float64{}
	var at time.Time
	switch s.Form {
	case Number:
		v, err := strconv.ParseFloat(string(payload), 64)
		if err != nil {
			t.Fatalf("%s: %v", s.ID, err)
		}
		read[s.Senses[0].Quantity] = v
	case JSON:
		var doc any
		if err := json.Unmarshal(payload, &doc); err != nil {
			t.Fatalf("%s: %v in %s", s.ID, err, payload)
		}
		for _, sense := range s.Senses {
			read[sense.Quantity] = pointed(t, doc, sense.At)
		}
		if s.TimeAt != "" {
			at = time.Unix(int64(pointed(t, doc, s.TimeAt)), 0)
		}
	case SenML:
		at = readSenML(t, s, payload, read)
	case Line:
		at = readLine(t, s, payload, read)
	}
	for _, sense := range s.Senses {
		switch sense.Unit {
		case "°F":
			read[sense.Quantity] = (read[sense.Quantity] - 32) * 5 / 9
		case "ratio":
			read[sense.Quantity] *= 100
		}
	}
	return read, at
}

func pointed(t *testing.T, doc any, pointer string) float64 {
	t.Helper()
	for _, key := range strings.Split(pointer, "/")[1:] {
		doc = doc.(map[string]any)[key]
	}
	v, ok := doc.(float64)
	if !ok {
		t.Fatalf("%s: got %v", pointer, doc)
	}
	return v
}

func readSenML(t *testing.T, s Spec, payload []byte, into map[alarms.Quantity]float64) time.Time {
	t.Helper()
	var pack []struct {
		BN, N, U string
		BT, V    float64
	}
	if err := json.Unmarshal(payload, &pack); err != nil || len(pack) != len(s.Senses) {
		t.Fatalf("%s: %v in %s", s.ID, err, payload)
	}
	units := map[alarms.Quantity]string{alarms.Temperature: "Cel", alarms.Humidity: "%RH", alarms.Battery: "%EL"}
	for i, sense := range s.Senses {
		if pack[0].BN+pack[i].N != s.Base+sense.At || pack[i].U != units[sense.Quantity] {
			t.Errorf("%s: record %d is %+v", s.ID, i, pack[i])
		}
		into[sense.Quantity] = pack[i].V
	}
	return time.Unix(int64(pack[0].BT), 0)
}

func readLine(t *testing.T, s Spec, payload []byte, into map[alarms.Quantity]float64) time.Time {
	t.Helper()
	d := lineprotocol.NewDecoderWithBytes(payload)
	if !d.Next() {
		t.Fatalf("%s: no line in %q", s.ID, payload)
	}
	m, err := d.Measurement()
	if err != nil || string(m) != s.Base {
		t.Fatalf("%s: measurement %s, %v", s.ID, m, err)
	}
	k, v, err := d.NextTag()
	if err != nil || string(k) != s.Tag || string(v) != s.TagValue {
		t.Fatalf("%s: tag %s=%s, %v", s.ID, k, v, err)
	}
	for {
		key, value, err := d.NextField()
		if err != nil {
			t.Fatal(err)
		}
		if key == nil {
			break
		}
		for _, sense := range s.Senses {
			if sense.At == string(key) {
				into[sense.Quantity] = value.FloatV()
			}
		}
	}
	at, err := d.Time(lineprotocol.Second, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// What every probe says, read back with standard decoders, is what is true,
// within the probe's error, and its time is right.
func TestPayloadsTellTheTruth(t *testing.T) {
	start := day(2026, 5, 3, 3) // early: nothing changes quickly
	s := ThimbleGarth(start, 9)
	s.Advance(start.Add(20 * time.Minute))
	for range 40 {
		for _, p := range s.Advance(s.now.Add(5 * time.Second)) {
			spec := specOf(t, p.Topic)
			got, at := values(t, spec, p.Payload)
			if !at.IsZero() && (p.At.Sub(at) < 0 || p.At.Sub(at) >= time.Second) {
				t.Errorf("%s: says %s at %s", spec.ID, at, p.At)
			}
			if len(got) != len(spec.Senses) {
				t.Errorf("%s: got %v", spec.ID, got)
			}
			house := s.Truth().House(spec.House)
			checkClose(t, spec, got, truthAt(spec, house, s.Truth()))
		}
	}
}

func truthAt(s Spec, h HouseTruth, tr Truth) map[alarms.Quantity]float64 {
	switch s.Place {
	case "bench":
		return map[alarms.Quantity]float64{alarms.Temperature: h.Temperature, alarms.Humidity: h.Humidity}
	case "ridge":
		return map[alarms.Quantity]float64{alarms.Temperature: h.Ridge}
	case "outside":
		return map[alarms.Quantity]float64{alarms.Temperature: tr.Outside.Temperature, alarms.Humidity: tr.Outside.Humidity}
	case "bed":
		return map[alarms.Quantity]float64{alarms.Soil: h.Mass}
	case "loop-shallow":
		return map[alarms.Quantity]float64{alarms.Temperature: h.Outlets[0].Temperature, alarms.Humidity: h.Outlets[0].Humidity}
	case "loop-deep":
		return map[alarms.Quantity]float64{alarms.Temperature: h.Outlets[1].Temperature, alarms.Humidity: h.Outlets[1].Humidity}
	}
	return nil
}

func checkClose(t *testing.T, s Spec, got, want map[alarms.Quantity]float64) {
	t.Helper()
	tolerance := map[alarms.Quantity]float64{alarms.Temperature: 0.6, alarms.Soil: 0.2, alarms.Humidity: 4}
	for q, w := range want {
		if g, ok := got[q]; !ok || math.Abs(g-w) > tolerance[q] {
			t.Errorf("%s %s: says %v, truth is %v", s.ID, q, g, w)
		}
	}
}

func TestDigits(t *testing.T) {
	for _, c := range []struct {
		sense Sense
		v     float64
		want  string
	}{
		{Sense{Unit: "°C", Decimals: 4}, 21.0625, "21.0625"},
		{Sense{Unit: "°F", Decimals: 2}, -40, "-40.00"},
		{Sense{Unit: "°F", Decimals: 1}, 25, "77.0"},
		{Sense{Unit: "ratio", Decimals: 3}, 61.4, "0.614"},
		{Sense{Unit: "W"}, -0.2, "0"},
		{Sense{}, 1, "1"},
	} {
		if got := c.sense.digits(c.v); got != c.want {
			t.Errorf("%v %s: got %s, want %s", c.v, c.sense.Unit, got, c.want)
		}
	}
}

// Every form of payload is in use, names are unique and known to the core.
func TestLayout(t *testing.T) {
	forms, ids, seenTopics := map[Form]int{}, map[alarms.ProbeID]bool{}, map[string]bool{}
	for _, s := range Layout() {
		forms[s.Form]++
		if ids[s.ID] || seenTopics[s.Topic] {
			t.Errorf("%s or %s is there twice", s.ID, s.Topic)
		}
		ids[s.ID], seenTopics[s.Topic] = true, true
		if !strings.HasPrefix(s.Topic, "thimble-garth/") || s.Every <= 0 || s.Place == "" || len(s.Senses) == 0 {
			t.Errorf("%+v", s)
		}
		for _, sense := range s.Senses {
			if !sense.Quantity.Known() || sense.Quantity.Derived() || sense.read == nil {
				t.Errorf("%s: quantity %q", s.ID, sense.Quantity)
			}
		}
	}
	for _, f := range []Form{Number, JSON, SenML, Line} {
		if forms[f] == 0 {
			t.Errorf("no probe sends %s", f)
		}
	}
}
