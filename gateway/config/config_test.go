package config

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/engine"
	"telltale/alarms/tongue"
)

const goodFolder = "../../testdata/config/good/"

func load(t *testing.T, name string) *Config {
	t.Helper()
	c, problems := Load(goodFolder+name, fixedEnv)
	if len(problems) > 0 {
		t.Fatalf("%s has problems:\n%v", name, problems)
	}
	return c
}

func TestGoodFiles(t *testing.T) {
	files, err := filepath.Glob(goodFolder + "*.toml")
	if err != nil || len(files) < 4 {
		t.Fatalf("found %d good files (%v), want at least 4", len(files), err)
	}
	for _, f := range files {
		c := load(t, filepath.Base(f))
		if _, err := engine.New(c.Plan); err != nil {
			t.Errorf("%s: the core refuses the plan: %v", f, err)
		}
	}
}

func bands(p alarms.Place, q alarms.Quantity) []alarms.Band {
	return slices.DeleteFunc(slices.Clone(p.Bands), func(b alarms.Band) bool { return b.Quantity != q })
}

// 41, 50, 86 and 95 °F are 5, 10, 30 and 35 °C; 18 °F an hour are 10 K an hour.
func TestFahrenheit(t *testing.T) {
	c := load(t, "fahrenheit.toml")
	p := c.Plan.Houses[0].Places[0]
	b := bands(p, alarms.Temperature)
	want := alarms.Limits{LowLow: alarms.At(5), Low: alarms.At(10), High: alarms.At(30), HighHigh: alarms.At(35)}
	if len(b) != 1 || b[0].Limits != want || b[0].Deadband != 0.5 {
		t.Errorf("got the bands %+v, want one with %+v and a deadband of 0.5", b, want)
	}
	if r := p.Rates; len(r) != 1 || r[0].Rise != alarms.At(10) || r[0].Fall.Set {
		t.Errorf("got the rates %+v, want a rise of 10 K an hour", r)
	}
	if d := bands(p, alarms.DewMargin); len(d) != 1 || d[0].Low != alarms.At(1) {
		t.Errorf("got the dew margin %+v, want low at 1 K", d)
	}
	s := p.Probes[0].Streams[0]
	if s.Min != alarms.At(-30) || s.Max != alarms.At(85) || s.Offset != -0.5 || s.Jump != 10 || p.Disagree[alarms.Temperature] != 2 || p.LeafBelowAir != alarms.At(1) {
		t.Errorf("got stream %+v, disagreement %v, leaf %v; want -30 to 85, offset -0.5, jump 10, 2 and 1", s, p.Disagree, p.LeafBelowAir)
	}
	if !c.Plan.Words.Fahrenheit || c.Plan.Words.Zone.String() != "EST5EDT" {
		t.Errorf("got the words %+v", c.Plan.Words)
	}
	if d := c.Plan.Houses[0].Day; !d.Fixed || d.Start != 6*time.Hour || d.End != 21*time.Hour || d.Zone != c.Plan.Words.Zone {
		t.Errorf("got the day %+v, want 06:00 to 21:00", d)
	}
}

// A limit of the file replaces the crop's by day and by night, and leaves the
// crop's others alone.
func TestCropLimits(t *testing.T) {
	tomato, ok := crop.Lookup("tomato")
	if !ok {
		t.Fatal("no tomato")
	}
	p := load(t, "own-broker.toml").Plan.Houses[0].Places[0]
	for _, b := range bands(p, alarms.Temperature) {
		of := tomato.Day
		switch {
		case len(b.Seasons) > 0:
			if b.Low != alarms.At(2) || b.LowLow != alarms.At(0) || b.High.Set || !strings.Contains(b.Source, "empty in winter") {
				t.Errorf("got the winter's band %+v", b)
			}
			continue
		case b.When == alarms.Always:
			if b.Low != alarms.At(11) || b.High.Set {
				t.Errorf("got the band for all day %+v, want low at 11 alone", b)
			}
			continue
		case b.When == alarms.Night:
			of = tomato.Night
		}
		if b.Low != alarms.At(11) || b.LowLow != alarms.At(of.LowLow.Value) || b.High != alarms.At(of.High.Value) || b.HighHigh != alarms.At(of.HighHigh.Value) {
			t.Errorf("got the band by %s %+v, want low at 11 and the crop's others %+v", b.When, b.Limits, of)
		}
		if !strings.Contains(b.Source, of.High.Source) || !strings.Contains(b.Source, "set in the configuration") {
			t.Errorf("the source %q does not name where the limits come from", b.Source)
		}
	}
	if h := bands(p, alarms.Humidity); len(h) != 0 {
		t.Errorf("got the humidity %+v, want none: what the crop stands for hours is counted as exposure", h)
	}
}

// A zero in the file is none, which the plan writes as negative.
func TestZeroIsNone(t *testing.T) {
	c := load(t, "every-key.toml")
	h := c.Plan.Houses[0]
	b := bands(h.Places[0], alarms.Temperature)[0]
	got := []time.Duration{b.Delay, b.QuickDelay, h.Day.Settle, h.Places[0].Rates[0].ClearDelay, c.Plan.Link.Delay, c.Plan.Reminders.Low}
	for i, d := range got {
		if d >= 0 {
			t.Errorf("duration %d is %s, want none, which is negative", i, d)
		}
	}
	if b.ClearDelay != 2*time.Minute {
		t.Errorf("got a clear delay of %s, want 2m", b.ClearDelay)
	}
	s := h.Places[0].Probes[0].Streams[0]
	if s.Jump >= 0 || s.StuckFor >= 0 {
		t.Errorf("got jump %v and stuck %v, want any and never", s.Jump, s.StuckFor)
	}
}

func TestSources(t *testing.T) {
	c := load(t, "every-key.toml")
	want := []string{
		"bench-1 thimble-garth/bench-1 json temperature@/t humidity@/rh clock=/at,ms",
		"bench-1 thimble-garth/bench-1/battery number battery@ clock=,",
		"fan-1 thimble-garth/shutter number contact@ clock=,",
		"fan-1 thimble-garth/fan line current@amperes clock=,s",
		"door-1 thimble-garth/door number contact@ clock=,", "roof-1 thimble-garth/roof number contact@ clock=,",
	}
	var got []string
	for _, s := range c.Sources {
		line := fmt.Sprintf("%s %s %s", s.Probe, s.Filter, s.Form)
		for _, r := range s.Reads {
			line += fmt.Sprintf(" %s@%s", r.Quantity, r.At)
		}
		got = append(got, line+fmt.Sprintf(" clock=%s,%s", s.Clock.At, s.Clock.Unit))
		if !strings.HasPrefix(s.Where, goodFolder+"every-key.toml:") {
			t.Errorf("the source says it is from %q", s.Where)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if r := c.Sources[0].Reads[0]; r.Unit != "°C" || r.Factor != 0.1 || !r.Optional {
		t.Errorf("got the read %+v", r)
	}
	if r := c.Sources[3].Reads[0]; r.Measurement != "fan" || r.Tags["fan"] != "exhaust" {
		t.Errorf("got the read %+v", r)
	}
}

// Every way of printing a configuration hides its secrets.
func TestSecretsAreHidden(t *testing.T) {
	c := load(t, "every-key.toml")
	if c.Page.Password.Reveal() != "correct-horse-of-thimble-garth" || !c.Heartbeat.URL.Given() {
		t.Fatal("the secrets were not read")
	}
	wrapped := struct{ hidden Secret }{c.Page.Password}
	for _, v := range []any{c, *c, c.Page.Password, &c.Page.Password, wrapped, &wrapped, errors.New(c.Page.Password.String()),
		map[string]Secret{"a": c.Page.Password}, []Secret{c.Page.Password}} {
		for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%q", "%x", "%d"} {
			if out := fmt.Sprintf(verb, v); strings.Contains(out, "correct-horse") || strings.Contains(out, "636f7272656374") {
				t.Errorf("%s of %T shows a secret: %s", verb, v, out)
			}
		}
	}
	out, err := json.Marshal(c.Reach)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(out), "correct-horse") || !strings.Contains(string(out), "(secret)") {
		t.Errorf("JSON shows a secret, or nothing in its place: %s", out)
	}
}

// The service manager's folders go before the configuration's own. What was
// taken from a folder carries its name.
func TestServiceManagerFolders(t *testing.T) {
	dir := t.TempDir()
	data, err := os.ReadFile(goodFolder + "minimal.toml")
	if err != nil {
		t.Fatal(err)
	}
	env := map[string]string{"CREDENTIALS_DIRECTORY": dir, "STATE_DIRECTORY": "/var/lib/a:/var/lib/b"}
	for name, file := range map[string]string{"page-password": "page-password", "secrets/page": "secrets_page"} {
		if err := os.WriteFile(filepath.Join(dir, file), []byte("a few plain words of "+file+"\n"), 0o400); err != nil {
			t.Fatal(err)
		}
		c, problems := Parse("x.toml", fmt.Appendf(data, "\n[page]\npassword-file = %q\n", name),
			func(k string) (string, bool) { v, ok := env[k]; return v, ok })
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		if c.Page.Password.Reveal() != "a few plain words of "+file || c.Store.Directory != "/var/lib/a" {
			t.Errorf("%s: got the password %q and the directory %q", name, c.Page.Password.Reveal(), c.Store.Directory)
		}
	}
}

func TestLoadMissingFile(t *testing.T) {
	c, problems := Load(filepath.Join(t.TempDir(), "none.toml"), fixedEnv)
	if c != nil || problems.Err() == nil || !strings.HasSuffix(problems.Error(), "none.toml: cannot be read: there is no such file") {
		t.Errorf("got %v, %v", c, problems)
	}
}

func TestProblemsAsError(t *testing.T) {
	warning := Problem{File: "a.toml", Line: 2, Says: tongue.Put("is odd"), Warning: true}
	bad := Problem{File: "a.toml", Line: 1, Path: "page", Says: tongue.Put("is wrong")}
	all := Problems{warning, bad, warning}.sorted()
	if got, want := all.Error(), "a.toml:1: page: is wrong\na.toml:2: warning: is odd"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if err := all.Warnings().Err(); err != nil {
		t.Errorf("warnings alone are the error %v, want none", err)
	}
	if got := all.Err(); got == nil || got.Error() != "a.toml:1: page: is wrong" {
		t.Errorf("got the error %v", got)
	}
}
