package modem

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// mostParts is how many parts a long message may have.
const mostParts = 6

// Room of one message, and of one part of a longer one behind its six octets
// of header (TS 23.040, section 9.2.3.24.1).
const (
	wholeSeptets, partSeptets = 160, 153
	wholeUnits, partUnits     = 70, 67
	headerSeptets             = 7 // that the header takes, with one bit of padding
)

// share is what one part carries.
type share struct {
	wide bool   // UCS-2
	data []byte // septets, one in a byte, or octets of UCS-2
	text string
}

// shares cuts text into parts, in the default alphabet where it will do, with
// so much room in each part of a long one. Never is a sign cut in two.
func shares(text string, partSeptets, partUnits int) []share {
	_, plain := toSeptets(text)
	whole, part := wholeSeptets, partSeptets
	size := func(r rune) int { s, _ := toSeptets(string(r)); return len(s) }
	if !plain {
		whole, part = wholeUnits, partUnits
		size = func(r rune) int { return len(toUCS2(string(r))) / 2 }
	}
	total := 0
	for _, r := range text {
		total += size(r)
	}
	if total <= whole {
		return []share{shareOf(text, !plain)}
	}
	var out []share
	start, used := 0, 0
	for i, r := range text {
		if n := size(r); used+n > part {
			out = append(out, shareOf(text[start:i], !plain))
			start, used = i, n
		} else {
			used += n
		}
	}
	return append(out, shareOf(text[start:], !plain))
}

func shareOf(text string, wide bool) share {
	if wide {
		return share{wide: true, data: toUCS2(text), text: text}
	}
	data, _ := toSeptets(text)
	return share{data: data, text: text}
}

// Parts is how many messages the network will count for text.
func Parts(text string) int {
	return len(shares(strings.ToValidUTF8(text, "?"), partSeptets, partUnits))
}

// sendable is shares of a text that can be sent at all.
func sendable(text string, partSeptets, partUnits int) ([]share, error) {
	if !utf8.ValidString(text) || text == "" {
		return nil, fmt.Errorf("%w: the text is empty or no UTF-8", ErrRefused)
	}
	parts := shares(text, partSeptets, partUnits)
	if len(parts) > mostParts {
		return nil, fmt.Errorf("%w: the text takes %d parts, %d are the most", ErrRefused, len(parts), mostParts)
	}
	return parts, nil
}

// submit is one SMS-SUBMIT (TS 23.040, section 9.2.2.2), ready to be sent.
type submit struct {
	hex    string
	length int // octets without the service centre's address
}

// Bits of the first octet.
const (
	firstSubmit   = 0x01
	firstRelative = 0x10 // the validity period is relative
	firstReport   = 0x20 // a status report is wanted
	firstHeader   = 0x40 // the data begin with a header
)

// submits writes text for a number. ref tells the parts of one message from
// those of another.
func submits(number, serviceCentre, text string, valid time.Duration, ref byte) ([]submit, error) {
	parts, err := sendable(text, partSeptets, partUnits)
	if err != nil {
		return nil, err
	}
	var out []submit
	for i, s := range parts {
		var b bytes.Buffer
		first, coding := byte(firstSubmit|firstRelative|firstReport), byte(0)
		if len(parts) > 1 {
			first |= firstHeader
		}
		if s.wide {
			coding = 0x08
		}
		b.Write([]byte{first, 0})
		b.Write(address(number))
		b.Write([]byte{0, coding, validity(valid)})
		var header []byte
		if len(parts) > 1 {
			header = []byte{5, 0, 3, ref, byte(len(parts)), byte(i + 1)}
		}
		b.Write(s.userData(header))
		all := append(centre(serviceCentre), b.Bytes()...)
		out = append(out, submit{hex: strings.ToUpper(hex.EncodeToString(all)), length: b.Len()})
	}
	return out, nil
}

// userData is the length of the data, the header and the data.
func (s share) userData(header []byte) []byte {
	if s.wide {
		return append(append([]byte{byte(len(header) + len(s.data))}, header...), s.data...)
	}
	if len(header) == 0 {
		return append([]byte{byte(len(s.data))}, pack(s.data, 0)...)
	}
	return append(append([]byte{byte(headerSeptets + len(s.data))}, header...), pack(s.data, 1)...)
}
