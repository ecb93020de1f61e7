package page

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// plain serves the garden of tended.
func plain(t *testing.T) (*started, *fakeWatch, *fakeTending) {
	f, tend := tended()
	return start(t, Options{Watch: f, Tending: tend}), f, tend
}

func TestWithoutTendingThereAreNoSuchPages(t *testing.T) {
	st := start(t, Options{Watch: struct{ service.Watch }{newFake()}})
	for _, path := range []string{"/log", "/probes", "/probes/bench-1", "/told", "/loop", "/alarm?id=a"} {
		if a, _ := st.get(path); a.StatusCode != http.StatusNotFound {
			t.Errorf("%s: got status %d, want 404", path, a.StatusCode)
		}
	}
	_, text := st.get("/")
	wantNone(t, text, `<a href="/probes">`, `<a href="/told">`, `<a href="/loop">`)
}

func TestShelvingNeedsAReasonAndSaysIt(t *testing.T) {
	st, f, _ := plain(t)
	for _, reason := range []string{"", " \t "} {
		a, text := st.post("/alarms/shelve", "alarm", ridge, "for", "2h", "reason", reason)
		if a.StatusCode != http.StatusBadRequest || len(f.done()) != 0 {
			t.Fatalf("without a reason: status %d, %+v", a.StatusCode, f.done())
		}
		wantAll(t, reading(text), "Give the reason in a few words")
	}
	f.change(func(p *alarms.Picture) {
		p.Alarms[3].By, p.Alarms[3].Note = "Ben", "frost cloth is on"
		p.Alarms[5].By, p.Alarms[5].Note = "Ada", "no inlet in summer"
	})
	_, text := st.get("/")
	wantAll(t, reading(text), "Shelved by Ben until 14:02: “frost cloth is on”. It is still so.",
		"Out of service until somebody puts it back, taken out by Ada: “no inlet in summer”. It is not so at the moment.")
}

func TestOneAlarmGoesOutOfServiceAndBack(t *testing.T) {
	st, f, _ := plain(t)
	a, text := st.post("/alarms/out", "alarm", ridge, "who", "Ada")
	if a.StatusCode != http.StatusBadRequest {
		t.Errorf("without a reason: got status %d", a.StatusCode)
	}
	wantAll(t, reading(text), "Give the reason")
	a, _ = st.post("/alarms/out", "alarm", "nowhere/high", "reason", "x")
	if a.StatusCode != http.StatusConflict {
		t.Errorf("no such alarm: got status %d", a.StatusCode)
	}
	n := len(f.done())
	a, _ = st.post("/alarms/out", "alarm", ridge, "reason", "the ridge is open for repair", "who", "Ada", "then", "alarm")
	if want := "/alarm?id=" + url.QueryEscape(ridge) + "&said=alarm-out"; a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != want {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	want := alarms.Input{At: noon, Kind: alarms.TakeOut, Alarm: ridge, By: "Ada", Note: "the ridge is open for repair"}
	if got := f.done(); len(got) != n+1 || got[n] != want {
		t.Fatalf("got %+v, want %+v", got, want)
	}
	_, text = st.get(a.Header.Get("Location"))
	wantAll(t, reading(text), "The alarm is out of service", "taken out by Ada: “the ridge is open for repair”", "Put back into service")
	wantNone(t, reading(text), "Take it out of service…")
	a, _ = st.post("/alarms/back", "alarm", ridge)
	back := alarms.Input{At: noon, Kind: alarms.PutBack, Alarm: ridge, By: "Ada"}
	if got := f.done(); a.StatusCode != http.StatusSeeOther || got[len(got)-1] != back {
		t.Errorf("got status %d, %+v", a.StatusCode, got)
	}
}

// What was taken out as a probe goes back as a probe.
func TestTheSilenceOfAProbeOutGoesBackWithIt(t *testing.T) {
	st, f, _ := plain(t)
	const id = "long-house/shutter/switch-1/silent"
	f.change(func(p *alarms.Picture) {
		p.Alarms = append(p.Alarms, alarms.AlarmPicture{ID: id, State: alarms.OutOfService, Rule: alarms.RuleSilent, Sentence: "Out."})
	})
	st.post("/alarms/back", "alarm", id, "who", "Ben")
	want := alarms.Input{At: noon, Kind: alarms.PutBack, Probe: "switch-1", By: "Ben"}
	if got := f.done(); len(got) != 1 || got[0] != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestVentsChangeTheSeason(t *testing.T) {
	st, f, _ := plain(t)
	for _, c := range []struct {
		vents  string
		season alarms.Season
	}{{"covered", alarms.SeasonWinter}, {"uncovered", alarms.SeasonOpen}} {
		a, _ := st.post("/vents", "house", "long-house", "vents", c.vents, "who", "Ben")
		got := f.done()
		want := alarms.Input{At: noon, Kind: alarms.SetSeason, House: "long-house", Season: c.season, By: "Ben"}
		if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/?said=vents-"+c.vents || got[len(got)-1] != want {
			t.Errorf("%s: got status %d to %q, %+v", c.vents, a.StatusCode, a.Header.Get("Location"), got)
		}
	}
	n := len(f.done())
	st.post("/vents", "house", "long-house", "vents", "uncovered") // they are
	for what, c := range map[string][2]string{"no house": {"glass-house", "covered"}, "nothing": {"long-house", "half"}} {
		if a, _ := st.post("/vents", "house", c[0], "vents", c[1]); a.StatusCode < 400 {
			t.Errorf("%s: got status %d", what, a.StatusCode)
		}
	}
	if len(f.done()) != n {
		t.Errorf("something was done: %+v", f.done()[n:])
	}
}

func TestVentsSayWhatIsDue(t *testing.T) {
	for name, c := range map[string]struct {
		now, proposed alarms.Season
		due           string
		buttons       []string
	}{
		"summer":        {alarms.SeasonOpen, "", "", []string{"covered"}},
		"time to cover": {alarms.SeasonOpen, alarms.SeasonWinter, "It is time to cover the vents for winter.", []string{"covered!"}},
		"time to open":  {alarms.SeasonWinter, alarms.SeasonOpen, "It is time to uncover the vents.", []string{"uncovered!"}},
		"changing over": {alarms.SeasonChanging, "", "", []string{"covered", "uncovered"}},
	} {
		v := ventsOf(alarms.HousePicture{ID: "long-house", Name: "Long House", Season: c.now, Proposed: c.proposed})
		var got []string
		for _, b := range v.Buttons {
			name := b.Value
			if b.Due {
				name += "!"
			}
			got = append(got, name)
		}
		if string(v.Due) != c.due || fmt.Sprint(got) != fmt.Sprint(c.buttons) {
			t.Errorf("%s: got %q, %q", name, v.Due, got)
		}
	}
}

// Greenspan 1977, table 2, from memory, at 25 °C and between two of its rows.
func TestHumidityOverSalts(t *testing.T) {
	for _, c := range []struct {
		key     string
		celsius float64
		want    float64
	}{{"nacl", 25, 75.29}, {"mgcl2", 25, 32.78}, {"kcl", 25, 84.34}, {"nacl", 0, 75.51}, {"nacl", 40, 74.68}, {"kcl", 22.5, 84.725}} {
		s, ok := saltOf(c.key)
		rh, known := s.humidity(c.celsius)
		if !ok || !known || math.Abs(rh-c.want) > 1e-9 {
			t.Errorf("%s at %v: got %v, %v, want %v", c.key, c.celsius, rh, known, c.want)
		}
	}
	for _, celsius := range []float64{-0.1, 40.1, math.NaN()} {
		if rh, ok := salts[0].humidity(celsius); ok {
			t.Errorf("at %v °C: got %v", celsius, rh)
		}
	}
	if _, ok := saltOf("sugar"); ok {
		t.Error("sugar is a salt")
	}
}

func TestProbesAreListedWithWhatAilsThem(t *testing.T) {
	st, _, _ := plain(t)
	a, text := st.get("/probes")
	if a.StatusCode != http.StatusOK {
		t.Fatalf("got status %d", a.StatusCode)
	}
	wantAll(t, reading(text), "1 of 4 probes report as they should. One is out of service.",
		"Reports every 30 s; it should every 30 s", "Reports every 60 s; as learned, about 60 s", "Reports every 29.9 s", "Came in 24 hours 99.8 % (2874 of 2880 readings)",
		"Came in 7 days 99.9 % (20150 of 20160 readings)", "Longest gap in 7 days 12 min, from Fri 10:02; the watch itself was away for 3 min",
		"3 readings late, doubled or not believed; 1 message unreadable",
		"Came since Thu 12:02", "It needs a new battery.", "Many of its readings are lost.",
		"Since Sat 10:02 out of service until somebody puts it back, taken out by Ben: “the wire is being renewed”.",
		"It is silent.", "It has never been heard.")
	wantAll(t, text, `<a href="/probes/bench-1">bench 1</a>`)
	if ridge, bench := strings.Index(text, "ridge 1"), strings.Index(text, "bench 1"); ridge > bench {
		t.Error("what is ill does not stand first")
	}
}

func TestShareNeverLooksBetterThanItIs(t *testing.T) {
	w := words.New(alarms.Words{})
	for got, want := range map[service.Received]string{{Got: 0, Want: 100}: "0 % (0 of 100 readings)", {Got: 99999, Want: 100000}: "99.9 % (99999 of 100000 readings)",
		{Got: 120, Want: 100}: "100 % (100 of 100 readings)", {Got: 1, Want: 0}: "1 reading", {Got: 0, Want: 0}: "0 readings"} {
		if f := receivedFact(w, "", got); f.Words != want {
			t.Errorf("%+v: got %q, want %q", got, f.Words, want)
		}
	}
}

// A read-only interface error is told, not swallowed.
func TestWhatCannotBeReadIsAFault(t *testing.T) {
	st, _, tend := plain(t)
	tend.err = errors.New("the disk is gone")
	for _, path := range []string{"/probes", "/probes/bench-1", "/told", "/log", "/loop", "/alarm?id=" + ridge} {
		a, text := st.get(path)
		if a.StatusCode != http.StatusInternalServerError {
			t.Errorf("%s: got status %d, want 500", path, a.StatusCode)
		}
		wantNone(t, text, "the disk is gone")
	}
}

func TestLoopPage(t *testing.T) {
	st, f, _ := plain(t)
	_, text := st.get("/loop")
	wantAll(t, reading(text), "The ground takes 212 W out of the house now", "the pipe at 2.3 m is the better one now",
		"At 2.3 m the better depth now Loop outlet 2.3 m", "Air at its outlet 13.8 °C", "Ground there, undisturbed 11.6 °C", "Brings now 114 W of cold",
		"0.4 °C colder", "83 %", "Today 1.2 kWh of heat and 0.02 kWh of cold; the fan drew 0.21 kWh, so that is 6.0 kWh for each kWh of the fan; air moved for 5 h.",
		"The last 7 days 8.2 kWh of heat and 3.5 kWh of cold", "The last 30 days 21.2 kWh of heat and 10.0 kWh of cold", "Since the watch counts 412.0 kWh of heat",
		"Sat 20 June 1.0 kWh of heat and 0.50 kWh of cold in 6 h.", "1.5 m: 1.0 kWh of heat and 0.50 kWh of cold.")
	_, text = st.get("/")
	wantAll(t, text, `<a href="/loop"`)
	f.change(func(p *alarms.Picture) { p.Houses[0].Loop = nil })
	if a, _ := st.get("/loop"); a.StatusCode != http.StatusNotFound {
		t.Errorf("without a loop: got status %d", a.StatusCode)
	}
	_, text = st.get("/")
	wantNone(t, text, `<a href="/loop"`)
}
