package gateway

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"telltale/alarms/engine"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/export"
	"telltale/gateway/link"
	"telltale/gateway/reach"
	"telltale/gateway/store"
	"telltale/gateway/supervise"
)

// bench is where parts are built from one config after another: no port is
// opened, and of files only those below its directory are written.
type bench struct {
	dir   string
	push  *reach.PushKey
	store *store.Store // of nothing
}

func newBench(t testing.TB) *bench {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{"good": "correct-horse-of-thimble-garth\n", "open": "correct-horse-of-thimble-garth\n", "short": "short\n"} {
		ok(t, os.MkdirAll(filepath.Join(dir, "secrets"), 0o700))
		ok(t, os.WriteFile(filepath.Join(dir, "secrets", name), []byte(text), 0o600))
	}
	key, err := reach.OpenPushKey(filepath.Join(dir, pushKeyFile))
	ok(t, err)
	kept, err := store.Open(dir, store.Options{Log: zerolog.Nop()})
	ok(t, err)
	t.Cleanup(func() { ok(t, kept.Close()) })
	return &bench{dir, key, kept}
}

// env is the environment of the cases, with secrets that only look good.
func (b *bench) env(name string) (string, bool) {
	v, known := map[string]string{
		"GOOD_SECRET": "correct-horse-of-thimble-garth",
		"GOOD_KEY":    "whsec_Y29ycmVjdC1ob3JzZS1vZi10aGltYmxlLWdhcnRo",
		"GOOD_URL":    "https://heartbeat.example.org/correct-horse",
		"GOOD_HASH":   "$argon2id$v=19$m=19456,t=2,p=1$AAECAwQFBgcICQoLDA0ODw$AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8",
		"BAD_HASH":    "$argon2id$v=19$m=19456,t=2,p=1$AAEC",
		"WEAK_HASH":   "$argon2id$v=19$m=8,t=1,p=1$AAECAwQFBgcICQoLDA0ODw$AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8",
		"LONG_SECRET": strings.Repeat("thimble ", 100),
		"FEW_SIGNS":   strings.Repeat("e\u0301", 6), // twelve, and six once they are joined
	}[name]
	return v, known
}

func (b *bench) parse(text string) *config.Config {
	c, _ := config.Parse(filepath.Join(b.dir, "test.toml"), []byte(text), b.env)
	return c
}

// build makes of c every part that may refuse it: engine, decoder, link, broker,
// ways to tell people and their rules, modem, export, heartbeat and page. Not
// made are store and copies, to which it is no matter what c says, and what finds
// out about the machine: ports, and files that are exported to.
func (b *bench) build(c *config.Config) error {
	c.Store.Directory = b.dir
	p := &parts{cfg: c, clock: newRealClock(), log: zerolog.Nop(), store: b.store}
	var errs []error
	_, err := engine.New(c.Plan)
	errs = append(errs, err)
	p.table, err = decode.New(c.Sources)
	if errs = append(errs, err, p.openPhones()); errors.Join(errs...) != nil {
		return errors.Join(errs...)
	}
	if pushes(c) {
		p.push = &pushing{p: p, key: b.push}
	}
	p.channels, p.follow, err = channels(c, nil, p.push, p.phones, p.log)
	errs = append(errs, err, b.buildLink(p))
	_, err = reach.NewWorker(reach.Options{Channels: p.channels, Outbox: newOutbox(nil, p.clock), Random: rand.Float64})
	errs = append(errs, err, b.buildExport(p), buildHeartbeat(c))
	o := pageOptions(c, p.log)
	o.Watch = &watch{}
	errs = append(errs, o.Check())
	return errors.Join(errs...)
}

func (b *bench) buildLink(p *parts) error {
	o := linkOptions(p.cfg, p.table.Filters(), p.clock, p.log)
	if p.follow != nil {
		o.Own = p.follow.Own()
	}
	var errs []error
	if p.cfg.Broker.Run {
		errs = append(errs, brokerOptions(p.cfg, p.log).Check())
		o.Servers = []string{"mqtt://127.0.0.1:1883"} // it is reached within the process
	}
	_, err := link.New(o)
	return errors.Join(append(errs, err)...)
}

func (b *bench) buildExport(p *parts) error {
	o := exportOptions(p.cfg, p.clock, p.log)
	o.File = ""
	if o.HTTP == nil {
		return nil
	}
	e, err := export.New(o)
	if err != nil {
		return err
	}
	ended, end := context.WithCancel(context.Background())
	end()
	return e.Run(ended) // which closes its buffer
}

func buildHeartbeat(c *config.Config) error {
	h := c.Heartbeat
	if !h.URL.Given() {
		return nil
	}
	s, err := supervise.NewPostSender(h.URL.Reveal(), "", nil)
	if err != nil {
		return err
	}
	_, err = supervise.NewHeartbeat(supervise.HeartbeatOptions{Every: h.Every, Senders: []supervise.Sender{s}, Alive: func() error { return nil }})
	return err
}

var keyed = regexp.MustCompile(`(?m)^\s*([a-z-]+) = .*$`)

// drifted are lines that config once called good, and a part then refused.
var drifted = []string{
	`from = "/air/-"`, `time-from = "/-"`, `factor = 2`, `may-read = ["$share/a/b"]`, `prefix = "a\u0001"`, `address = "LOCALHOST:0"`,
	`url = "https://:80/x"`, "[own-broker.account.\"\"]\npassword-env = \"GOOD_SECRET\"\nmay-read = [\"a\"]",
	`password-env = "BAD_HASH"`, `password-env = "WEAK_HASH"`, `password-env = "LONG_SECRET"`, `password-env = "FEW_SIGNS"`,
}

// goodTexts are all good files, those that have most of all kinds of parts first.
func goodTexts(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob("../testdata/config/good/*.toml")
	ok(t, err)
	rich := func(f string) int { return strings.Count(f, "every-key") + strings.Count(f, "own-broker") }
	slices.SortStableFunc(files, func(a, b string) int { return rich(b) - rich(a) })
	var all []string
	for _, f := range files {
		data, err := os.ReadFile(f)
		ok(t, err)
		all = append(all, string(data))
	}
	if len(all) < 5 || rich(files[1]) == 0 {
		t.Fatalf("found %v", files)
	}
	return all
}

// otherLines are, by key, the lines that the files have for it, those with problems
// too.
func otherLines(t testing.TB) map[string][]string {
	t.Helper()
	files, err := filepath.Glob("../testdata/config/*/*.toml")
	ok(t, err)
	if len(files) < 100 {
		t.Fatalf("found only %d files", len(files))
	}
	all := map[string][]string{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		ok(t, err)
		for _, m := range keyed.FindAllStringSubmatch(string(text), -1) {
			if !slices.Contains(all[m[1]], m[0]) {
				all[m[1]] = append(all[m[1]], m[0])
			}
		}
	}
	return all
}

// with puts line into text: behind its line at/2, or where at is odd in its place.
func with(text string, at uint16, line string) string {
	lines := strings.Split(text, "\n")
	i := int(at/2) % len(lines)
	return strings.Join(slices.Replace(lines, i+1-int(at%2), i+1, line), "\n")
}

// try holds that config and the parts agree about text, and reports whether it is
// good.
func (b *bench) try(t *testing.T, text string) bool {
	t.Helper()
	c := b.parse(text)
	if c == nil {
		return false
	}
	if err := b.build(c); err != nil {
		t.Errorf("config calls this good, and it cannot be built: %v\n%s", err, text)
	}
	return true
}

// TestAGoodConfigWithAnotherLineCanBeBuilt puts into two whole gardens each line that
// some file, good or bad, has for the same key, and into each table the lines of drifted.
func TestAGoodConfigWithAnotherLineCanBeBuilt(t *testing.T) {
	b, others, good := newBench(t), otherLines(t), 0
	for _, text := range goodTexts(t)[:2] {
		for i, line := range strings.Split(text, "\n") {
			try := func(at int, line string) {
				if b.try(t, with(text, uint16(at), line)) {
					good++
				}
			}
			if m := keyed.FindStringSubmatch(line); m != nil {
				for _, other := range others[m[1]] {
					try(2*i+1, other)
				}
			}
			for _, d := range drifted {
				if strings.HasPrefix(line, "[") {
					try(2*i, d)
				}
			}
		}
	}
	if good < 500 {
		t.Errorf("only %d of them were good: that says little", good)
	}
}

// FuzzAGoodConfigCanBeBuilt holds that config and the parts agree: whatever Parse
// calls good, they can be made of. Else the watch would end at its start, and be
// started again for ever, on a file of which telltale check said that it is good.
// What is tried is a good file with one line put into it, or in the place of another.
func FuzzAGoodConfigCanBeBuilt(f *testing.F) {
	texts := goodTexts(f)
	lines := slices.Clone(drifted)
	for _, of := range otherLines(f) {
		lines = append(lines, of[0])
	}
	slices.Sort(lines)
	for i, line := range lines {
		f.Add(uint8(i), uint16(97*i), line)
	}
	b := newBench(f)
	f.Fuzz(func(t *testing.T, file uint8, at uint16, line string) {
		b.try(t, with(texts[int(file)%len(texts)], at, line))
	})
}
