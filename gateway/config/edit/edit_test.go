package edit

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
)

func draft(t *testing.T, text string) *Draft {
	t.Helper()
	d, problems := newDraft("x.toml", []byte(text), fixedEnv)
	if d == nil {
		t.Fatal(problems)
	}
	return d
}

func p(v float64) *float64 { return &v }

// firstProbe sets up one probe in a house of its own.
func firstProbe(d *Draft) {
	d.SetPageName("Thimble Garth")
	d.SetWords(WordsEdit{Zone: "CET"})
	h := d.NewHouseID("Long House")
	d.SetHouse(HouseEdit{ID: h, Name: "Long House", Latitude: p(52), Longitude: p(-2.25)})
	pl := d.NewPlaceID(h, "bench")
	d.SetPlace(PlaceEdit{House: h, ID: pl, Name: "bench", Crop: "tomato",
		Limits: []LimitEdit{{Quantity: alarms.Temperature, Low: p(11), High: p(31.5)}}})
	d.SetProbe(ProbeEdit{ID: d.NewProbeID("Bench 1"), Name: "Bench 1", House: h, Place: pl, Topic: "thimble-garth/bench-1", Form: "json",
		TimeFrom: "/at", TimeUnit: "ms", Reads: []decode.Read{{Quantity: alarms.Temperature, At: "/air/t", Factor: 0.1}, {Quantity: alarms.Humidity, At: "/air/rh", Unit: "ratio"}}})
	d.TellNobody("only tried out so far")
}

func TestAFirstProbeIsWrittenAsAPersonWould(t *testing.T) {
	d := draft(t, "# Mine.\n\n[page]\naddress = \"127.0.0.1:0\" # here alone\n")
	firstProbe(d)
	const want = `# Mine.

[page]
address = "127.0.0.1:0" # here alone
name = "Thimble Garth"

[words]
zone = "CET"

[house.long-house]
name = "Long House"
latitude = 52
longitude = -2.25

[house.long-house.place.bench]
name = "bench"
crop = "tomato"

[house.long-house.place.bench.temperature]
low = 11
high = 31.5

[probe.bench-1]
name = "Bench 1"
place = "long-house/bench"
topic = "thimble-garth/bench-1"
form = "json"
time-from = "/at"
time-unit = "ms"
temperature = { from = "/air/t", factor = 0.1 }
humidity = { from = "/air/rh", unit = "ratio" }

# Alarms show on the page alone. To be told of them, name a channel, a person
# and [[tell]] here, and take this table out.
[nobody-told]
because = "only tried out so far"
`
	if got := d.Text(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	c, problems := d.Config()
	if c == nil {
		t.Fatal(problems)
	}
	read := c.Sources[0].Reads[0]
	if pl := c.Plan.Houses[0].Places[0]; pl.ID != "bench" || len(pl.Bands) == 0 || read.At != "/air/t" || read.Factor != 0.1 || c.Reach.Nobody == "" {
		t.Errorf("got %+v %+v", pl, read)
	}
}

func TestAddedThingsStandWithTheirOwn(t *testing.T) {
	d := draft(t, `[house.long-house]
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 30 # as Ada says
# low = 8
[probe.bench-1] # the white one
place = "long-house/bench"
topic = "thimble-garth/bench-1"
temperature = {}
# circuit = "north"

# Everything else.
[nobody-told]
because = "tried out"
[page]
address = "127.0.0.1:0"`)
	d.SetPlace(PlaceEdit{House: "long-house", ID: "bench", Name: "north bench", Limits: []LimitEdit{{Quantity: alarms.Temperature, Low: p(8), High: p(30)}}})
	d.SetPlace(PlaceEdit{House: "long-house", ID: "ridge", Limits: []LimitEdit{{Quantity: alarms.Temperature, High: p(40)}}})
	d.SetProbe(ProbeEdit{ID: "ridge-1", House: "long-house", Place: "ridge", Topic: "thimble-garth/ridge-1", Reads: []decode.Read{{Quantity: alarms.Temperature, Unit: "°F"}}})
	d.SetProbe(ProbeEdit{ID: "bench-1", Every: "1m", Reads: []decode.Read{{Quantity: alarms.Temperature, Unit: "K"}}})
	d.SetMail(MailEdit{Name: d.NewChannel("mail"), Server: "127.0.0.1:25", Security: "none", From: "watch@example.org"})
	d.SetPerson(PersonEdit{ID: d.NewPersonID("Ada"), Name: "Ada", Mail: "ada@example.org", Channels: []string{"mail"}})
	d.Tell("ada")
	const want = `[house.long-house]
latitude = 52.0
longitude = -2.0

[house.long-house.place.bench]
name = "north bench"

[house.long-house.place.bench.temperature]
high = 30 # as Ada says
low = 8
# low = 8

[house.long-house.place.ridge]

[house.long-house.place.ridge.temperature]
high = 40

[probe.bench-1] # the white one
place = "long-house/bench"
topic = "thimble-garth/bench-1"
temperature = { unit = "K" }
every = "1m"
# circuit = "north"

[probe.ridge-1]
place = "long-house/ridge"
topic = "thimble-garth/ridge-1"
temperature = { unit = "°F" }

# Everything else.
[page]
address = "127.0.0.1:0"

[channel.mail]
kind = "mail"
server = "127.0.0.1:25"
security = "none"
from = "watch@example.org"

[person.ada]
name = "Ada"
mail = "ada@example.org"
channels = ["mail"]

[[tell]]
people = ["ada"]
`
	if got := d.Text(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if c, problems := d.Config(); c == nil {
		t.Error(problems)
	}
}

func TestNamesBecomeIDs(t *testing.T) {
	d := draft(t, "[house.long-house]\n[house.long-house.place.bench]\n[house.long-house.circuit.north]\n[probe]\nbench-1 = {}\n")
	for _, c := range []struct{ got, want string }{
		{d.NewHouseID("Long House"), "long-house-1"}, {d.NewHouseID(" Low  House! "), "low-house"}, {d.NewHouseID("Watch"), "watch-1"},
		{d.NewHouseID("Gewächshaus Süd"), "gewachshaus-sud"}, {d.NewHouseID("温室"), "house-1"}, {d.NewPlaceID("long-house", "North"), "north-1"},
		{d.NewPlaceID("long-house", "Temperature"), "temperature-1"}, {d.NewPlaceID("long-house", "Season"), "season-1"},
		{d.NewPlaceID("low-house", "Bench"), "bench"}, {d.NewProbeID("Bench 1"), "bench-2"}, {d.NewProbeID("7"), "7"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// saved makes a file to edit, reached by a symbolic link.
func saved(t *testing.T, text string) (link, file string) {
	t.Helper()
	dir := t.TempDir()
	link, file = filepath.Join(dir, "link.toml"), filepath.Join(dir, "real.toml")
	if err := errors.Join(os.WriteFile(file, []byte(text), 0o600), os.Chmod(file, 0o640), os.Symlink("real.toml", link)); err != nil {
		t.Fatal(err)
	}
	return link, file
}

func TestSaveIsWholeAndKeepsWhatWas(t *testing.T) {
	const before = "# Mine.\r\n[page]\r\naddress = \"127.0.0.1:0\"\r\n"
	link, file := saved(t, before)
	d, problems := OpenDraft(link, fixedEnv)
	if d == nil {
		t.Fatal(problems)
	}
	firstProbe(d)
	if err := d.Save(); err != nil {
		t.Fatal(err)
	}
	now, _ := os.ReadFile(file)
	info, _ := os.Stat(file)
	isLink, _ := os.Lstat(link)
	if string(now) != d.Text() || strings.Count(string(now), "\n") != strings.Count(string(now), "\r\n") || info.Mode().Perm() != 0o640 || isLink.Mode()&os.ModeSymlink == 0 {
		t.Errorf("mode %v, link %v, got\n%s", info.Mode(), isLink.Mode(), now)
	}
	if kept, _ := os.ReadFile(file + "~"); string(kept) != before {
		t.Errorf("kept %q", kept)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(file), ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if os.Geteuid() == 0 {
		if err := os.Chown(file, 65534, 65534); err != nil {
			t.Fatal(err)
		}
		again, _ := OpenDraft(link, fixedEnv)
		again.SetPageName("Thimble Garth too")
		if err := again.Save(); err != nil {
			t.Fatal(err)
		}
		if owner := ownerOf(t, file); owner != 65534 {
			t.Errorf("the file now belongs to %d, want its owner as it was", owner)
		}
	}
}

func TestSaveRefuses(t *testing.T) {
	link, file := saved(t, "[page]\naddress = \"127.0.0.1:0\"\n")
	d, _ := OpenDraft(link, fixedEnv)
	d.SetHouse(HouseEdit{ID: "long-house"})
	var problems config.Problems
	if err := d.Save(); !errors.As(err, &problems) || !strings.Contains(problems.Error(), "has no place") {
		t.Errorf("a house without a place: %v", err)
	}
	d, _ = OpenDraft(link, fixedEnv)
	firstProbe(d)
	const theirs = "[page]\naddress = \"127.0.0.1:1\"\n"
	if err := os.WriteFile(file, []byte(theirs), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := d.Save(); !errors.Is(err, ErrChanged) {
		t.Errorf("a file that changed: %v", err)
	}
	if now, _ := os.ReadFile(file); string(now) != theirs {
		t.Errorf("it wrote %q", now)
	}
	if d, problems := OpenDraft(file+"x", fixedEnv); d != nil || !strings.Contains(problems.Error(), "no such file") {
		t.Errorf("got %v, %v", d, problems)
	}
	if d, problems := newDraft("x.toml", []byte("= 3"), fixedEnv); d != nil || !strings.Contains(problems.Error(), "not TOML") {
		t.Errorf("got %v, %v", d, problems)
	}
}

func TestChangesShowWhatComesAndGoes(t *testing.T) {
	d := draft(t, "# one\n# two\n# three\n[words]\nzone = \"UTC\" # here\n# four\n# five\n# six\n")
	d.SetWords(WordsEdit{Zone: "CET"})
	var got []string
	for _, l := range d.Changes() {
		got = append(got, string(l.Move)+l.Text)
	}
	want := "~|" + " # three| [words]|-zone = \"UTC\" # here|+zone = \"CET\" # here| # four| # five|~"
	if strings.Join(got, "|") != want {
		t.Errorf("got %q, want %q", strings.Join(got, "|"), want)
	}
}
