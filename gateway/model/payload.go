package model

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"telltale/alarms"
)

// payload writes the values of a probe in its form.
func (s *Spec) payload(values []float64, at time.Time) []byte {
	switch s.Form {
	case JSON:
		return s.asJSON(values, at)
	case SenML:
		return s.asSenML(values, at)
	case Line:
		return s.asLine(values, at)
	default:
		return []byte(s.Senses[0].digits(values[0]))
	}
}

// digits writes a value in the unit and with the decimals of the sense.
func (s Sense) digits(v float64) string {
	switch s.Unit {
	case "°F":
		v = v*9/5 + 32
	case "ratio":
		v /= 100
	}
	text := strconv.FormatFloat(v, 'f', s.Decimals, 64)
	if f, err := strconv.ParseFloat(text, 64); err == nil && f == 0 {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// asJSON builds the object that the pointers describe.
func (s *Spec) asJSON(values []float64, at time.Time) []byte {
	root := map[string]any{}
	for i, sense := range s.Senses {
		put(root, sense.At, json.Number(sense.digits(values[i])))
	}
	if s.TimeAt != "" {
		put(root, s.TimeAt, at.Unix())
	}
	return must(json.Marshal(root))
}

func put(root map[string]any, pointer string, v any) {
	keys := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	for _, k := range keys[:len(keys)-1] {
		next, ok := root[k].(map[string]any)
		if !ok {
			next = map[string]any{}
			root[k] = next
		}
		root = next
	}
	root[keys[len(keys)-1]] = v
}

// record is a SenML record: RFC 8428, section 4.
type record struct {
	BaseName string      `json:"bn,omitempty"`
	BaseTime int64       `json:"bt,omitempty"`
	Name     string      `json:"n,omitempty"`
	Unit     string      `json:"u,omitempty"`
	Value    json.Number `json:"v"`
}

func (s *Spec) asSenML(values []float64, at time.Time) []byte {
	pack := make([]record, len(s.Senses))
	for i, sense := range s.Senses {
		pack[i] = record{Name: sense.At, Unit: senmlUnit(sense), Value: json.Number(sense.digits(values[i]))}
	}
	pack[0].BaseName, pack[0].BaseTime = s.Base, at.Unix()
	return must(json.Marshal(pack))
}

// senmlUnit is the unit's name in the registry of RFC 8428, section 12.1.
func senmlUnit(s Sense) string {
	switch {
	case s.Unit == "°C":
		return "Cel"
	case s.Quantity == alarms.Humidity:
		return "%RH"
	case s.Quantity == alarms.Battery:
		return "%EL"
	}
	return s.Unit
}

func (s *Spec) asLine(values []float64, at time.Time) []byte {
	var e lineprotocol.Encoder
	e.SetPrecision(lineprotocol.Second)
	e.StartLine(s.Base)
	e.AddTag(s.Tag, s.TagValue)
	for i, sense := range s.Senses {
		f, err := strconv.ParseFloat(sense.digits(values[i]), 64)
		if err != nil {
			panic(fmt.Sprintf("model: probe %s: %v", s.ID, err))
		}
		v, _ := lineprotocol.FloatValue(f)
		e.AddField(sense.At, v)
	}
	e.EndLine(at)
	return must(e.Bytes(), e.Err())
}

// must returns b; writing these payloads can only fail by a mistake in here.
func must(b []byte, err error) []byte {
	if err != nil {
		panic("model: payload: " + err.Error())
	}
	return b
}
