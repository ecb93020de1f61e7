package export

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"telltale/alarms"
)

// Reading is one reading to be exported.
type Reading struct {
	House    alarms.HouseID
	Place    alarms.PlaceID
	Probe    alarms.ProbeID
	Quantity alarms.Quantity
	Value    float64 // in the unit of the quantity
	At       time.Time
}

// item is a reading or a transition that waits to be encoded.
type item struct {
	reading    Reading
	transition *alarms.Transition
}

// encoder turns items into lines. It is not safe for concurrent use.
type encoder struct{ lp lineprotocol.Encoder }

func newEncoder() *encoder {
	e := &encoder{}
	e.lp.SetPrecision(lineprotocol.Nanosecond)
	return e
}

// encode returns one line for each item that can be said in line protocol,
// and the first reason why another cannot.
func (e *encoder) encode(items []item) (b batch, refused int, why error) {
	e.lp.SetBuffer(make([]byte, 0, 96*len(items)))
	for i := range items {
		err := items[i].check()
		if err == nil {
			err = e.line(&items[i])
		}
		if err == nil {
			b.lines++
			continue
		}
		refused++
		if why == nil {
			why = err
		}
	}
	b.text = e.lp.Bytes()
	return b, refused, why
}

// check refuses what would leave a line without a field or a time: after such
// a line the encoder would refuse the next one too.
func (i *item) check() error {
	switch {
	case i.transition != nil && i.transition.Due.IsZero():
		return fmt.Errorf("transition %s has no time", i.transition.ID)
	case i.transition != nil:
		return nil
	case i.reading.At.IsZero():
		return fmt.Errorf("%s of probe %s has no time", i.reading.Quantity, i.reading.Probe)
	case math.IsNaN(i.reading.Value) || math.IsInf(i.reading.Value, 0):
		return fmt.Errorf("%s of probe %s is %v", i.reading.Quantity, i.reading.Probe, i.reading.Value)
	}
	return nil
}

func (e *encoder) line(i *item) error {
	if i.transition != nil {
		e.transition(i.transition)
	} else {
		e.reading(&i.reading)
	}
	err := e.lp.Err()
	e.lp.ClearErr()
	return err
}

func (e *encoder) reading(r *Reading) {
	e.lp.StartLine("reading")
	e.tag("house", string(r.House))
	e.tag("place", string(r.Place))
	e.tag("probe", string(r.Probe))
	e.float(string(r.Quantity), r.Value)
	e.lp.EndLine(r.At)
}

func (e *encoder) transition(t *alarms.Transition) {
	e.lp.StartLine("transition")
	e.tag("alarm", string(t.Alarm))
	e.tag("drive", string(t.Reason.Drive))
	e.tag("house", string(t.Reason.House))
	e.tag("move", t.Move.String())
	e.tag("place", string(t.Reason.Place))
	e.tag("priority", t.Priority.String())
	e.tag("probe", string(t.Reason.Probe))
	e.tag("quantity", string(t.Reason.Quantity))
	e.tag("rule", string(t.Reason.Rule))
	e.text("id", t.ID)
	e.text("from", t.From.String())
	e.text("to", t.To.String())
	e.text("level", t.Level.String())
	e.text("sentence", t.Sentence)
	if !t.Noticed.IsZero() {
		e.lp.AddField("noticed", lineprotocol.IntValue(t.Noticed.UnixNano()))
	}
	if t.Reason.Value != nil {
		e.float("value", *t.Reason.Value)
	}
	if t.Reason.Limit != nil {
		e.float("limit", *t.Reason.Limit)
	}
	if s := t.Reason.Switched; s != nil {
		e.switched(s)
	}
	e.lp.EndLine(t.Due)
}

// switched says of one run how long it lasted, and whether it started and was
// as it should be: its sums over a day are the hours run and the starts.
func (e *encoder) switched(s *alarms.Switched) {
	if !s.Ran.IsZero() && !s.Stopped.IsZero() {
		e.float("ran_seconds", s.Stopped.Sub(s.Ran).Seconds())
	}
	starts := int64(0)
	if !s.Ran.IsZero() {
		starts = 1
	}
	e.lp.AddField("starts", lineprotocol.IntValue(starts))
	e.lp.AddField("right", lineprotocol.BoolValue(s.Right))
}

// tag leaves out empty tags: the syntax has none.
func (e *encoder) tag(key, value string) {
	if value != "" {
		e.lp.AddTag(key, value)
	}
}

func (e *encoder) text(key, value string) {
	if v, ok := lineprotocol.StringValue(strings.ToValidUTF8(value, "\uFFFD")); ok {
		e.lp.AddField(key, v)
	}
}

// float leaves out what is no number.
func (e *encoder) float(key string, value float64) {
	if v, ok := lineprotocol.FloatValue(value); ok {
		e.lp.AddField(key, v)
	}
}

// batch is a piece of line protocol: whole lines, each with its line end.
type batch struct {
	text  []byte
	lines int
}

// split cuts b between lines into pieces of at most most bytes; a line that is
// longer is a piece of its own.
func (b batch) split(most int) []batch {
	var pieces []batch
	for len(b.text) > most {
		n := bytes.LastIndexByte(b.text[:most], '\n') + 1
		if n == 0 {
			n = bytes.IndexByte(b.text, '\n') + 1
		}
		piece := batch{text: b.text[:n:n], lines: bytes.Count(b.text[:n], []byte("\n"))}
		pieces = append(pieces, piece)
		b.text, b.lines = b.text[n:], b.lines-piece.lines
	}
	if b.lines > 0 {
		pieces = append(pieces, b)
	}
	return pieces
}

func (b batch) String() string { return fmt.Sprintf("%d lines, %d bytes", b.lines, len(b.text)) }
