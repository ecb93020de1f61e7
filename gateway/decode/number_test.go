package decode

import (
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"telltale/alarms"
)

func TestPlainNumber(t *testing.T) {
	tests := []struct {
		name     string
		quantity alarms.Quantity
		unit     string
		payload  string
		want     float64
		cause    Cause
		says     string // in the detail
	}{
		{"plain", alarms.Temperature, "", "21.5", 21.5, "", ""},
		{"whole", alarms.Temperature, "", "-7", -7, "", ""},
		{"sign and exponent", alarms.Temperature, "", "+21.5e0", 21.5, "", ""},
		{"exponent", alarms.Temperature, "", "215E-1", 21.5, "", ""},
		{"no digit before the point", alarms.Temperature, "", ".5", 0.5, "", ""},
		{"no digit after the point", alarms.Temperature, "", "5.", 5, "", ""},
		{"blanks and line end", alarms.Temperature, "", "  21.5 \r\n", 21.5, "", ""},
		{"end of a C string", alarms.Temperature, "", "21.5\x00", 21.5, "", ""},
		{"many digits", alarms.Temperature, "", "21.500000000000000000000000000000001", 21.5, "", ""},
		{"declared unit", alarms.Temperature, "°F", "50", 10, "", ""},
		{"stated unit", alarms.Temperature, "", "50 °F", 10, "", ""},
		{"stated unit, no blank", alarms.Temperature, "", "21.5C", 21.5, "", ""},
		{"stated and declared agree", alarms.Temperature, "°F", "50F", 10, "", ""},
		{"percent", alarms.Humidity, "", "71 %", 71, "", ""},
		{"stated and declared differ", alarms.Temperature, "°F", "21.5 C", 0, BadUnit, "the payload states °C, the config says °F"},
		{"unit of another quantity", alarms.Temperature, "", "71 %", 0, BadUnit, "want one of °C, °F, K"},
		{"decimal comma", alarms.Temperature, "", "21,5", 0, Comma, "write a decimal point"},
		{"grouping comma", alarms.Pressure, "", "1,013.25", 0, Comma, "write a decimal point"},
		{"two numbers", alarms.Temperature, "", "21.5 22", 0, NotNumber, `got "21.5 22", want a number`},
		{"two points", alarms.Temperature, "", "21.5.3", 0, NotNumber, ""},
		{"nan", alarms.Temperature, "", "nan", 0, NotFinite, "no reading"},
		{"-NaN", alarms.Temperature, "", "-NaN", 0, NotFinite, "no reading"},
		{"Infinity", alarms.Temperature, "", "+Infinity", 0, NotFinite, "no reading"},
		{"too large", alarms.Temperature, "", "1e400", 0, NotFinite, "too large"},
		{"too large once converted", alarms.Pressure, "kPa", "1e308", 0, NotFinite, "too large"},
		{"hexadecimal", alarms.Temperature, "", "0x15", 0, BadUnit, ""},
		{"underscores", alarms.Temperature, "", "1_000", 0, NotNumber, ""},
		{"word", alarms.Temperature, "", "error", 0, NotNumber, `got "error", want a number such as 21.5`},
		{"on is no temperature", alarms.Temperature, "", "on", 0, NotNumber, ""},
		{"blanks only", alarms.Temperature, "", " \t", 0, NotNumber, "only blanks"},
		{"looks like JSON", alarms.Temperature, "", `{"t":21.5}`, 0, NotNumber, "set the form to json"},
		{"only a sign", alarms.Temperature, "", "-", 0, NotNumber, ""},
		{"only a point", alarms.Temperature, "", ".", 0, NotNumber, ""},
		{"binary", alarms.Temperature, "", "\xff\xfe", 0, NotNumber, `"\xff\xfe"`},
		{"contact 1", alarms.Contact, "", "1", 1, "", ""},
		{"contact 0.0", alarms.Contact, "", "0.0", 0, "", ""},
		{"contact closed", alarms.Contact, "", "CLOSED", 1, "", ""},
		{"contact open", alarms.Contact, "", "open\n", 0, "", ""},
		{"contact on", alarms.Contact, "", "On", 1, "", ""},
		{"contact off", alarms.Contact, "", "off", 0, "", ""},
		{"contact true", alarms.Contact, "", "true", 1, "", ""},
		{"contact false", alarms.Contact, "", "False", 0, "", ""},
		{"contact half", alarms.Contact, "", "0.5", 0, NotNumber, "want 0 or 1"},
		{"contact word", alarms.Contact, "", "ajar", 0, NotNumber, "open or closed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			table := mustNew(t, Source{Probe: "bench-1", Filter: "bench", Form: Number, Reads: one(tt.quantity, tt.unit)})
			got, problems := decodeAll(table, "bench", tt.payload)
			if tt.cause == "" {
				if len(problems) != 0 || len(got) != 1 || got[0].Value != tt.want || got[0].Quantity != tt.quantity || got[0].Probe != "bench-1" {
					t.Fatalf("got %v and %v, want %v", got, problems, tt.want)
				}
				return
			}
			if len(got) != 0 || len(problems) != 1 {
				t.Fatalf("got %v and %v, want one problem", got, problems)
			}
			p := problems[0]
			if p.Cause != tt.cause || !strings.Contains(p.Detail, tt.says) || !slices.Equal(p.Quantities, []alarms.Quantity{tt.quantity}) || p.Probe != "bench-1" {
				t.Fatalf("got %+v, want cause %q and %q", p, tt.cause, tt.says)
			}
		})
	}
}

func TestInvertedContactAndFactor(t *testing.T) {
	table := mustNew(t,
		Source{Probe: "shutter", Filter: "s", Form: Number, Reads: []Read{{Quantity: alarms.Contact, Inverted: true}}},
		Source{Probe: "ridge-1", Filter: "r", Form: Number, Reads: []Read{{Quantity: alarms.Temperature, Factor: 0.1}}},
		Source{Probe: "ridge-2", Filter: "f", Form: Number, Reads: []Read{{Quantity: alarms.Temperature, Factor: 0.01, Unit: "°F"}}})
	for _, tt := range []struct {
		topic, payload string
		want           float64
	}{{"s", "closed", 0}, {"s", "0", 1}, {"r", "217", 21.7}, {"f", "5000", 10}} {
		got, problems := decodeAll(table, tt.topic, tt.payload)
		if len(got) != 1 || got[0].Value != tt.want || problems != nil {
			t.Errorf("%s %s: got %v %v, want %v", tt.topic, tt.payload, got, problems, tt.want)
		}
	}
}

// scanNumber must take what the standard library takes, and as that does.
func TestScanNumberAgreesWithStrconv(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	digits := func(n int) string {
		var s strings.Builder
		for range n {
			s.WriteByte(byte('0' + rng.IntN(10)))
		}
		return s.String()
	}
	for range 200_000 {
		s := []string{"", "-", "+"}[rng.IntN(3)] + digits(rng.IntN(22))
		if rng.IntN(2) == 0 {
			s += "." + digits(rng.IntN(22))
		}
		if rng.IntN(3) == 0 {
			s += "e" + []string{"", "-", "+"}[rng.IntN(3)] + digits(1+rng.IntN(3))
		}
		want, err := strconv.ParseFloat(s, 64)
		got, rest, ok, _ := scanNumber([]byte(s))
		if ok != (err == nil) && !strings.HasPrefix(strings.TrimLeft(s, "+-"), "e") {
			t.Fatalf("%q: ok %v, strconv %v", s, ok, err)
		}
		if ok && (got != want || len(rest) != 0) {
			t.Fatalf("%q: got %v and rest %q, want %v", s, got, rest, want)
		}
	}
}
