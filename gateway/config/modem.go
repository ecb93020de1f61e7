package config

import (
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"telltale/alarms/tongue"
)

// Modem is the modem that sends text messages and lets telephones ring.
type Modem struct {
	Wanted        bool   // there is one
	Device        string // of the serial line, absolute path
	Baud          int
	PIN           Secret // of the SIM; not given: it wants none
	TextMode      bool
	ServiceCentre string        // number; empty: the one on the SIM
	RingFor       time.Duration // 0: default
	MostPerDay    int           // text messages; 0: default
}

// Kinds of channel that need a modem.
const (
	ByText ChannelKind = "text" // text messages
	ByRing ChannelKind = "ring" // calls that say nothing
)

// needsPhone reports whether people on a channel of kind k need a number.
func (k ChannelKind) needsPhone() bool { return k == ByText || k == ByRing }

const defaultBaud = 115200

var simPIN = regexp.MustCompile(`^[0-9]{4,8}$`) // TS 31.101: four to eight digits

func readModem(root *table, out Reach) Modem {
	t := root.table("modem")
	defer t.done()
	needed := slices.ContainsFunc(out.Channels, func(c Channel) bool { return c.Kind.needsPhone() })
	if !t.seen {
		if needed && !root.has("modem") {
			root.problem(place{root.spot("channel").line, "modem"}, "is missing: channels of kind \"text\" and \"ring\" need [modem] with device = \"/dev/serial/by-id/...\"")
		}
		return Modem{}
	}
	device := need(t, t.text("device"), "name the serial device, such as \"/dev/serial/by-id/...\" or \"/dev/ttyUSB2\"")
	if device.Set && !filepath.IsAbs(device.V) {
		root.problem(device.at, "must be the full path of a device, such as \"/dev/ttyUSB2\" (got %q)", device.V)
	}
	m := Modem{Wanted: true, Device: device.V, Baud: t.count("baud", 1200, 4000000).or(defaultBaud),
		TextMode: t.oneOf("mode", "pdu", "text").or("pdu") == "text", ServiceCentre: t.phone("service-centre").V,
		RingFor: t.span("ring-for", 5*time.Second, 2*time.Minute).V, MostPerDay: t.count("most-per-day", 1, 10000).V}
	pin := t.secret("pin")
	if m.PIN = pin.V; pin.Set && !simPIN.MatchString(pin.V.Reveal()) {
		root.problem(pin.at, "must hold the SIM's PIN, four to eight digits")
	}
	if !needed {
		root.warn(t.at, "is used by nobody: no channel is of kind \"text\" or \"ring\"")
	}
	return m
}

var international = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`) // ITU-T E.164: at most fifteen digits

// phone reads a telephone number in international form, and returns it without
// what people write between the digits.
func (t *table) phone(key string) value[string] {
	return read(t, key, func(raw any) (string, error) {
		s, _ := raw.(string)
		n := strings.NewReplacer(" ", "", "-", "", "(", "", ")", "").Replace(s)
		if !international.MatchString(n) {
			return "", tongue.Put("must be a telephone number with its country, such as \"+44 7700 900123\" (got %s)", got(raw))
		}
		return n, nil
	})
}

// checkPhone tells a person whom a modem is to reach and cannot, or could
// only by a call that says nothing.
func checkPhone(t *table, ways value[[]string], channels []Channel) {
	says, rings := false, false
	for _, c := range channels {
		if !slices.Contains(ways.V, c.Name) {
			continue
		}
		if c.Kind.needsPhone() && !t.has("phone") {
			t.problem(ways.at, "needs phone = \"+44 ...\" for the channel %q", c.Name)
		}
		rings = rings || c.Kind == ByRing
		says = says || c.Kind != ByRing && c.Kind != ByMQTT
	}
	if rings && !says {
		t.problem(ways.at, "needs a channel that says what is wrong too: a call only rings")
	}
}

// checkNumber tells a number that two people have: whoever answers by text must
// be known by it.
func checkNumber(t *table, p Person, others []Person) {
	for _, o := range others {
		if p.Phone != "" && o.Phone == p.Phone {
			t.problem(t.spot("phone"), "is the number of person %s too; who answers by text message is known by it", o.ID)
			return
		}
	}
}
