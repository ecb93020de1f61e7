package modem

import (
	"encoding/hex"
	"strings"
	"unicode/utf16"
)

// basic is the GSM 7 bit default alphabet of TS 23.038, section 6.2.1, in the
// order of its codes. 0x1B leads to the extension table.
const basic = "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞ\x1bÆæßÉ" +
	" !\"#¤%&'()*+,-./0123456789:;<=>?" +
	"¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§" +
	"¿abcdefghijklmnopqrstuvwxyzäöñüà"

const escape = 0x1b

// extended is the extension table of section 6.2.1.1. A page break is a form
// feed here.
var extended = map[byte]rune{
	0x0a: '\f', 0x14: '^', 0x28: '{', 0x29: '}', 0x2f: '\\', 0x3c: '[', 0x3d: '~', 0x3e: ']', 0x40: '|', 0x65: '€',
}

var (
	runes   = []rune(basic)
	septets = septetTable()
)

// septetTable gives each sign its septets: one, or the escape and one.
func septetTable() map[rune]string {
	t := map[rune]string{}
	for code, r := range runes {
		if code != escape {
			t[r] = string([]byte{byte(code)})
		}
	}
	for code, r := range extended {
		t[r] = string([]byte{escape, code})
	}
	return t
}

// toSeptets writes text in the default alphabet, one septet in a byte. ok is
// false when a sign is not in it.
func toSeptets(text string) (out []byte, ok bool) {
	for _, r := range text {
		s, found := septets[r]
		if !found {
			return nil, false
		}
		out = append(out, s...)
	}
	return out, true
}

// fromSeptets reads the default alphabet. A code that the extension table
// does not have stands for the sign of the basic table, as the standard asks.
func fromSeptets(codes []byte) string {
	var b strings.Builder
	for i := 0; i < len(codes); i++ {
		c := codes[i] & 0x7f
		if c != escape {
			b.WriteRune(runes[c])
			continue
		}
		if i++; i == len(codes) {
			b.WriteByte(' ') // cut off behind the escape
			break
		}
		next := codes[i] & 0x7f
		switch r, known := extended[next]; {
		case known:
			b.WriteRune(r)
		case next == escape:
			b.WriteByte(' ') // reserved for a further table
		default:
			b.WriteRune(runes[next])
		}
	}
	return b.String()
}

// pack puts septets into octets, the first behind fill bits of padding
// (TS 23.038, section 6.1.2.1).
func pack(codes []byte, fill int) []byte {
	out := make([]byte, (len(codes)*7+fill+7)/8)
	bit := fill
	for _, c := range codes {
		c &= 0x7f
		out[bit/8] |= c << (bit % 8)
		if bit%8 > 1 {
			out[bit/8+1] |= c >> (8 - bit%8)
		}
		bit += 7
	}
	return out
}

// unpack takes up to n septets out of octets.
func unpack(octets []byte, n, fill int) []byte {
	n = max(0, min(n, (len(octets)*8-fill)/7))
	out := make([]byte, n)
	bit := fill
	for i := range out {
		c := octets[bit/8] >> (bit % 8)
		if bit%8 > 1 {
			c |= octets[bit/8+1] << (8 - bit%8)
		}
		out[i] = c & 0x7f
		bit += 7
	}
	return out
}

// toUCS2 writes text in 16 bit units, the higher byte first. Signs beyond
// 16 bits become pairs, as all telephones in use read them.
func toUCS2(text string) []byte {
	var out []byte
	for _, u := range utf16.Encode([]rune(text)) {
		out = append(out, byte(u>>8), byte(u))
	}
	return out
}

func fromUCS2(octets []byte) string {
	units := make([]uint16, len(octets)/2)
	for i := range units {
		units[i] = uint16(octets[2*i])<<8 | uint16(octets[2*i+1])
	}
	return string(utf16.Decode(units))
}

// fromHexUCS2 reads what text mode writes as hexadecimal UCS-2.
func fromHexUCS2(text string) string {
	b, err := hex.DecodeString(text)
	if err != nil {
		return text
	}
	return fromUCS2(b)
}
