package words

import (
	"net/http"
	"regexp"
	"strings"
	"unicode/utf8"

	"telltale/alarms/tongue"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// Locale is how one visitor writes numbers and times. The zero value is that
// of the core: a decimal point and 24 hours.
type Locale struct {
	Tongue     tongue.Tongue
	Fahrenheit bool
	Decimal    string // decimal mark where it is not a point
	Hours12    bool
}

// twelveHours are the regions where most people read 12-hour clocks: from
// memory of the Unicode CLDR's preferred hour cycles, as far as their languages
// write Latin digits.
const twelveHours = " US CA AU NZ IN PH MY SG PK ZA KE NG GH CO MX PR HN NI SV PA DO EC PE VE "

// fahrenheitRegions use °F for the weather: from memory of the Unicode CLDR's
// unit preferences.
const fahrenheitRegions = " US BS BZ KY PR PW "

// DegreesCookie is where a device keeps its unit of temperature: "c" or "f".
const DegreesCookie = "telltale-degrees"

// TongueCookie is where a device keeps the code of its language, where one was chosen.
const TongueCookie = "telltale-tongue"

// LocaleOf reads the languages that r's browser prefers, best first. inFile
// says that the garden's own file chose the unit of temperature, which holds
// where the visitor chose none.
func LocaleOf(r *http.Request, fahrenheit, inFile bool) Locale {
	m := Locale{Fahrenheit: fahrenheit}
	tags, _, err := language.ParseAcceptLanguage(r.Header.Get("Accept-Language"))
	if err != nil {
		tags = nil
	}
	m.Tongue = tongueOf(r, tags)
	if len(tags) > 0 {
		region, sure := tags[0].Region()
		home := " " + region.String() + " "
		m.Decimal = decimalMark(tags[0])
		m.Hours12 = strings.Contains(twelveHours, home) && sure != language.No
		if !inFile && sure == language.Exact {
			m.Fahrenheit = strings.Contains(fahrenheitRegions, home)
		}
	}
	if m.Tongue != tongue.English && (len(tags) == 0 || codeOf(tags[0]) != m.Tongue.Code()) {
		m.Decimal, m.Hours12 = decimalMark(language.Make(m.Tongue.Code())), false // numbers go with their sentences
	}
	if c, err := r.Cookie(DegreesCookie); err == nil {
		switch c.Value {
		case "c":
			m.Fahrenheit = false
		case "f":
			m.Fahrenheit = true
		}
	}
	return m
}

// tongueOf is the language that was chosen on the device, else the one of ours that
// its browser likes best.
func tongueOf(r *http.Request, tags []language.Tag) tongue.Tongue {
	if c, err := r.Cookie(TongueCookie); err == nil {
		for _, t := range tongue.Tongues() {
			if t.Code() == c.Value {
				return t
			}
		}
	}
	for _, tag := range tags {
		for _, t := range tongue.Tongues() {
			if t.Code() == codeOf(tag) {
				return t
			}
		}
	}
	return tongue.English
}

func codeOf(tag language.Tag) string {
	base, _ := tag.Base()
	return base.String()
}

// decimalMark is "" for a point, and for languages that do not write Latin
// digits: none of the page's words are in those.
func decimalMark(tag language.Tag) string {
	half := message.NewPrinter(tag).Sprint(number.Decimal(0.5))
	mark := strings.TrimSuffix(strings.TrimPrefix(half, "0"), "5")
	if mark == "." || utf8.RuneCountInString(mark) != 1 || mark == half {
		return ""
	}
	return mark
}

var (
	decimals = regexp.MustCompile(`[\d.]*\d\.\d[\d.]*`)
	clocks   = regexp.MustCompile(`\b([01]\d|2[0-3])(:[0-5]\d(?::[0-5]\d)?)\b`)
)

// Text rewrites the numbers and clock times of an English sentence. What has
// more than one point, as a network address has, is no number.
func (m Locale) Text(s string) string {
	if m.Decimal != "" {
		s = decimals.ReplaceAllStringFunc(s, func(n string) string {
			if whole := strings.TrimSuffix(n, "."); strings.Count(whole, ".") == 1 && !strings.HasPrefix(whole, ".") {
				return strings.Replace(n, ".", m.Decimal, 1)
			}
			return n
		})
	}
	if m.Hours12 {
		s = clocks.ReplaceAllStringFunc(s, twelve)
	}
	return s
}

// twelve writes a 24-hour clock time in 12 hours.
func twelve(clock string) string {
	hour := int(clock[0]-'0')*10 + int(clock[1]-'0')
	half := NoBreak + "am"
	if hour >= 12 {
		half = NoBreak + "pm"
	}
	if hour %= 12; hour == 0 {
		hour = 12
	}
	digits := string(rune('0' + hour%10))
	if hour >= 10 {
		digits = "1" + digits
	}
	return digits + clock[2:] + half
}
