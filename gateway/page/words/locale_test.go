package words

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

func asking(language, degrees string) *http.Request {
	r := httptest.NewRequest("GET", "/", nil)
	r.Header.Set("Accept-Language", language)
	if degrees != "" {
		r.AddCookie(&http.Cookie{Name: DegreesCookie, Value: degrees})
	}
	return r
}

// Decimal marks and hour cycles are those of the Unicode CLDR; the marks are
// read from golang.org/x/text, the cycles and units from memory.
func TestLocaleOfTheBrowser(t *testing.T) {
	for _, c := range []struct {
		language, degrees  string
		inFile, fahrenheit bool // as the garden has it
		want               Locale
	}{
		{"", "", false, false, Locale{}},
		{"not a language;;", "", false, true, Locale{Fahrenheit: true}},
		{"en-GB,en;q=0.8", "", false, false, Locale{}},
		{"de-DE,de;q=0.9,en;q=0.5", "", false, false, Locale{Tongue: tongue.German, Decimal: ","}},
		{"fr", "", false, false, Locale{Decimal: ","}},
		{"sv-SE", "", true, true, Locale{Decimal: ",", Fahrenheit: true}},
		{"de-CH", "", false, false, Locale{Tongue: tongue.German}},
		{"en-US,en;q=0.9", "", false, false, Locale{Hours12: true, Fahrenheit: true}},
		{"en-US,en;q=0.9", "", true, false, Locale{Hours12: true}},
		{"en-US,en;q=0.9", "c", false, false, Locale{Hours12: true}},
		{"en-GB", "f", true, false, Locale{Fahrenheit: true}},
		{"en-GB", "x", true, false, Locale{}},
		{"en", "", false, false, Locale{Hours12: true}}, // no region is named: the unit is the garden's
		{"es-MX", "", false, false, Locale{Hours12: true}},
		{"ar-EG", "", false, false, Locale{}}, // other digits: as in English
	} {
		if got := LocaleOf(asking(c.language, c.degrees), c.fahrenheit, c.inFile); got != c.want {
			t.Errorf("%q, %q chosen, in the file %v: got %+v, want %+v", c.language, c.degrees, c.inFile, got, c.want)
		}
	}
}

func TestLocaleOfText(t *testing.T) {
	comma, twelve := Locale{Decimal: ","}, Locale{Hours12: true}
	for _, c := range []struct {
		locale     Locale
		text, want string
	}{
		{Locale{}, "41.2 °C since 14:05", "41.2 °C since 14:05"},
		{comma, "Bench: 41.2 °C, 1.2 °C above the limit of 40.0 °C.", "Bench: 41,2 °C, 1,2 °C above the limit of 40,0 °C."},
		{comma, "It is −0.5. Then 12.", "It is −0,5. Then 12."},
		{comma, "rose to 12.5.", "rose to 12,5."},
		{comma, "Broker 127.0.0.1 is lost", "Broker 127.0.0.1 is lost"},
		{comma, "1,200 of 3.5", "1,200 of 3,5"},
		{twelve, "since 00:05", "since 12:05" + NoBreak + "am"},
		{twelve, "since 09:30:15 on 2 January", "since 9:30:15" + NoBreak + "am on 2 January"},
		{twelve, "from 12:00 to 23:59.", "from 12:00" + NoBreak + "pm to 11:59" + NoBreak + "pm."},
		{twelve, "at 10:00", "at 10:00" + NoBreak + "am"},
		{twelve, "127.0.0.1:8470 and 1:05 and 25:10", "127.0.0.1:8470 and 1:05 and 25:10"},
	} {
		if got := c.locale.Text(c.text); got != c.want {
			t.Errorf("%q: got %q, want %q", c.text, got, c.want)
		}
	}
}

func TestWordsInALocale(t *testing.T) {
	w := New(alarms.Words{}).In(Locale{Fahrenheit: true, Decimal: ",", Hours12: true})
	at := time.Date(2026, 6, 21, 15, 4, 5, 0, time.UTC)
	for got, want := range map[string]string{
		w.Value(alarms.Temperature, 36.6):       "97,9" + NoBreak + "°F",
		w.limit(alarms.Temperature, 36.6):       "97,9",
		w.limit(alarms.Temperature, 30):         "86",
		w.Difference(alarms.Temperature, 0.5):   "0,9" + NoBreak + "°F",
		w.Value(alarms.Humidity, 92):            "92" + NoBreak + "%",
		w.Clock(at, at):                         "3:04" + NoBreak + "pm",
		w.ClockSeconds(at, at.AddDate(0, 0, 1)): "Sun 3:04:05" + NoBreak + "pm",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
