package modem

import (
	"encoding/hex"
	"fmt"
	"time"
)

// delivered is one SMS-DELIVER: a message to us, or a part of one.
type delivered struct {
	from Number
	sent time.Time // by the service centre
	text string
	// Of a part: which message of this sender it belongs to, how many parts
	// that has, and which one this is, from 1. total 0: it is whole.
	ref, total, number int
}

// report is one SMS-STATUS-REPORT: what became of a message of ours.
type report struct {
	ref    byte // as +CMGS gave it
	to     Number
	sent   time.Time
	ended  time.Time // when it was delivered, or last tried
	status byte      // TP-ST
}

// received reads a PDU that the modem gave: a *delivered or a *report.
func received(text string) (any, error) {
	raw, err := hex.DecodeString(text)
	if err != nil {
		return nil, fmt.Errorf("the message is no hexadecimal text: %w", err)
	}
	o := octets(raw)
	n, err := o.one()
	if err != nil {
		return nil, fmt.Errorf("the message cannot be read: %w", err)
	}
	if _, err := o.take(int(n)); err != nil { // the service centre's address
		return nil, fmt.Errorf("the message cannot be read: %w", err)
	}
	first, err := o.one()
	if err != nil {
		return nil, fmt.Errorf("the message cannot be read: %w", err)
	}
	var out any
	switch first & 0x03 { // TP-MTI, from service centre to mobile
	case 0:
		out, err = o.deliver(first)
	case 2:
		out, err = o.report()
	default:
		err = fmt.Errorf("its type %d is none that a modem gets", first&0x03)
	}
	if err != nil {
		return nil, fmt.Errorf("the message cannot be read: %w", err)
	}
	return out, nil
}

// deliver reads what is behind the first octet (TS 23.040, section 9.2.2.1).
func (o *octets) deliver(first byte) (d *delivered, err error) {
	d = &delivered{}
	if d.from, err = o.address(); err != nil {
		return nil, err
	}
	head, err := o.take(2) // protocol, coding
	if err != nil {
		return nil, err
	}
	if d.sent, err = o.stamp(); err != nil {
		return nil, err
	}
	n, err := o.one()
	if err != nil {
		return nil, err
	}
	d.read(*o, int(n), alphabetOf(head[1]), first&firstHeader != 0)
	return d, nil
}

// alphabet is how the data of a message are coded.
type alphabet int

const (
	sevenBit alphabet = iota
	eightBit
	sixteenBit
)

// alphabetOf reads a data coding scheme (TS 23.038, section 4).
func alphabetOf(coding byte) alphabet {
	switch group := coding >> 4; {
	case group < 8:
		if a := alphabet(coding >> 2 & 3); a <= sixteenBit {
			return a
		}
	case group == 0xe:
		return sixteenBit
	case group == 0xf && coding&0x04 != 0:
		return eightBit
	}
	return sevenBit
}

// read reads the data: n septets or octets, perhaps behind a header.
func (d *delivered) read(data []byte, n int, a alphabet, headed bool) {
	skip := 0
	if headed && len(data) > 0 {
		skip = min(int(data[0])+1, len(data))
		d.header(data[1:skip])
	}
	if a == sevenBit {
		taken := (skip*8 + 6) / 7 // septets that the header takes
		d.text = fromSeptets(unpack(data[skip:], n-taken, taken*7-skip*8))
		return
	}
	body := data[skip:min(max(n, skip), len(data))]
	if a == sixteenBit {
		d.text = fromUCS2(body)
		return
	}
	d.text = string(latin(body))
}

// latin reads octets whose meaning is not said, each as its Unicode sign.
func latin(body []byte) []rune {
	out := make([]rune, len(body))
	for i, b := range body {
		out[i] = rune(b)
	}
	return out
}

// header looks for what says that this is a part (TS 23.040, 9.2.3.24.1, .8).
func (d *delivered) header(h []byte) {
	for len(h) >= 2 && len(h) >= 2+int(h[1]) {
		kind, n := h[0], int(h[1])
		v := h[2 : 2+n]
		switch {
		case kind == 0 && n == 3:
			d.ref, d.total, d.number = int(v[0]), int(v[1]), int(v[2])
		case kind == 8 && n == 4:
			d.ref, d.total, d.number = int(v[0])<<8|int(v[1]), int(v[2]), int(v[3])
		}
		h = h[2+n:]
	}
	if d.total < 2 || d.number < 1 || d.number > d.total {
		d.ref, d.total, d.number = 0, 0, 0
	}
}

// report reads what is behind the first octet (TS 23.040, section 9.2.2.3).
func (o *octets) report() (r *report, err error) {
	r = &report{}
	if r.ref, err = o.one(); err != nil {
		return nil, err
	}
	if r.to, err = o.address(); err != nil {
		return nil, err
	}
	if r.sent, err = o.stamp(); err != nil {
		return nil, err
	}
	if r.ended, err = o.stamp(); err != nil {
		return nil, err
	}
	r.status, err = o.one()
	return r, err
}
