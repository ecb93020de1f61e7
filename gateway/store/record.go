package store

import (
	"encoding/binary"
	"errors"
	"math"
	"time"

	"telltale/alarms"
)

// A record begins with one byte. Bit 0 set: a plain reading, with
//
//	bits 1-3  decimals of the value, 7 for eight raw bytes
//	bit 4     the time has a part below the millisecond
//	bit 5     the probe gave its own time
//	bit 6     retained
//
// followed by the time since the record before (ms), the stream's number in
// this segment and the value. Bit 0 clear: bit 1 set defines the next stream,
// else any input, field
// by field. A reading costs 6 or 7 bytes.
const (
	bitReading  = 1 << 0
	bitDefine   = 1 << 1 // without bitReading
	bitNanos    = 1 << 4
	bitMeasured = 1 << 5
	bitRetained = 1 << 6
)

// Fields of any input, in order of writing.
const (
	hasProbe = 1 << iota
	hasQuantity
	hasValue
	hasMeasured
	hasRetained
	hasAlarm
	hasUntil
	hasBy
	hasNote
	hasHouse
	hasSeason
	hasSelector
	hasPosition
	hasShift
	hasSince
	hasPerson
	hasStandIn
	hasSpared
)

// maxStreams is more than any plan has.
const maxStreams = 1 << 20

// name of a stream.
type name struct {
	probe    alarms.ProbeID
	quantity alarms.Quantity
}

// splitTime gives t as milliseconds and the nanoseconds beyond them. Both
// together hold any time of the next and last hundred million years.
func splitTime(t time.Time) (ms int64, nanos uint64) {
	return t.UnixMilli(), uint64(t.Nanosecond() % int(time.Millisecond))
}

func joinTime(ms int64, nanos uint64) time.Time {
	return time.UnixMilli(ms).Add(time.Duration(nanos)).UTC()
}

func plainReading(in alarms.Input) bool {
	return in.Kind == alarms.ReadingIn && in.Alarm == "" && in.Until.IsZero() &&
		in.By == "" && in.Note == "" && in.House == "" && in.Season == "" &&
		in.Selector == "" && in.Position == "" && in.Shift == 0 && in.Since.IsZero() &&
		in.Person == "" && in.StandIn == "" && !in.Spared
}

// appendReading writes a plain reading of the stream numbered ref. prev is the
// millisecond of the record before; guess is where to look for the decimals
// first, and the decimals found are returned.
func appendReading(b []byte, in alarms.Input, ref uint32, prev int64, guess int) ([]byte, int) {
	ms, nanos := splitTime(in.At)
	i, exp := decimal(in.Value, guess)
	head := byte(bitReading | exp<<1)
	if nanos != 0 {
		head |= bitNanos
	}
	if !in.Measured.IsZero() {
		head |= bitMeasured
	}
	if in.Retained {
		head |= bitRetained
	}
	b = appendZigzag(append(b, head), ms-prev)
	if nanos != 0 {
		b = binary.AppendUvarint(b, nanos)
	}
	b = binary.AppendUvarint(b, uint64(ref))
	if exp == rawExp {
		b = appendFloat(b, in.Value)
	} else {
		b = appendZigzag(b, i)
	}
	if head&bitMeasured != 0 {
		b = appendTime(b, in.Measured, ms)
	}
	return b, exp
}

// appendTime writes t beside the millisecond base.
func appendTime(b []byte, t time.Time, base int64) []byte {
	ms, nanos := splitTime(t)
	b = appendZigzag(b, ms-base)
	return binary.AppendUvarint(b, nanos)
}

func (c *cursor) time(base int64) time.Time {
	ms := c.zigzag() + base
	nanos := c.uvarint()
	if nanos >= uint64(time.Millisecond) {
		c.fail()
		return time.Time{}
	}
	return joinTime(ms, nanos)
}

// appendAny writes an input of any kind with every field that is not zero.
func appendAny(b []byte, in alarms.Input, prev int64) []byte {
	b = append(b, 0)
	b = appendTime(b, in.At, prev)
	b = binary.AppendUvarint(b, uint64(in.Kind))
	base := in.At.UnixMilli()
	var mask uint64
	value := math.Float64bits(in.Value) != 0
	for i, has := range []bool{in.Probe != "", in.Quantity != "", value, !in.Measured.IsZero(),
		in.Retained, in.Alarm != "", !in.Until.IsZero(), in.By != "", in.Note != "", in.House != "", in.Season != "",
		in.Selector != "", in.Position != "", in.Shift != 0, !in.Since.IsZero(),
		in.Person != "", in.StandIn != "", in.Spared} {
		if has {
			mask |= 1 << i
		}
	}
	b = binary.AppendUvarint(b, mask)
	texts := []struct {
		bit  uint64
		text string
	}{{hasProbe, string(in.Probe)}, {hasQuantity, string(in.Quantity)}, {hasAlarm, string(in.Alarm)},
		{hasBy, in.By}, {hasNote, in.Note}, {hasHouse, string(in.House)}, {hasSeason, string(in.Season)},
		{hasSelector, string(in.Selector)}, {hasPosition, in.Position},
		{hasPerson, in.Person}, {hasStandIn, in.StandIn}}
	for _, t := range texts {
		if mask&t.bit != 0 {
			b = appendText(b, t.text)
		}
	}
	if mask&hasValue != 0 {
		b = appendFloat(b, in.Value)
	}
	if mask&hasMeasured != 0 {
		b = appendTime(b, in.Measured, base)
	}
	if mask&hasUntil != 0 {
		b = appendTime(b, in.Until, base)
	}
	if mask&hasShift != 0 {
		b = appendZigzag(b, int64(in.Shift))
	}
	if mask&hasSince != 0 {
		b = appendTime(b, in.Since, base)
	}
	return b
}

func appendDefine(b []byte, ref uint32, n name) []byte {
	b = binary.AppendUvarint(append(b, bitDefine), uint64(ref))
	return appendText(appendText(b, string(n.probe)), string(n.quantity))
}

var (
	errStream = errors.New("record of a stream that was not defined")
	errRecord = errors.New("record of an unknown form")
)

// decoder turns the payloads of a segment's frames back into inputs.
type decoder struct{ streams []name }

// frame decodes one payload. Records of streams whose definition is lost are
// counted, not given to yield. It returns false when yield did.
func (d *decoder) frame(payload []byte, yield func(alarms.Input) bool) (lost int, more bool, err error) {
	c := cursor{b: payload}
	prev := c.zigzag()
	for len(c.b) > 0 {
		if c.b[0] == bitDefine {
			d.define(&c)
			continue
		}
		in, err := d.record(&c, prev)
		switch {
		case c.err != nil:
			return lost, true, c.err
		case errors.Is(err, errStream):
			lost++
			prev = in.At.UnixMilli()
			continue
		case err != nil:
			return lost, true, err
		}
		prev = in.At.UnixMilli()
		if !yield(in) {
			return lost, false, nil
		}
	}
	return lost, true, c.err
}

func (d *decoder) define(c *cursor) {
	c.byte()
	ref := c.uvarint()
	n := name{probe: alarms.ProbeID(c.text())}
	n.quantity = alarms.Quantity(c.text())
	if ref >= maxStreams {
		c.fail()
		return
	}
	for uint64(len(d.streams)) <= ref {
		d.streams = append(d.streams, name{})
	}
	d.streams[ref] = n
}

func (d *decoder) record(c *cursor, prev int64) (alarms.Input, error) {
	head := c.byte()
	switch {
	case head&bitReading != 0:
		return d.reading(c, head, prev)
	case head == 0:
		return anyInput(c, prev), nil
	}
	return alarms.Input{}, errRecord
}

func (d *decoder) reading(c *cursor, head byte, prev int64) (alarms.Input, error) {
	in := alarms.Input{Kind: alarms.ReadingIn, Retained: head&bitRetained != 0}
	ms := prev + c.zigzag()
	var nanos uint64
	if head&bitNanos != 0 {
		if nanos = c.uvarint(); nanos >= uint64(time.Millisecond) {
			c.fail()
		}
	}
	in.At = joinTime(ms, nanos)
	ref := c.uvarint()
	if exp := int(head >> 1 & 7); exp == rawExp {
		in.Value = c.float()
	} else {
		in.Value = fromDecimal(c.zigzag(), exp)
	}
	if head&bitMeasured != 0 {
		in.Measured = c.time(ms)
	}
	if ref >= uint64(len(d.streams)) || d.streams[ref] == (name{}) {
		return in, errStream
	}
	in.Probe, in.Quantity = d.streams[ref].probe, d.streams[ref].quantity
	return in, nil
}

func anyInput(c *cursor, prev int64) alarms.Input {
	in := alarms.Input{At: c.time(prev)}
	kind := c.uvarint()
	if kind > 255 {
		c.fail()
	}
	in.Kind = alarms.InputKind(kind)
	mask := c.uvarint()
	text := func(bit uint64) string {
		if mask&bit == 0 {
			return ""
		}
		return c.text()
	}
	in.Probe, in.Quantity = alarms.ProbeID(text(hasProbe)), alarms.Quantity(text(hasQuantity))
	in.Alarm, in.By, in.Note = alarms.AlarmID(text(hasAlarm)), text(hasBy), text(hasNote)
	in.House, in.Season = alarms.HouseID(text(hasHouse)), alarms.Season(text(hasSeason))
	in.Selector, in.Position = alarms.SelectorID(text(hasSelector)), text(hasPosition)
	in.Person, in.StandIn, in.Spared = text(hasPerson), text(hasStandIn), mask&hasSpared != 0
	in.Retained = mask&hasRetained != 0
	if mask&hasValue != 0 {
		in.Value = c.float()
	}
	if mask&hasMeasured != 0 {
		in.Measured = c.time(in.At.UnixMilli())
	}
	if mask&hasUntil != 0 {
		in.Until = c.time(in.At.UnixMilli())
	}
	if mask&hasShift != 0 {
		in.Shift = time.Duration(c.zigzag())
	}
	if mask&hasSince != 0 {
		in.Since = c.time(in.At.UnixMilli())
	}
	return in
}
