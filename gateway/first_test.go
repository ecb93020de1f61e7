package gateway

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/link"
	"telltale/gateway/page"
)

func noEnv(string) (string, bool) { return "", false }

// settingUp is a first over a file and an embedded broker, with a client that
// publishes.
type settingUp struct {
	*first
	file    string
	client  mqtt.Client
	reloads int
}

func setUp(t *testing.T, text string) *settingUp {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.toml")
	ok(t, os.WriteFile(file, []byte(text), 0o600))
	c, problems := config.LoadToSetUp(file, noEnv)
	if c == nil {
		t.Fatal(problems)
	}
	b, err := link.StartBroker(link.BrokerOptions{Address: "127.0.0.1:0"})
	ok(t, err)
	s := &settingUp{file: file}
	p := &parts{cfg: c, broker: b, log: zerolog.Nop(), clock: newRealClock()}
	ok(t, p.openFirst(Options{SetUp: &SetUp{File: file, Env: noEnv, Reload: func() { s.reloads++ }}}))
	s.first = p.first
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { _ = s.scout.Run(ctx) })
	s.client = mqtt.NewClient(mqtt.NewClientOptions().AddBroker("mqtt://" + b.Addr().String()).SetClientID("probe"))
	if tok := s.client.Connect(); !tok.WaitTimeout(5*time.Minute) || tok.Error() != nil {
		t.Fatalf("the probe cannot connect: %v", tok.Error())
	}
	t.Cleanup(func() { s.client.Disconnect(0); stop(); running.Wait(); ok(t, b.Close()) })
	await(t, "the scout listens", func() bool { return s.Arrivals().Up })
	return s
}

// arrives publishes until the topic is listed.
func (s *settingUp) arrives(t *testing.T, topic, payload string) page.Arrival {
	t.Helper()
	s.client.Publish(topic, 1, false, payload).WaitTimeout(5 * time.Second)
	var got page.Arrival
	await(t, topic+" arrives", func() bool {
		for _, a := range s.Arrivals().Topics {
			if a.Topic == topic {
				got = a
				return true
			}
		}
		return false
	})
	return got
}

const bare = "# Mine.\n[store]\ndirectory = \"kept\"\n"

// wish takes what is proposed for a topic.
func (s *settingUp) wish(t *testing.T, topic string) page.Wish {
	t.Helper()
	ps, why := s.Proposals(topic)
	if len(ps) == 0 {
		t.Fatalf("%s: nothing is proposed: %s", topic, why)
	}
	p := ps[0]
	w := page.Wish{Topic: topic, Form: string(p.Form), TimeFrom: p.Clock.At, TimeUnit: string(p.Clock.Unit), Probe: "Bench 1", HouseName: "Long House", PlaceName: "bench"}
	for _, spot := range p.Spots {
		if spot.Use >= 0 {
			w.Reads = append(w.Reads, spot.Choices[spot.Use].Read)
		}
	}
	return w
}

// What is proposed, written and read again takes the very values that were
// shown out of the payload.
func TestAProposalOutlivesTheFile(t *testing.T) {
	s := setUp(t, bare)
	for topic, payload := range map[string]string{
		"a/temperature":  "21.4",
		"a/temp":         "70.5 °F",
		"a/tenths/temp":  "214",
		"a/shutter":      "open",
		"a/json":         `{"air":{"t":21.4,"rh":0.63},"battery":2910,"a/b~c":{"rssi":-71},"at":"` + time.Now().UTC().Format(time.RFC3339) + `"}`,
		"a/unit":         `{"temp":{"value":70,"unit":"°F"},"open":true}`,
		"a/senml":        `[{"bn":"urn:dev:mac:bench-1:","n":"temperature","u":"Cel","v":21.4},{"n":"humidity","u":"%RH","v":63}]`,
		"a/line":         "climate,bench=north\\ one temperature=21.4,humidity=63i",
		"a/line seconds": "climate temperature=21.4 " + strconv.FormatInt(time.Now().Unix(), 10),
	} {
		a := s.arrives(t, topic, payload)
		w := s.wish(t, topic)
		d, err := s.Draft(w)
		ok(t, err)
		if len(d.Problems) > 0 || len(d.Gives) != len(w.Reads) || len(d.Gives) == 0 {
			t.Errorf("%s %s (%s): %v, gives %+v for %+v", topic, payload, a.Seems, d.Problems, d.Gives, w.Reads)
			continue
		}
		text := written(t, s, w)
		c, problems := config.Parse("x.toml", []byte(text), noEnv)
		if c == nil {
			t.Errorf("%s: %v\n%s", topic, problems, text)
			continue
		}
		table, err := decode.New(c.Sources)
		ok(t, err)
		var got []page.Given
		bad := table.Decode(topic, []byte(payload), time.Now(), func(v decode.Value) {
			got = append(got, page.Given{Quantity: v.Quantity, Value: v.Value})
		})
		byName := func(a, b page.Given) int { return strings.Compare(string(a.Quantity), string(b.Quantity)) }
		slices.SortFunc(got, byName)
		slices.SortFunc(d.Gives, byName)
		for i, g := range d.Gives {
			if i >= len(got) || got[i].Quantity != g.Quantity || math.Abs(got[i].Value-g.Value) > 0 || len(bad) > 0 {
				t.Errorf("%s: the file gives %+v, shown was %+v; %v\n%s", topic, got, d.Gives, bad, text)
				break
			}
		}
	}
}

// written is the file as the wish would make it.
func written(t *testing.T, s *settingUp, w page.Wish) string {
	t.Helper()
	d, _, err := s.wished(w)
	ok(t, err)
	return d.Text()
}

func TestArrivalsSayWhatTheySeemToBe(t *testing.T) {
	s := setUp(t, `[house.long-house]
[house.long-house.place.bench]
[probe.bench-1]
place = "long-house/bench"
topic = "thimble-garth/+"
temperature = {}
[nobody-told]
because = "tried out"
`)
	if a := s.arrives(t, "thimble-garth/bench-1", "21.4"); !slices.Equal(a.Probes, []string{"bench-1"}) {
		t.Errorf("got %+v, want it read by bench-1", a)
	}
	if a := s.arrives(t, "other/bench", `{"temp":21,"rh":50}`); a.Probes != nil || say.English(a.Seems) != "Seems to be JSON: temperature, humidity." {
		t.Errorf("got %+v", a)
	}
	if a := s.arrives(t, "other/raw", "\x00\xff\x10"); !a.Binary || a.Payload != "00 ff 10" || !strings.Contains(say.English(a.Seems), "binary") {
		t.Errorf("got %+v", a)
	}
	if a := s.arrives(t, "other/long", strings.Repeat("ä", 2000)); len(a.Payload) > 700 || a.Binary || a.Size != 4000 {
		t.Errorf("got %d bytes of %d, binary %v", len(a.Payload), a.Size, a.Binary)
	}
	g, err := s.Garden()
	ok(t, err)
	if !g.Watches || g.Told || len(g.Houses) != 1 || g.Houses[0].Places[0].ID != "bench" {
		t.Errorf("got %+v", g)
	}
}

func TestAWishIsWrittenOnceAndAsShown(t *testing.T) {
	s := setUp(t, bare)
	s.arrives(t, "a/temperature", "21.4")
	w := s.wish(t, "a/temperature")
	lat, long, limit := 52.0, -2.25, 31.5
	w.Latitude, w.Longitude, w.Crop, w.GardenName = &lat, &long, "tomato", "Thimble Garth"
	w.Limits = []page.WishLimits{{Quantity: alarms.Temperature, High: &limit}}
	w.Mail = &page.WishMail{Person: "Ada", Address: "ada@example.org", Server: "127.0.0.1:25", Security: "none", From: "watch@example.org"}
	d, err := s.Draft(w)
	ok(t, err)
	if err := s.Write(context.Background(), w, "another", "Ada"); !errors.Is(err, page.ErrFirstChanged) || s.reloads != 0 {
		t.Errorf("with another mark: %v, %d reloads", err, s.reloads)
	}
	ok(t, s.Write(context.Background(), w, d.Mark, "Ada"))
	c, problems := config.Load(s.file, noEnv)
	if c == nil || s.reloads != 1 {
		t.Fatalf("%v, %d reloads", problems, s.reloads)
	}
	if tell := c.Reach.Tell; len(tell) != 1 || tell[0].People[0] != "ada" || c.Reach.Channels[0].Mail.From != "watch@example.org" || c.Reach.Nobody != "" {
		t.Errorf("told: %+v", c.Reach)
	}
	if err := s.Write(context.Background(), w, d.Mark, "Ada"); !errors.Is(err, page.ErrFirstChanged) {
		t.Errorf("a second time with the old mark: %v", err)
	}
	// The next probe outside, in the house that is there now.
	w = page.Wish{Topic: "a/outside", Form: "number", Reads: []decode.Read{{Quantity: alarms.Temperature}}, Probe: "Outside", House: "long-house", Outside: true}
	d, err = s.Draft(w)
	ok(t, err)
	ok(t, s.Write(context.Background(), w, d.Mark, "Ada"))
	if c, problems = config.Load(s.file, noEnv); c == nil || c.Plan.Houses[0].Places[1].ID != "outside" || len(c.Reach.Tell) != 1 {
		t.Errorf("%v", problems)
	}
}

func TestAWishThatCannotBeIsRefusedInSentences(t *testing.T) {
	s := setUp(t, bare)
	s.arrives(t, "a/temperature", "21.4")
	w := s.wish(t, "a/temperature")
	w.Crop = "tomato"
	d, err := s.Draft(w)
	ok(t, err)
	if !slices.ContainsFunc(d.Problems, func(p tongue.Saying) bool {
		return strings.Contains(p.Error(), "cannot tell day from night") && !strings.Contains(p.Error(), s.file)
	}) {
		t.Errorf("got %q", d.Problems)
	}
	var refused *page.FirstRefused
	if err := s.Write(context.Background(), w, d.Mark, "Ada"); !errors.As(err, &refused) || len(refused.Problems) == 0 || s.reloads != 0 {
		t.Errorf("got %v", err)
	}
	beyond := 45.0
	w.Latitude, w.Longitude, w.Limits = &beyond, &beyond, []page.WishLimits{{Quantity: alarms.Temperature, HighHigh: &beyond}}
	if d, err = s.Draft(w); err != nil || len(d.Problems) != 1 || !strings.Contains(d.Problems[0].Error(), "above what tomato stands") {
		t.Errorf("a limit beyond the crop's: %v, %q", err, d.Problems)
	}
	w.OutsideCrop = "nothing grows here in summer"
	if d, err = s.Draft(w); err != nil || len(d.Problems) > 0 {
		t.Errorf("with a reason: %v, %q", err, d.Problems)
	}
	w.Limits, w.OutsideCrop = nil, ""
	if text, _ := os.ReadFile(s.file); string(text) != bare {
		t.Errorf("it wrote\n%s", text)
	}
	if os.Geteuid() == 0 {
		return // root may write anywhere
	}
	ok(t, os.Chmod(filepath.Dir(s.file), 0o500))
	w.Crop = ""
	d, err = s.Draft(w)
	ok(t, err)
	if err := s.Write(context.Background(), w, d.Mark, "Ada"); !errors.As(err, &refused) || !strings.Contains(refused.Problems[0].Error(), "by hand") {
		t.Errorf("a folder that cannot be written to: %v", err)
	}
	ok(t, os.Chmod(filepath.Dir(s.file), 0o700))
}

// What the page offers to be copied into the file is good.
func TestWhatThePageOffersToCopyIsGood(t *testing.T) {
	text, err := os.ReadFile("page/templates/first.html")
	ok(t, err)
	dir := t.TempDir()
	ok(t, os.Mkdir(filepath.Join(dir, "secrets"), 0o700))
	ok(t, os.WriteFile(filepath.Join(dir, "secrets/bench-1"), []byte("a secret of bench-1\n"), 0o600))
	found := 0
	for _, part := range strings.Split(string(text), "<pre ")[1:] {
		sample, _, _ := strings.Cut(part[strings.Index(part, ">")+1:], "</pre>")
		if !strings.HasPrefix(sample, "[") {
			continue
		}
		found++
		if c, problems := config.ParseToSetUp(filepath.Join(dir, "x.toml"), []byte(sample), noEnv); c == nil {
			t.Errorf("%s: %v", sample, problems)
		}
	}
	if found != 2 {
		t.Errorf("found %d samples, want 2", found)
	}
}

// A garden in °F: limits are typed and written so, and mean the same.
func TestAWishInFahrenheit(t *testing.T) {
	s := setUp(t, bare)
	s.arrives(t, "a/temperature", "70.5")
	w := s.wish(t, "a/temperature")
	limit := 90.0
	w.Degrees, w.Zone, w.Limits = "°F", "CET", []page.WishLimits{{Quantity: alarms.Temperature, High: &limit}}
	d, err := s.Draft(w)
	ok(t, err)
	ok(t, s.Write(context.Background(), w, d.Mark, "Ada"))
	c, problems := config.Load(s.file, noEnv)
	if c == nil {
		t.Fatal(problems)
	}
	high := c.Plan.Houses[0].Places[0].Bands[0].High.Value
	if math.Abs(high-32.2222) > 1e-3 || !c.Plan.Words.Fahrenheit || c.Plan.Words.Zone.String() != "CET" || c.Sources[0].Reads[0].Unit != "°F" {
		t.Errorf("the limit is %v °C, words %+v, reads %+v", high, c.Plan.Words, c.Sources[0].Reads)
	}
	if text, _ := os.ReadFile(s.file); !strings.Contains(string(text), "high = 90\n") {
		t.Errorf("got\n%s", text)
	}
}

// A password is typed and goes into a new file. No name that is sent can make
// the watch read another file, or say whether it is there.
func TestATypedPasswordGoesIntoAFileOfItsOwn(t *testing.T) {
	s := setUp(t, bare)
	s.arrives(t, "a/temperature", "21.4")
	w := s.wish(t, "a/temperature")
	lat, long := 52.0, -2.25
	w.Latitude, w.Longitude = &lat, &long
	folder := filepath.Join(filepath.Dir(s.file), "secrets")
	ok(t, os.Mkdir(folder, 0o700))
	ok(t, os.WriteFile(filepath.Join(folder, "mail"), []byte("signs links\n"), 0o600))
	w.Mail = &page.WishMail{Person: "Ada", Address: "ada@example.org", Server: "mail.example.org:587", Security: "starttls", From: "watch@example.org", User: "ada", Password: "two\nlines"}
	d, err := s.Draft(w)
	if ok(t, err); len(d.Problems) != 1 || !strings.Contains(d.Problems[0].Error(), "in one line") || strings.Contains(d.Problems[0].Error(), "two") {
		t.Errorf("a password of two lines: got %q", d.Problems)
	}
	w.Mail.Password = "../secrets/mail"
	d, err = s.Draft(w)
	if ok(t, err); len(d.Problems) > 0 {
		t.Fatalf("got %q", d.Problems)
	}
	if files, _ := os.ReadDir(folder); len(files) != 1 {
		t.Errorf("looking at it wrote %v", files)
	}
	ok(t, s.Write(context.Background(), w, d.Mark, "Ada"))
	text, _ := os.ReadFile(s.file)
	if !strings.Contains(string(text), `password-file = "secrets/mail-2"`) || strings.Contains(string(text), "../") {
		t.Errorf("got\n%s", text)
	}
	secret, _ := os.ReadFile(filepath.Join(folder, "mail-2"))
	info, err := os.Stat(filepath.Join(folder, "mail-2"))
	if ok(t, err); string(secret) != "../secrets/mail\n" || info.Mode().Perm() != 0o600 {
		t.Errorf("the file holds %q, mode %v", secret, info.Mode())
	}
	if c, problems := config.Load(s.file, noEnv); c == nil || c.Reach.Channels[0].Mail.Password.Reveal() != "../secrets/mail" {
		t.Errorf("got %v", problems)
	}
}

// What is changed in a form is in the file, which is read again; one that was shown of
// another file is not written.
func TestAFormChangesTheFile(t *testing.T) {
	text, err := os.ReadFile("../cmd/telltale/demo.toml")
	ok(t, err)
	s := setUp(t, string(text))
	const at = "house/long-house/control/thermostat/stage/hot"
	values := func() map[string][]string {
		f, there, err := s.Form(tongue.English, at)
		ok(t, err)
		if !there {
			t.Fatal("the stage has no form")
		}
		v := map[string][]string{}
		for _, g := range f.Groups {
			for _, one := range g.Fields {
				v[one.Name] = []string{one.Value}
			}
		}
		return v
	}
	v := values()
	v["set-point"] = []string{"28"}
	out, _, err := s.Fill(tongue.English, at, v)
	ok(t, err)
	if out.Wrong() || s.reloads != 0 {
		t.Fatalf("%+v, %d reloads", out.Problems, s.reloads)
	}
	ok(t, s.Change(t.Context(), tongue.English, at, v, out.Mark, "Ada"))
	if err := s.Change(t.Context(), tongue.English, at, v, out.Mark, "Ada"); !errors.Is(err, page.ErrFirstChanged) {
		t.Errorf("a mark of before: %v", err)
	}
	bad := values()
	bad["set-point"] = []string{"hot"}
	out, _, err = s.Fill(tongue.English, at, bad)
	ok(t, err)
	var refused *page.FirstRefused
	if err := s.Change(t.Context(), tongue.English, at, bad, out.Mark, "Ada"); !errors.As(err, &refused) {
		t.Errorf("what is wrong: %v", err)
	}
	now, err := os.ReadFile(s.file)
	ok(t, err)
	if want := strings.Replace(string(text), "set-point = 29.5", "set-point = 28", 1); string(now) != want || s.reloads != 1 {
		t.Errorf("%d reloads, the file is\n%s", s.reloads, now)
	}
}
