package page

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

func asking(language, degrees string) *http.Request {
	r := httptest.NewRequest("GET", "/", nil)
	r.Header.Set("Accept-Language", language)
	if degrees != "" {
		r.AddCookie(&http.Cookie{Name: degreesCookie, Value: degrees})
	}
	return r
}

// Decimal marks and hour cycles are those of the Unicode CLDR; the marks are
// read from golang.org/x/text, the cycles and units from memory.
func TestMannerOfTheBrowser(t *testing.T) {
	for _, c := range []struct {
		language, degrees  string
		inFile, fahrenheit bool // as the garden has it
		want               manner
	}{
		{"", "", false, false, manner{}},
		{"not a language;;", "", false, true, manner{fahrenheit: true}},
		{"en-GB,en;q=0.8", "", false, false, manner{}},
		{"de-DE,de;q=0.9,en;q=0.5", "", false, false, manner{decimal: ","}},
		{"fr", "", false, false, manner{decimal: ","}},
		{"sv-SE", "", true, true, manner{decimal: ",", fahrenheit: true}},
		{"de-CH", "", false, false, manner{}},
		{"en-US,en;q=0.9", "", false, false, manner{hours12: true, fahrenheit: true}},
		{"en-US,en;q=0.9", "", true, false, manner{hours12: true}},
		{"en-US,en;q=0.9", "c", false, false, manner{hours12: true}},
		{"en-GB", "f", true, false, manner{fahrenheit: true}},
		{"en-GB", "x", true, false, manner{}},
		{"en", "", false, false, manner{hours12: true}}, // no region is named: the unit is the garden's
		{"es-MX", "", false, false, manner{hours12: true}},
		{"ar-EG", "", false, false, manner{}}, // other digits: as in English
	} {
		if got := mannerOf(asking(c.language, c.degrees), c.fahrenheit, c.inFile); got != c.want {
			t.Errorf("%q, %q chosen, in the file %v: got %+v, want %+v", c.language, c.degrees, c.inFile, got, c.want)
		}
	}
}

func TestMannerOfText(t *testing.T) {
	comma, twelve := manner{decimal: ","}, manner{hours12: true}
	for _, c := range []struct {
		manner     manner
		text, want string
	}{
		{manner{}, "41.2 °C since 14:05", "41.2 °C since 14:05"},
		{comma, "Bench: 41.2 °C, 1.2 °C above the limit of 40.0 °C.", "Bench: 41,2 °C, 1,2 °C above the limit of 40,0 °C."},
		{comma, "It is −0.5. Then 12.", "It is −0,5. Then 12."},
		{comma, "rose to 12.5.", "rose to 12,5."},
		{comma, "Broker 127.0.0.1 is lost", "Broker 127.0.0.1 is lost"},
		{comma, "1,200 of 3.5", "1,200 of 3,5"},
		{twelve, "since 00:05", "since 12:05" + noBreak + "am"},
		{twelve, "since 09:30:15 on 2 January", "since 9:30:15" + noBreak + "am on 2 January"},
		{twelve, "from 12:00 to 23:59.", "from 12:00" + noBreak + "pm to 11:59" + noBreak + "pm."},
		{twelve, "at 10:00", "at 10:00" + noBreak + "am"},
		{twelve, "127.0.0.1:8470 and 1:05 and 25:10", "127.0.0.1:8470 and 1:05 and 25:10"},
	} {
		if got := c.manner.text(c.text); got != c.want {
			t.Errorf("%q: got %q, want %q", c.text, got, c.want)
		}
	}
}

// A picture that was rewritten for one visitor stays as it was for the others.
func TestMannerSharesNoPicture(t *testing.T) {
	f := newFake()
	before := f.Picture().Houses[0].Sentence
	if got := (manner{decimal: ","}).picture(f.picture).Houses[0].Sentence; !strings.Contains(got, "41,2") {
		t.Errorf("got %q", got)
	}
	if f.picture.Houses[0].Sentence != before {
		t.Errorf("the shared picture was changed to %q", f.picture.Houses[0].Sentence)
	}
}

func TestWordsInAManner(t *testing.T) {
	w := newWords(alarms.Words{}).in(manner{fahrenheit: true, decimal: ",", hours12: true})
	at := time.Date(2026, 6, 21, 15, 4, 5, 0, time.UTC)
	for got, want := range map[string]string{
		w.value(alarms.Temperature, 36.6):       "97,9" + noBreak + "°F",
		w.limit(alarms.Temperature, 36.6):       "97,9",
		w.limit(alarms.Temperature, 30):         "86",
		w.difference(alarms.Temperature, 0.5):   "0,9" + noBreak + "°F",
		w.value(alarms.Humidity, 92):            "92" + noBreak + "%",
		w.clock(at, at):                         "3:04" + noBreak + "pm",
		w.clockSeconds(at, at.AddDate(0, 0, 1)): "Sun 3:04:05" + noBreak + "pm",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// Who chooses °F gets the watch's sentences in °F, on the page and live; who
// does not gets them as before.
func TestDegreesAreChosenOnADevice(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	if _, text := st.get("/"); strings.Contains(text, "(in °F)") {
		t.Error("°F before anybody chose it")
	}
	st.post("/degrees", "degrees", "f")
	_, text := st.get("/")
	wantAll(t, reading(text), "(in °F)")
	if !strings.Contains(text, "75.7") { // 24.3 °C at the bench
		t.Error("24.3 °C is not shown as 75.7 °F")
	}
	st.post("/degrees", "degrees", "")
	if _, text := st.get("/"); strings.Contains(text, "(in °F)") {
		t.Error("°F after the choice was taken back")
	}
}
