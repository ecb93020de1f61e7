package decode

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

var cameAt = time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)

func sampled(payloads ...string) []Sample {
	var out []Sample
	for i, p := range payloads {
		out = append(out, Sample{Payload: []byte(p), At: cameAt.Add(-time.Duration(i) * time.Minute)})
	}
	return out
}

// said writes what is proposed: "quantity value unit factor from where", with
// a ? where the grower is asked.
func said(ps []Proposal) string {
	var all []string
	for _, p := range ps {
		var b strings.Builder
		if p.Of != "" {
			b.WriteString(p.Of + ": ")
		}
		b.WriteString(string(p.Form))
		for _, s := range p.Spots {
			if s.Use < 0 {
				continue
			}
			c := s.Choices[s.Use]
			fmt.Fprintf(&b, ", %s %.6g", c.Read.Quantity, c.Value)
			if c.Read.Unit != "" {
				b.WriteString(" by " + c.Read.Unit)
			}
			if c.Read.Factor != 0 {
				fmt.Fprintf(&b, " x%g", c.Read.Factor)
			}
			if c.Read.Inverted {
				b.WriteString(" inverted")
			}
			if c.Read.Optional {
				b.WriteString(" optional")
			}
			if s.Where != "" {
				b.WriteString(" from " + s.Where)
			}
			if s.Ask != "" {
				b.WriteString("?")
			}
		}
		if !p.Measured.IsZero() {
			fmt.Fprintf(&b, ", clock %s%s", p.Clock.At, p.Clock.Unit)
		}
		all = append(all, b.String())
	}
	return strings.Join(all, "; ")
}

func TestPropose(t *testing.T) {
	for _, c := range []struct{ topic, payload, want string }{
		{"garden/bench/temperature", "21.4", "number, temperature 21.4"},
		{"garden/bench/temp", "21.4 °C\n", "number, temperature 21.4"},
		{"garden/bench/temp", "70.5 °F", "number, temperature 21.3889"},
		{"garden/bench/temp", "70.5", "number, temperature 21.3889 by °F?"},
		{"garden/bench/temp", "41.5", "number, temperature 41.5?"},
		{"garden/bench/temp", "214", "number, temperature 21.4 x0.1?"},
		{"garden/bench/temp", "2140", "number, temperature 21.4 x0.01?"},
		{"garden/bench/temp", "294.55", "number, temperature 21.4 by K?"},
		{"garden/bench/humidity", "0.63", "number, humidity 63 by ratio?"},
		{"garden/bench/rh", "63 %", "number, humidity 63"},
		{"garden/bench/rh", "1", "number, humidity 1"},
		{"garden/bench", "21.4", "number, temperature 21.4?"}, // nothing else says what it is
		{"garden/probe1", "70.5", "number, temperature 21.3889 by °F?"},
		{"garden/probe1", "1013.2", "number"},
		{"garden/probe1", `{"value":21.4}`, "json, temperature 21.4 from /value?"},
		{"garden/plug", `{"energy":{"power":12,"current":0.2,"total":3.1}}`, "json, current 0.2 from /energy/current, power 12 from /energy/power"},
		{"garden/bench", `{"wind":{"speed":3},"temperature":{"setpoint":28,"max":31}}`, "json"},
		{"garden/soil/temperature", "14.2", "number, soil 14.2"},
		{"garden/shutter", "open", "number, contact 0?"},
		{"garden/shutter", "1", "number, contact 1?"},
		{"garden/bench", `{"temperature":21.4,"humidity":63,"battery":87,"rssi":-71}`, "json, temperature 21.4 from /temperature, humidity 63 from /humidity, battery 87 from /battery, signal -71 from /rssi"},
		{"garden/bench", `{"t":21.4,"h":63,"ts":1782043200}`, "json, temperature 21.4 from /t, humidity 63 from /h, clock /tss"},
		{"garden/bench", `{"air":{"t":"21.4","rh":"63 %"},"at":"2026-06-21T11:59:58Z"}`, "json, temperature 21.4 from /air/t, humidity 63 from /air/rh, clock /at"},
		{"garden/bench", `{"temp_f":70.5,"time":1782043200000}`, "json, temperature 21.3889 by °F from /temp_f, clock /timems"},
		{"garden/bench", `{"tempC":31.0,"setpoint":28,"dewpoint":12,"uptime":4711,"co2":500}`, "json, temperature 31 from /tempC"},
		{"garden/bench/temperature", `{"value":70.5,"unit":"F"}`, "json, temperature 21.3889 by °F from /value"},
		{"garden/bench/temperature", `{"value":21.4,"unit":"C"}`, "json, temperature 21.4 from /value"},
		{"garden/bench", `{"battery":2.91}`, "json, voltage 2.91 from /battery"},
		{"garden/bench", `{"battery":2910}`, "json, voltage 2.91 by mV from /battery"},
		{"garden/bench", `{"battery_mv":2910,"pressure":1013.2}`, "json, voltage 2.91 by mV from /battery_mv, pressure 101320 by hPa from /pressure"},
		{"garden/fan", `{"current_ma":230,"running":true}`, "json, contact 1 from /running?, current 0.23 by mA from /current_ma"},
		{"garden/vent", `{"open":true}`, "json, contact 0 inverted from /open?"},
		{"garden/vent", `{"state":"closed"}`, "json, contact 1 from /state?"},
		{"garden/all", `{"bench":{"temp":21.4,"hum":63},"ridge":{"temp":25.1,"hum":50},"battery":90}`,
			"bench: json, temperature 21.4 from /bench/temp, humidity 63 from /bench/hum, battery 90 from /battery; ridge: json, temperature 25.1 from /ridge/temp, humidity 50 from /ridge/hum"},
		{"garden/all", `[{"temp":21.4},{"temp":25.1}]`, "0: json, temperature 21.4 from /0/temp; 1: json, temperature 25.1 from /1/temp"},
		{"garden/all", `{"temp1":21.4,"hum1":63,"temp2":25.1,"hum2":50}`, "1: json, temperature 21.4 from /temp1, humidity 63 from /hum1; 2: json, temperature 25.1 from /temp2, humidity 50 from /hum2"},
		{"garden/all", `{"temp_in":21.4,"temp_out":15}`, "json, temperature 21.4 from /temp_in"},
		{"garden/bench", `{"a/b":{"temp~x":21.4}}`, "json, temperature 21.4 from /a~1b/temp~0x"},
		{"garden/bench", `{"temperature":null,"humidity":63}`, "json, humidity 63 from /humidity"},
		{"garden/bench", `{"temperature":21.4,"soil_temp":14,"soil_moisture":30,"leaf_temperature":19.5}`, "json, temperature 21.4 from /temperature, surface 19.5 from /leaf_temperature, soil 14 from /soil_temp, soil-moisture 30 from /soil_moisture"},
		{"garden/tank", `{"level":64,"light":{"value":300,"unit":"W/m2"}}`, "json, level 64 from /level"},
		{"garden/tank", `[{"bn":"t-1:","n":"level","u":"%","v":64},{"n":"light","u":"lx","v":41000},{"n":"sun","u":"W/m2","v":300}]`, "senml, level 64 from t-1:level, light 41 from t-1:light"},
		{"garden/tank", `tank,probe=t-1 level=64,lux=41000,battery_level=88 1795595349`, "line, battery 88 from battery_level, level 64 from level, light 41 by lx from lux, clock s"},
		// The units of RFC 8428, section 12.1.
		{"garden/senml", `[{"bn":"urn:dev:mac:bench-1:","bt":1782043200,"n":"temperature","u":"Cel","v":21.4},{"n":"humidity","u":"%RH","v":63},{"n":"power-left","u":"%EL","v":88}]`,
			"senml, temperature 21.4 from urn:dev:mac:bench-1:temperature, humidity 63 from urn:dev:mac:bench-1:humidity, battery 88 from urn:dev:mac:bench-1:power-left"},
		{"garden/senml", `[{"n":"b-1/t","u":"Cel","v":21.4},{"n":"r-1/t","u":"Cel","v":25}]`, "b-1: senml, temperature 21.4 from b-1/t; r-1: senml, temperature 25 from r-1/t"},
		{"garden/line", "climate,bench=1 temperature=21.4,humidity=63i 1782043200000000000", "line, temperature 21.4 from temperature, humidity 63 from humidity, clock "},
		{"garden/line", "climate,at=bench temperature=21.4 1782043200\nclimate,at=ridge temperature=25 1782043200", "climate/at=bench: line, temperature 21.4 from temperature, clock s; climate/at=ridge: line, temperature 25 from temperature, clock s"},
	} {
		got, why := Propose(c.topic, sampled(c.payload))
		if s := said(got); s != c.want {
			t.Errorf("%s %s:\n got %s (%s)\nwant %s", c.topic, c.payload, s, why, c.want)
		}
	}
}

func TestProposeSaysWhyNot(t *testing.T) {
	for payload, want := range map[string]string{
		"":                    "No payload",
		"\xff\xfe\x01":        "binary",
		"ab\x02cd":            "binary",
		`{"temperature":21.4`: "begins like JSON",
		"hello there":         "neither a number",
		"21,5":                "write a decimal point",
		`{"name":"bench"}`:    "no number in it",
		"[]":                  "no number in it",
	} {
		if got, why := Propose("a", sampled(payload)); len(got) > 0 || !strings.Contains(why, want) {
			t.Errorf("%q: got %s, %q, want %q", payload, said(got), why, want)
		}
	}
}

// What is said of a payload is data, which each reads in their own language.
func TestProposeInGerman(t *testing.T) {
	german := say.Locale{Tongue: tongue.German}
	for payload, want := range map[string]string{
		`{"temp":21.4,"hum":63}`: "Temperatur, Luftfeuchte / Der Name sagt, was es ist, und die Zahl ist dafür üblich. / Der Name sagt, was es ist, und die Zahl ist dafür üblich.",
		`{"soil":19,"temp":18}`:  "Temperatur / Der Name sagt, was es ist, und die Zahl ist dafür üblich. / Weder der Name noch eine Einheit sagt, was es ist.",
		`{"setpoint":21}`:        "was gemessen wird, steht nicht dabei / Dem Namen nach ist es ein Sollwert, kein Messwert.",
		"21,5":                   "Es ist keine Zahl, wie Fühler sie senden: Es kam \"21,5\"; gebraucht wird ein Dezimalpunkt und kein Komma, wie in 21.5.",
	} {
		ps, why := Propose("garden/bench", sampled(payload))
		got := german.Kept(why, time.Time{})
		for _, p := range ps {
			got += german.Kept(p.Measures(), time.Time{})
			for _, s := range p.Spots {
				got += " / " + german.Kept(s.Why, time.Time{})
			}
		}
		if got != want {
			t.Errorf("%s:\n got %s\nwant %s", payload, got, want)
		}
	}
}

// What all samples show decides, and what only some have is optional.
func TestProposeLooksAtSeveralPayloads(t *testing.T) {
	got, _ := Propose("garden/bench", sampled(`{"temp":300,"hum":1}`, `{"temp":214,"hum":0.55,"batt":90}`, "offline"))
	if s, want := said(got), "json, temperature 30 x0.1 from /temp?, humidity 100 by ratio from /hum?, battery 90 optional from /batt"; s != want {
		t.Errorf("got %s, want %s", s, want)
	}
}

// Whatever is chosen, the source decodes to the very value that was shown.
func TestEveryChoiceReadsWhatItShows(t *testing.T) {
	for _, payload := range []string{
		"21.4", "214", "0.5", `{"temperature":21.4,"humidity":63,"battery":0.9,"open":true,"p":1013}`, `{"t":{"value":70,"unit":"°F"}}`,
		`[{"n":"a:t","u":"Cel","v":21.4},{"n":"a:on","vb":true}]`, "m,a=b t=21.4,h=50i 1782043200000000000",
	} {
		proposals, why := Propose("x", sampled(payload))
		if len(proposals) == 0 {
			t.Fatalf("%s: %s", payload, why)
		}
		for _, p := range proposals {
			for i, spot := range p.Spots {
				for j, c := range spot.Choices {
					holds(t, payload, p, i, j, c)
					if slices.ContainsFunc(spot.Choices[:j], func(o Choice) bool { return sameRead(o.Read, c.Read) }) {
						t.Errorf("%s: %s by %q is offered twice", payload, c.Read.Quantity, c.Read.Unit)
					}
				}
			}
		}
	}
}

func holds(t *testing.T, payload string, p Proposal, i, j int, c Choice) {
	t.Helper()
	use := make([]int, len(p.Spots))
	for k := range use {
		use[k] = -1
	}
	use[i] = j
	s, err := p.source("bench-1", "x", use)
	if err != nil {
		t.Fatalf("%s: %v", payload, err)
	}
	table, err := New([]Source{s})
	if err != nil {
		t.Fatal(err)
	}
	got := math.NaN()
	problems := table.Decode("x", []byte(payload), cameAt, func(v Value) { got = v.Value })
	if got != c.Value || len(problems) > 0 {
		t.Errorf("%s: %+v gives %v, want %v; %v", payload, c.Read, got, c.Value, problems)
	}
}

func TestSourceRefusesWhatIsNotThere(t *testing.T) {
	p, _ := Propose("x", sampled(`{"temperature":21.4,"temp":22}`))
	if _, err := p[0].source("b", "x", []int{99, -1}); err == nil || !strings.Contains(err.Error(), "no choice 99") {
		t.Errorf("got %v", err)
	}
	if _, err := p[0].source("b", "x", []int{0, 0}); err == nil || !strings.Contains(err.Error(), "claims temperature twice") {
		t.Errorf("got %v", err)
	}
	if _, err := p[0].source("b", "x", p[0].uses()); err != nil {
		t.Error(err)
	}
}

func FuzzPropose(f *testing.F) {
	for _, s := range []string{"21.4", `{"t":1}`, `[{"n":"a","v":1}]`, "m f=1", "open", `[[[]]]`, `{"-":{"t":5}}`} {
		f.Add("a/b", s)
	}
	f.Fuzz(func(t *testing.T, topic, payload string) {
		got, why := Propose(topic, sampled(payload))
		if len(got) == 0 && why == "" {
			t.Error("nothing is proposed, and not why")
		}
		for _, p := range got {
			uses := p.uses()
			if _, err := p.source("bench-1", "x", uses); err != nil && slices.Max(uses) >= 0 {
				t.Errorf("%v: %+v", err, p)
			}
			for _, s := range p.Spots {
				if s.Use >= len(s.Choices) || s.Use >= 0 && math.IsNaN(s.Choices[s.Use].Value) {
					t.Errorf("%+v", s)
				}
				for _, c := range s.Choices {
					if !c.Read.Quantity.Known() || c.Read.Quantity.Derived() || c.Read.Quantity == alarms.VPD {
						t.Errorf("%+v", c)
					}
				}
			}
		}
	})
}

// source is what p reads with one choice for each spot, -1 for none.
func (p Proposal) source(probe alarms.ProbeID, topic string, use []int) (Source, error) {
	s := Source{Probe: probe, Filter: topic, Form: p.Form, Clock: p.Clock, Where: "this topic"}
	for i, spot := range p.Spots {
		if i >= len(use) || use[i] < 0 {
			continue
		}
		if use[i] >= len(spot.Choices) {
			return s, fmt.Errorf("%s: there is no choice %d, want 0 to %d", cmp.Or(spot.Where, "the payload"), use[i], len(spot.Choices)-1)
		}
		s.Reads = append(s.Reads, spot.Choices[use[i]].Read)
	}
	if len(s.Reads) == 0 {
		s.Clock = Clock{}
	}
	_, err := New([]Source{s})
	return s, err
}

// uses are the choices that p proposes.
func (p Proposal) uses() []int {
	out := make([]int, len(p.Spots))
	for i, s := range p.Spots {
		out[i] = s.Use
	}
	return out
}
