package page

import (
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

var offsetIn = regexp.MustCompile(`name="offset" value="([^"]+)"`)

func TestACalibrationIsWorkedOutAndAgreedTo(t *testing.T) {
	st, f, _ := plain(t)
	_, text := st.get("/probes/bench-1?quantity=temperature&against=ice")
	wantAll(t, reading(text), "It says 0.62 °C now: the middle of 10 readings of the last 5 min, from 0.57 °C to 0.67 °C.",
		"It should say 0.00 °C (in melting ice, which is 0.0 °C).", "It says 0.62 °C too much. From now on 0.62 °C would be taken off what it sends.")
	wantNone(t, text, `name="sure"`, `class="warning" role="alert"`)
	m := offsetIn.FindStringSubmatch(text)
	if m == nil || m[1] != "-0.62" {
		t.Fatalf("the form's offset is %v", m)
	}
	if len(f.done()) != 0 {
		t.Fatal("looking did something")
	}
	a, _ := st.post("/probes/calibrate", "probe", "bench-1", "quantity", "temperature", "offset", "-0.62", "note", "in melting ice, which is 0.0 °C", "who", "Ada", "then", "probe")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/probes/bench-1?said=calibrated" {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	want := alarms.Input{At: noon, Kind: alarms.Calibrate, Probe: "bench-1", Quantity: alarms.Temperature, Value: -0.62, By: "Ada", Note: "in melting ice, which is 0.0 °C"}
	if got := f.done(); len(got) != 1 || got[0] != want {
		t.Fatalf("got %+v, want %+v", got, want)
	}
	_, text = st.get("/probes/bench-1?said=calibrated")
	wantAll(t, reading(text), "The probe is calibrated.", "0.62 °C is taken off each temperature, set by Ada (in melting ice", "0.62 °C is taken off each reading now.",
		"Take the calibration of the temperature back")
	a, _ = st.post("/probes/calibrate", "probe", "bench-1", "quantity", "temperature", "offset", "0")
	if got := f.done(); a.Header.Get("Location") != "/?said=uncalibrated" || len(got) != 2 || got[1].Value != 0 {
		t.Errorf("taken back: to %q, %+v", a.Header.Get("Location"), got)
	}
}

// What is added already counts: readings come with it.
func TestASecondCalibrationAddsToTheFirst(t *testing.T) {
	st, f, _ := plain(t)
	f.change(func(p *alarms.Picture) {
		p.Houses[0].Places[0].Probes[0].Calibrations = []alarms.CalibrationPicture{{Quantity: alarms.Temperature, Offset: -0.4, At: noon.Add(-time.Hour)}}
	})
	_, text := st.get("/probes/bench-1?quantity=temperature&against=ice")
	if m := offsetIn.FindStringSubmatch(text); m == nil || m[1] != "-1.02" {
		t.Errorf("the form's offset is %v, want -1.02", m)
	}
	// Readings from before it do not count.
	f.change(func(p *alarms.Picture) {
		p.Houses[0].Places[0].Probes[0].Calibrations = []alarms.CalibrationPicture{{Quantity: alarms.Temperature, Offset: -0.4, At: noon.Add(-65 * time.Second)}}
	})
	_, text = st.get("/probes/bench-1?quantity=temperature&against=ice")
	wantAll(t, reading(text), "the middle of 2 readings")
}

func TestCalibrationOverSaltFollowsTheTemperature(t *testing.T) {
	st, _, _ := plain(t)
	_, text := st.get("/probes/bench-1?quantity=humidity&against=nacl")
	wantAll(t, reading(text), "It says 70.1 % now", "It should say 75.3 % (over wet common salt (sodium chloride), 75.3 % at 24.3 °C).", "5.2 % would be added")
}

func TestNonsenseIsRefused(t *testing.T) {
	st, f, tend := plain(t)
	calm := tend.readings
	restless := func(_ alarms.ProbeID, _ alarms.Quantity, _, _ time.Time) []service.Point {
		return around(noon, 0.62, 0.2)
	}
	for name, c := range map[string]struct {
		ask      string // of the page
		readings func(alarms.ProbeID, alarms.Quantity, time.Time, time.Time) []service.Point
		change   func(*alarms.Picture)
		status   int
		says     string
	}{
		"far off":      {"quantity=temperature&against=reference&value=6", calm, nil, 200, "a sound probe is not off by 5.38 °C"},
		"moving":       {"quantity=temperature&against=ice", restless, nil, 200, "It moved by 0.40 °C within the last minutes. Wait until it stands still"},
		"no number":    {"quantity=temperature&against=reference&value=warm", calm, nil, 400, "Write what the reference says as a number, such as 21.4."},
		"empty":        {"quantity=temperature&against=reference&value=", calm, nil, 400, "as a number"},
		"NaN":          {"quantity=temperature&against=reference&value=NaN", calm, nil, 400, "as a number"},
		"too hot":      {"quantity=temperature&against=reference&value=214", calm, nil, 400, "No probe in a greenhouse stands at 214.0 °C."},
		"too damp":     {"quantity=humidity&against=reference&value=120", calm, nil, 400, "A humidity lies between 0 and 100 %."},
		"ice for rh":   {"quantity=humidity&against=ice", calm, nil, 400, "Say what the probe is held against."},
		"salt for t":   {"quantity=temperature&against=nacl", calm, nil, 400, "Say what the probe is held against."},
		"nothing":      {"quantity=temperature", calm, nil, 400, "Say what the probe is held against."},
		"no such":      {"quantity=soil&against=ice", calm, nil, 400, "this one has no such thing"},
		"battery":      {"quantity=battery&against=reference&value=3", calm, nil, 400, "this one has no such thing"},
		"nothing sent": {"quantity=temperature&against=ice", plainTending(f).readings, nil, 503, "The probe has sent no temperature in the last 5 min (last heard: 12:01)"},
		"long ago": {"quantity=temperature&against=ice", func(alarms.ProbeID, alarms.Quantity, time.Time, time.Time) []service.Point {
			return []service.Point{{At: noon.Add(-4 * time.Minute), Value: 1}}
		}, nil, 503, "The newest temperature is 4 min old"},
		"silent": {"quantity=temperature&against=ice", calm, func(p *alarms.Picture) { p.Houses[0].Places[0].Probes[0].Silent = true }, 503,
			"The probe cannot be calibrated now: it is silent."},
		"stuck": {"quantity=temperature&against=ice", calm, func(p *alarms.Picture) {
			p.Houses[0].Places[0].Probes[0].Faults = []alarms.Fault{alarms.FaultStuck}
		}, 503, "The probe cannot be calibrated now: it has not changed for too long."},
		"cut off": {"quantity=temperature&against=ice", calm, func(p *alarms.Picture) { p.Link = false }, 503, "The broker is not reached"},
	} {
		before := f.Picture()
		tend.readings = c.readings
		if c.change != nil {
			f.change(c.change)
		}
		a, text := st.get("/probes/bench-1?" + c.ask)
		if a.StatusCode != c.status {
			t.Errorf("%s: got status %d, want %d", name, a.StatusCode, c.status)
		}
		wantAll(t, reading(text), c.says)
		if shown := offsetIn.MatchString(text); shown != (c.status == 200) {
			t.Errorf("%s: it can be agreed to: %v", name, shown)
		}
		f.change(func(p *alarms.Picture) { *p = before })
	}
}

// The server does not trust the page.
func TestNonsenseIsRefusedFromElsewhereToo(t *testing.T) {
	st, f, tend := plain(t)
	post := func(fields ...string) (int, string) {
		a, text := st.post("/probes/calibrate", append([]string{"probe", "bench-1", "quantity", "temperature"}, fields...)...)
		return a.StatusCode, reading(text)
	}
	for _, c := range []struct {
		fields []string
		status int
		says   string
	}{
		{[]string{"offset", "-7"}, 400, "Confirm that you looked again."},
		{[]string{"offset", "much"}, 400, "does not say"},
		{[]string{"offset", "NaN"}, 400, "does not say"},
		{[]string{"offset", "+Inf", "sure", "yes"}, 400, "does not say"},
		{[]string{}, 400, "does not say"},
	} {
		status, text := post(c.fields...)
		if status != c.status {
			t.Errorf("%v: got status %d, want %d", c.fields, status, c.status)
		}
		wantAll(t, text, c.says)
	}
	if a, _ := st.post("/probes/calibrate", "probe", "nobody", "quantity", "temperature", "offset", "1"); a.StatusCode != http.StatusConflict {
		t.Errorf("no such probe: got status %d", a.StatusCode)
	}
	if a, _ := st.post("/probes/calibrate", "probe", "bench-1", "quantity", "contact", "offset", "1"); a.StatusCode != http.StatusBadRequest {
		t.Errorf("a contact: got status %d", a.StatusCode)
	}
	tend.readings = func(alarms.ProbeID, alarms.Quantity, time.Time, time.Time) []service.Point {
		return around(noon, 0.62, 0.2)
	}
	if status, text := post("offset", "-0.5"); status != http.StatusBadRequest {
		t.Errorf("moving: got status %d: %s", status, text)
	}
	if len(f.done()) != 0 {
		t.Fatalf("something was done: %+v", f.done())
	}
	tend.refusal = "not calibrated: a probe that is off by more than 20.0 °C is to be replaced"
	if status, text := post("offset", "-25", "sure", "yes"); status != http.StatusBadRequest {
		t.Errorf("refused: got status %d", status)
	} else {
		wantAll(t, text, "Not calibrated: a probe that is off by more than 20.0 °C is to be replaced.")
	}
	tend.refusal = ""
	if status, _ := post("offset", "-7", "sure", "yes"); status != http.StatusSeeOther || len(f.done()) != 1 {
		t.Errorf("confirmed: got status %d, %+v", status, f.done())
	}
}

// A reference is read in the visitor's own locale.
func TestAReferenceIsReadAsTheVisitorWritesIt(t *testing.T) {
	f := words.New(alarms.Words{Fahrenheit: true})
	comma := words.New(alarms.Words{}).In(words.Locale{Decimal: ","})
	for _, c := range []struct {
		w    words.Words
		q    alarms.Quantity
		text string
		want float64
		says string
	}{
		{words.New(alarms.Words{}), alarms.Temperature, " 21.4 °C ", 21.4, "a reference said 21.40" + words.NoBreak + "°C"},
		{words.New(alarms.Words{}), alarms.Temperature, "−3,5", -3.5, "a reference said −3.50" + words.NoBreak + "°C"},
		{f, alarms.Temperature, "70.7", 21.5, "a reference said 70.70" + words.NoBreak + "°F"},
		{f, alarms.Humidity, "62.5 %", 62.5, "a reference said 62.5" + words.NoBreak + "%"},
		{comma, alarms.Soil, "21,4", 21.4, "a reference said 21,40" + words.NoBreak + "°C"},
	} {
		got, err := referenceRead(c.w, c.text, c.q)
		if err != nil || math.Abs(got.Value-c.want) > 1e-9 || got.Words != c.says {
			t.Errorf("%q: got %+v, %v, want %v, %q", c.text, got, err, c.want, c.says)
		}
	}
	r := httptest.NewRequest("GET", "/probes/x?"+url.Values{"against": {"ice"}}.Encode(), nil)
	if err := r.ParseForm(); err != nil {
		t.Fatal(err)
	}
	got, err := heldAgainst(f, r, alarms.ProbePicture{}, alarms.Temperature)
	if err != nil || got.Value != 0 || got.Words != "in melting ice, which is 32.0"+words.NoBreak+"°F" {
		t.Errorf("ice in °F: %+v, %v", got, err)
	}
}
