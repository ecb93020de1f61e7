package modem

import (
	"fmt"
	"time"
)

// Standing is what the network says of a message that it took.
type Standing int

// Standings.
const (
	Trying    Standing = iota // it could not be delivered yet, and is tried again
	Delivered                 // the telephone has it
	Failed                    // it will not be delivered
)

func (s Standing) String() string {
	switch s {
	case Delivered:
		return "delivered"
	case Failed:
		return "failed"
	}
	return "still trying"
}

// Fate is the newest news of a message that was sent.
type Fate struct {
	Rows     []string // as in Text
	To       string
	Standing Standing
	Words    string // why, for people
	At       time.Time
}

// statusWords are those of TP-ST (TS 23.040, section 9.2.3.15).
var statusWords = map[byte]string{
	0x00: "the telephone has it", 0x01: "handed on; the network cannot confirm that it was delivered", 0x02: "replaced by a later one",
	0x20: "congestion", 0x21: "the telephone is busy", 0x22: "the telephone does not answer: it is off, or out of reach",
	0x23: "service rejected", 0x24: "the quality of service is not available", 0x25: "error in the telephone",
	0x40: "remote procedure error", 0x41: "incompatible destination", 0x42: "the telephone rejected it", 0x43: "not obtainable",
	0x44: "the quality of service is not available", 0x45: "no interworking with the other network",
	0x46: "the telephone was not reached in time", 0x47: "deleted by its sender", 0x48: "deleted by the service centre",
	0x49: "the service centre does not know it",
}

// standing reads a TP-ST. Values that are reserved count as the first of
// their group, which the standard asks for.
func standing(status byte) (Standing, string) {
	words := statusWords[status]
	if status >= 0x60 && status < 0x80 { // the reasons of 0x20 and up, but nobody tries again
		words = statusWords[status-0x40]
	}
	if words == "" {
		words = fmt.Sprintf("status %#02x", status)
	}
	switch {
	case status == 0x02: // what replaced it is reported by itself
		return Failed, words
	case status < 0x20:
		return Delivered, words
	case status < 0x40:
		return Trying, words
	}
	return Failed, words
}
