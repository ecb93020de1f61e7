package gateway

import (
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

const tendConfig = `
[house.long-house]
name = "Long House"
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
delay = "1s"
quick-delay = "1s"
clear-delay = "1s"
[probe.bench-1]
place = "long-house/bench"
every = "10m"
topic = "g/bench"
temperature = { jump = "any", offset = 0.5 }
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
[channel.lamp]
kind = "command"
run = ["/bin/true"]
[person.ada]
channels = ["lamp"]
[[tell]]
people = ["ada"]
from-priority = "low"
[export]
file = "LINES"
`

// tendWatch is a running watch that a browser tends.
type tendWatch struct {
	t       *testing.T
	parts   *parts
	at      Running
	browser *http.Client
	stop    func()
	send    func(string)
}

func tend(t *testing.T, c *config.Config) *tendWatch {
	t.Helper()
	w := &tendWatch{t: t}
	w.parts, w.at, w.stop = running(t, c)
	jar, err := cookiejar.New(nil)
	ok(t, err)
	w.browser = &http.Client{Jar: jar, Timeout: 10 * time.Second}
	probe := dial(t, w.at.Broker, w.at.User, w.at.Password)
	w.send = func(payload string) {
		if token := probe.Publish("g/bench", 1, false, payload); !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
			t.Fatalf("%s was not taken: %v", payload, token.Error())
		}
	}
	return w
}

func (w *tendWatch) get(path string) string {
	w.t.Helper()
	req, err := http.NewRequest("GET", "http://"+w.at.Page+path, nil)
	ok(w.t, err)
	req.Header.Set("Accept", "text/html")
	req.Header.Set("Sec-Fetch-Site", "none")
	return w.answer(w.browser.Do(req))
}

func (w *tendWatch) answer(resp *http.Response, err error) string {
	w.t.Helper()
	ok(w.t, err)
	text, err := io.ReadAll(resp.Body)
	ok(w.t, errors.Join(err, resp.Body.Close()))
	if resp.StatusCode != http.StatusOK {
		w.t.Fatalf("%s: %s\n%s", resp.Request.URL, resp.Status, text)
	}
	return string(text)
}

// post sends a form from a page that has it.
func (w *tendWatch) post(from, to string, fields url.Values) string {
	w.t.Helper()
	if !strings.Contains(w.get(from), `action="`+to+`"`) {
		w.t.Fatalf("%s has no form for %s", from, to)
	}
	req, err := http.NewRequest("POST", "http://"+w.at.Page+to, strings.NewReader(fields.Encode()))
	ok(w.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Accept", "text/html")
	return w.answer(w.browser.Do(req))
}

func (w *tendWatch) value() float64 {
	return point(w.parts.watch.Picture(), "bench", alarms.Temperature).Value
}

// A calibration agreed to on the page changes what is judged, shown, kept and
// exported from then on, adds to the config's own offset, and outlives a restart.
func TestACalibrationChangesWhatIsJudgedAndSurvives(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	lines := filepath.Join(dir, "lines")
	c, err := read(strings.Replace(tendConfig, "LINES", lines, 1), filepath.Join(dir, "store"))
	ok(t, err)
	w := tend(t, c)
	w.send("33")
	await(t, "33 and the config's 0.5 are too much", func() bool { return stateOf(w.parts.watch.Picture(), benchHigh) == alarms.Unacknowledged })
	if v := w.value(); v != 33.5 {
		t.Errorf("the bench is at %v, want 33.5", v)
	}

	const compared = "/probes/bench-1?quantity=temperature&against=reference&value=31.5"
	text := w.get(compared)
	m := regexp.MustCompile(`name="offset" value="([^"]+)"`).FindStringSubmatch(text)
	if m == nil || m[1] != "-2" || !strings.Contains(text, "which is the only reading of the last 40 min") {
		t.Fatalf("the page works out %v in\n%s", m, text)
	}
	said := w.post(compared, "/probes/calibrate", url.Values{"probe": {"bench-1"}, "quantity": {"temperature"}, "offset": {m[1]},
		"note": {"beside a good thermometer"}, "who": {"Ada"}, "then": {"probe"}})
	if !strings.Contains(said, "2.00 °C is taken off each temperature, set by Ada (beside a good thermometer).") {
		t.Errorf("the page of the probe says\n%s", said)
	}
	if v := w.value(); v != 31.5 {
		t.Errorf("what it said a moment ago is now %v, want 31.5", v)
	}
	await(t, "the alarm is over", func() bool { return stateOf(w.parts.watch.Picture(), benchHigh) == alarms.ReturnedUnack })
	w.send("34")
	await(t, "34 is 32.5", func() bool { return w.value() == 32.5 })
	w.stop()

	w = tend(t, c)
	w.send("34.4")
	await(t, "after a restart 34.4 is 32.9", func() bool { return w.value() == 32.9 })
	if s := stateOf(w.parts.watch.Picture(), benchHigh); s.Active() {
		t.Errorf("32.9 of 33 is %v", s)
	}
	w.send("34.6")
	await(t, "34.6 is too much", func() bool { return stateOf(w.parts.watch.Picture(), benchHigh) == alarms.Unacknowledged })
	var kept []float64
	rs, err := w.parts.store.History.Readings(t.Context(), "bench-1", alarms.Temperature, time.Now().Add(-time.Hour), time.Now().Add(time.Hour), 0)
	ok(t, err)
	for _, r := range rs {
		kept = append(kept, r.Value)
	}
	if len(kept) != 4 || kept[0] != 33.5 || kept[1] != 32.5 || kept[2] != 32.9 || kept[3] != 33.1 {
		t.Errorf("the history has %v, want 33.5 32.5 32.9 33.1", kept)
	}
	refused(t, w)
	looked(t, w)
	w.stop()
	exported, err := os.ReadFile(lines)
	ok(t, err)
	for _, want := range []string{"temperature=33.5", "temperature=32.9", "temperature=33.1"} {
		if !strings.Contains(string(exported), want) {
			t.Errorf("the export lacks %s:\n%s", want, exported)
		}
	}
}

// refused asks for what the core does not take.
func refused(t *testing.T, w *tendWatch) {
	t.Helper()
	tend := &tending{watch: w.parts.watch}
	err := tend.Calibrate(t.Context(), alarms.Input{Kind: alarms.Calibrate, Probe: "bench-1", Quantity: alarms.Temperature, Value: 30})
	var no service.Refusal
	if !errors.As(err, &no) || !strings.Contains(no.Error(), "off by more than 20.0 °C is to be replaced") {
		t.Errorf("an offset of 30 K: %v", err)
	}
	if got := no.In(tongue.German); got != "nicht kalibriert: ein Fühler, der um mehr als 20,0 °C falsch geht, ist zu ersetzen" {
		t.Errorf("an offset of 30 K in German: %q", got)
	}
	err = tend.Calibrate(t.Context(), alarms.Input{Kind: alarms.Calibrate, Probe: "nobody", Quantity: alarms.Temperature, Value: 1})
	if !errors.As(err, &no) || no.Error() != "not calibrated: the probe measures no temperature" || no.In(tongue.German) != "nicht kalibriert: das misst der Fühler nicht (Temperatur)" {
		t.Errorf("an unknown probe: %v", err)
	}
	if c := w.parts.watch.Picture().Houses[0].Places[0].Probes[0].Calibrations; len(c) != 1 || c[0].Offset != -2 {
		t.Errorf("after that it has %+v", c)
	}
}

// looked reads the pages that look back.
func looked(t *testing.T, w *tendWatch) {
	t.Helper()
	for path, wants := range map[string][]string{
		"/probes":                     {"bench-1", "it should every 10 min", "2.00 °C is taken off"},
		"/log?of=people":              {"probe bench-1 is calibrated anew", "was not calibrated"},
		"/log?of=alarms&words=33.1":   {"33.1 °C", "Who was told"},
		"/told?person=ada":            {"ada by lamp", "sent", "The program took it and ended well", "33.5 °C"},
		"/alarm?id=" + benchHigh:      {"Nobody has acknowledged it yet", "33.5 °C", "ada by lamp"},
		"/log?of=people&words=season": {"Nothing like that."},
	} {
		text := ""
		await(t, path, func() bool {
			text = w.get(path)
			for _, want := range wants {
				if !strings.Contains(text, want) {
					return false
				}
			}
			return true
		})
	}
}

func TestOutcomesAsTheyAreShown(t *testing.T) {
	failed, held := &store.Attempt{Outcome: store.Failed}, &store.Attempt{Outcome: store.Postponed}
	for _, c := range []struct {
		r    store.Telling
		want service.ToldOutcome
	}{
		{store.Telling{}, service.ToldWaiting}, {store.Telling{Last: held}, service.ToldWaiting}, {store.Telling{Last: failed}, service.ToldFailed},
		{store.Telling{State: store.TellingTold}, service.ToldHandedOver}, {store.Telling{State: store.TellingAbandoned}, service.ToldGivenUp},
		{store.Telling{State: store.TellingCancelled}, service.ToldNotNeeded}, {store.Telling{State: store.TellingRehearsed}, service.ToldRehearsed},
		{store.Telling{State: store.TellingTold, Last: &store.Attempt{Outcome: store.Arrived}}, service.ToldDelivered},
		{store.Telling{State: store.TellingTold, Last: &store.Attempt{Outcome: store.Undelivered}}, service.ToldUndelivered},
		{store.Telling{State: store.TellingTold, Last: &store.Attempt{Outcome: store.Underway}}, service.ToldHandedOver},
	} {
		if got := outcomeShown(c.r); got != c.want {
			t.Errorf("%+v: got %s, want %s", c.r, got, c.want)
		}
	}
}
