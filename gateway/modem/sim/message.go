package sim

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
)

// reported is a status report.
type reported struct {
	ref    int
	to     string
	at     time.Time
	status byte
}

// coded writes a parameter in the character set in use.
func (m *Modem) coded(text string) string {
	if m.set == "UCS2" {
		return wide(text)
	}
	return text
}

func wide(text string) string {
	out := ""
	for _, u := range utf16.Encode([]rune(text)) {
		out += fmt.Sprintf("%04X", u)
	}
	return out
}

func narrow(hex string) string {
	var units []uint16
	for ; len(hex) >= 4; hex = hex[4:] {
		n, _ := strconv.ParseUint(hex[:4], 16, 16) // what is no number is 0
		units = append(units, uint16(n))
	}
	return string(utf16.Decode(units))
}

// shown writes a kept message as the mode in use shows it.
func (m *Modem) shown(k kept) (head, body string) {
	switch {
	case m.text && k.status != nil:
		return "\"REC UNREAD\"," + m.reportLine(*k.status), ""
	case m.text:
		return fmt.Sprintf(`"REC UNREAD","%s",,"%s"`, m.coded(k.from), stampText(k.at)), m.coded(k.text)
	case k.status != nil:
		body = reportPDU(*k.status)
	default:
		body = deliverPDU(k.from, k.text, k.at)
	}
	return fmt.Sprintf("0,,%d", len(body)/2-1), body
}

func (m *Modem) reportLine(r reported) string {
	return fmt.Sprintf(`6,%d,"%s",145,"%s","%s",%d`, r.ref, m.coded(r.to), stampText(r.at), stampText(r.at), r.status)
}

func stampText(t time.Time) string {
	_, off := t.Zone()
	return t.Format("06/01/02,15:04:05") + fmt.Sprintf("%+03d", off/900)
}

// swapped writes digits two to an octet, turned round.
func swapped(digits string) string {
	if len(digits)%2 == 1 {
		digits += "F"
	}
	out := ""
	for i := 0; i < len(digits); i += 2 {
		out += digits[i+1:i+2] + digits[i:i+1]
	}
	return out
}

func addressPDU(number string) string {
	digits := strings.TrimPrefix(number, "+")
	kind := "81"
	if digits != number {
		kind = "91"
	}
	return fmt.Sprintf("%02X%s%s", len(digits), kind, swapped(digits))
}

func stampPDU(t time.Time) string { return swapped(t.UTC().Format("060102150405")) + "00" }

// deliverPDU writes an SMS-DELIVER: plain signs in seven bits, others in UCS-2.
func deliverPDU(from, text string, at time.Time) string {
	ascii := strings.IndexFunc(text, func(r rune) bool {
		return !(r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' || strings.ContainsRune(" .,?!", r))
	}) < 0
	if !ascii {
		return "00" + "04" + addressPDU(from) + "0008" + stampPDU(at) + fmt.Sprintf("%02X", len(wide(text))/2) + wide(text)
	}
	bits := "" // the highest first
	for _, r := range text {
		bits = fmt.Sprintf("%07b", r) + bits
	}
	return "00" + "04" + addressPDU(from) + "0000" + stampPDU(at) + fmt.Sprintf("%02X", len(text)) + octetsOf(bits)
}

func octetsOf(bits string) string {
	for len(bits)%8 != 0 {
		bits = "0" + bits
	}
	out := ""
	for ; bits != ""; bits = bits[:len(bits)-8] {
		n, _ := strconv.ParseUint(bits[len(bits)-8:], 2, 8) // bits it is
		out += fmt.Sprintf("%02X", n)
	}
	return out
}

func reportPDU(r reported) string {
	return "00" + "06" + fmt.Sprintf("%02X", r.ref) + addressPDU(r.to) + stampPDU(r.at) + stampPDU(r.at) + fmt.Sprintf("%02X", r.status)
}

// plain is the part of the default alphabet that differs from ASCII and that
// tests send; from memory of TS 23.038.
var plain = map[uint64]rune{0x00: '@', 0x01: '£', 0x02: '$', 0x05: 'é', 0x11: '_', 0x5b: 'Ä', 0x5e: 'Ü', 0x5f: '§', 0x7b: 'ä', 0x7e: 'ü', 0x7f: 'à'}

// readSubmit reads an SMS-SUBMIT.
func readSubmit(hex string) (s Sent, ok bool) {
	at := 0
	take := func(octets int) string {
		from := min(len(hex), at)
		at += 2 * octets
		return hex[from:min(len(hex), at)]
	}
	number := func(octets int) int {
		n, _ := strconv.ParseUint(take(octets), 16, 32) // what is no number is 0
		return int(n)
	}
	take(number(1)) // service centre
	first := number(1)
	take(1) // reference
	digits := number(1)
	kind := take(1)
	to := strings.Trim(swapped(take((digits+1)/2)), "F")
	if kind == "91" {
		to = "+" + to
	}
	take(1) // protocol
	s = Sent{To: to, Total: 1, Number: 1, ReportWanted: first&0x20 != 0, Wide: number(1) == 8}
	take(1) // validity
	length, skip := number(1), 0
	data := hex[min(len(hex), at):]
	if first&0x40 != 0 && len(data) >= 12 {
		skip = 6
		s.Ref, s.Total, s.Number = octet(data, 3), octet(data, 4), octet(data, 5)
	}
	if s.Wide {
		s.Text = narrow(data[2*skip:])
	} else {
		s.Text = sevens(data, length, (skip*8+6)/7)
	}
	return s, first&3 == 1 && at <= len(hex)
}

func octet(hex string, i int) int {
	n, _ := strconv.ParseUint(hex[2*i:2*i+2], 16, 8) // what is no number is 0
	return int(n)
}

// sevens reads the septets from the given one on.
func sevens(hex string, length, from int) string {
	bits := "" // the highest first
	for i := range len(hex) / 2 {
		bits = fmt.Sprintf("%08b", octet(hex, i)) + bits
	}
	out := ""
	for i := from; i < length; i++ {
		end := len(bits) - 7*i
		if end-7 < 0 {
			break
		}
		n, _ := strconv.ParseUint(bits[end-7:end], 2, 8) // bits it is
		r, odd := plain[n]
		if !odd {
			r = rune(n)
		}
		out += string(r)
	}
	return out
}
