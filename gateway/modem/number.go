package modem

import (
	"errors"
	"fmt"
	"strings"
)

// Number is a telephone number, or the name that a service sends under.
type Number struct {
	Text  string // digits, after a + where it is international; or a name
	Named bool   // Text is a name, or a number that may be forged: it proves nobody
}

// String returns the number as people write it.
func (n Number) String() string { return n.Text }

// Types of number and numbering plan (TS 23.040, section 9.1.2.5), with the
// bit that is always set.
const (
	kindUnknown       = 0x81 // as it is dialled: national numbers, short codes
	kindInternational = 0x91
	kindNamed         = 0x50 // of the three bits that say the kind
	kindBits          = 0x70
)

const semi = "0123456789*#abc" // digits of a half octet; 0xF fills up

const mostDigits = 20 // of an address

// dialled keeps what can be dialled of a number as people write it.
func dialled(text string) (string, error) {
	out := strings.Map(func(r rune) rune {
		if strings.ContainsRune(" -()./", r) {
			return -1
		}
		return r
	}, text)
	digits := strings.TrimPrefix(out, "+")
	if digits == "" || len(digits) > mostDigits || strings.Trim(digits, semi) != "" {
		return "", fmt.Errorf("the number %q cannot be dialled: want digits, perhaps after a +", text)
	}
	return out, nil
}

// halves writes digits two to an octet, the first in the lower half.
func halves(digits string) []byte {
	var out []byte
	for i := 0; i < len(digits); i += 2 {
		b := byte(strings.IndexByte(semi, digits[i]))
		if i+1 < len(digits) {
			b |= byte(strings.IndexByte(semi, digits[i+1])) << 4
		} else {
			b |= 0xf0
		}
		out = append(out, b)
	}
	return out
}

// fromHalves reads n digits.
func fromHalves(octets []byte, n int) string {
	var b strings.Builder
	for i := range n {
		half := octets[i/2] >> (4 * (i % 2)) & 0xf
		if int(half) < len(semi) {
			b.WriteByte(semi[half])
		}
	}
	return b.String()
}

// kindOf splits a number into its type and its digits.
func kindOf(number string) (kind byte, digits string) {
	if rest, ok := strings.CutPrefix(number, "+"); ok {
		return kindInternational, rest
	}
	return kindUnknown, number
}

// address writes a number as originator or destination: the count of its
// digits, its type, its digits.
func address(number string) []byte {
	kind, digits := kindOf(number)
	return append([]byte{byte(len(digits)), kind}, halves(digits)...)
}

// centre writes the number of a service centre: the count of octets, its
// type, its digits. An empty one means: the one that the SIM knows.
func centre(number string) []byte {
	if number == "" {
		return []byte{0}
	}
	kind, digits := kindOf(number)
	d := halves(digits)
	return append([]byte{byte(len(d) + 1), kind}, d...)
}

var errShort = errors.New("it ends too early")

// octets are what is left to read of a message.
type octets []byte

func (o *octets) take(n int) ([]byte, error) {
	if n < 0 || n > len(*o) {
		return nil, errShort
	}
	out := (*o)[:n]
	*o = (*o)[n:]
	return out, nil
}

func (o *octets) one() (byte, error) {
	b, err := o.take(1)
	if err != nil {
		return 0, err
	}
	return b[0], nil
}

// address reads what address wrote.
func (o *octets) address() (Number, error) {
	head, err := o.take(2)
	if err != nil {
		return Number{}, err
	}
	n, kind := int(head[0]), head[1]
	if n > mostDigits+2 {
		return Number{}, fmt.Errorf("an address of %d digits is too long", n)
	}
	body, err := o.take((n + 1) / 2)
	if err != nil {
		return Number{}, err
	}
	if kind&kindBits == kindNamed {
		return Number{Text: strings.TrimRight(fromSeptets(unpack(body, n*4/7, 0)), "\r\x00"), Named: true}, nil
	}
	digits := fromHalves(body, n)
	if kind&kindBits == kindInternational&kindBits {
		digits = "+" + digits
	}
	return Number{Text: digits}, nil
}
