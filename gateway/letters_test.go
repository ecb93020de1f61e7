package gateway

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/letter"
	"telltale/gateway/modem/sim"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// lettersConfig is a garden whose people are told by a program, which writes down what it
// is given: %q is where. Weeks pass in no time here, so nothing is held back.
const lettersConfig = `
[house.long-house]
name = "Long House"
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
[probe.bench-1]
place = "long-house/bench"
every = "10m"
topic = "g/bench"
temperature = {}
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
link = "http://127.0.0.1:8470/"
[channel.run]
kind = "command"
run = ["/bin/sh", "-c", "cat >> \"$0\"", %q]
at-once = 100
[person.ada]
name = "Ada"
channels = ["run"]
letter = "sunday"
[person.ben]
name = "Ben"
channels = ["run"]
[[tell]]
people = ["ada"]
[[tell]]
people = ["ben"]
after = "1h"
`

// letterGarden is a garden that gets letters, over several runs of its watch.
type letterGarden struct {
	*parts
	t     *testing.T
	dir   string
	clock *Clock
	stop  func()
}

// letterEve is a Saturday, an hour before a letter would be due.
var letterEve = time.Date(2026, 3, 28, 9, 0, 0, 0, time.UTC)

func (g *letterGarden) said() string {
	b, err := os.ReadFile(filepath.Join(g.dir, "said"))
	if err != nil && !os.IsNotExist(err) {
		g.t.Fatal(err)
	}
	return string(b)
}

// start starts the watch, which goes on from what was.
func (g *letterGarden) start(c *config.Config, at time.Time) {
	g.t.Helper()
	g.clock = NewSteppedClock(at, 1)
	o := Options{Config: c, Clock: g.clock, Log: zerolog.New(os.Stderr).Level(zerolog.ErrorLevel)}
	p, err := build(o)
	ok(g.t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- p.run(ctx, o) }()
	g.parts, g.stop = p, func() {
		cancel()
		if err := errors.Join(<-done, p.close()); err != nil {
			g.t.Error(err)
		}
	}
	await(g.t, "the watch has begun", func() bool { return !p.watch.Picture().At.IsZero() })
	p.letters.look(ctx)
}

func (g *letterGarden) config() *config.Config {
	g.t.Helper()
	c, err := read(fmt.Sprintf(lettersConfig, filepath.Join(g.dir, "said")), filepath.Join(g.dir, "store"))
	ok(g.t, err)
	return c
}

// again stops the watch and starts it anew.
func (g *letterGarden) again() {
	g.t.Helper()
	at := g.clock.Now()
	g.stop()
	g.start(g.config(), at)
}

// pass lets time go by, and looks.
func (g *letterGarden) pass(d time.Duration) {
	g.clock.Step(d)
	g.letters.look(context.Background())
}

// told lists what became of letters, by person.
func (g *letterGarden) told(person string) (all []store.Telling) {
	g.t.Helper()
	rows, err := g.store.Outbox.Tellings(context.Background(), store.TellingsQuery{Person: person, Limit: 100})
	ok(g.t, err)
	for _, r := range rows {
		if strings.HasPrefix(r.ID, "watch/letter#") {
			all = append(all, r)
		}
	}
	return all
}

func (g *letterGarden) missed() alarms.State {
	return stateOf(g.watch.Picture(), alarms.TroubleLetters)
}

var tapLink = regexp.MustCompile(`alarms take: http://127\.0\.0\.1:8470/tap\?t=([A-Za-z0-9_-]+)`)

// tap opens the newest link, or presses its button.
func (g *letterGarden) tap(press bool) string {
	g.t.Helper()
	links := tapLink.FindAllStringSubmatch(g.said(), -1)
	if len(links) == 0 {
		g.t.Fatalf("there is no link in %s", g.said())
	}
	token := url.Values{"t": {links[len(links)-1][1]}}
	req, err := http.NewRequest("GET", "http://"+g.page.Addr()+"/tap?"+token.Encode(), nil)
	if press {
		req, err = http.NewRequest("POST", "http://"+g.page.Addr()+"/tap", strings.NewReader(token.Encode()))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	ok(g.t, err)
	req.Header.Set("Accept", "text/html")
	resp, err := http.DefaultClient.Do(req)
	ok(g.t, err)
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	ok(g.t, err)
	return string(b)
}

// A letter comes on its day, once, whatever ends the watch; nobody is missed who taps it,
// and who does not is, until they do.
func TestALetterIsTheTrialOfItsWay(t *testing.T) {
	t.Parallel()
	g := &letterGarden{t: t, dir: t.TempDir()}
	g.start(g.config(), letterEve)
	defer func() { g.stop() }()
	g.pass(24 * time.Hour)
	if n := len(g.told("Ada")); n != 0 {
		t.Fatalf("%d letters an hour before the first is due", n)
	}
	before, err := g.store.Notes.Kept(context.Background(), lettersKept)
	ok(t, err)
	g.pass(61 * time.Minute)
	await(t, "the letter is told", func() bool { return strings.Contains(g.said(), "Letter of the week") })
	if n := len(g.told("Ben")); n != 0 {
		t.Errorf("Ben gets a trial on the fifth Sunday of a month: %d", n)
	}
	if page := g.tap(false); !strings.Contains(page, "Did this letter reach you?") || !strings.Contains(page, "It reached me, Ada") {
		t.Errorf("the link shows %s", page)
	}
	if g.letters.state.Stands("Ada", 0) != letter.Waits {
		t.Error("to look at the link confirms it")
	}

	// The watch was killed after the letter was saved, before that was noted.
	ok(t, g.store.Notes.Keep(context.Background(), lettersKept, before))
	g.again()
	g.pass(time.Minute)
	await(t, "it is on its way again", func() bool { return len(g.told("Ada")) == 1 && g.told("Ada")[0].State == store.TellingTold })
	if n := strings.Count(g.said(), `"letter":true`); n != 1 {
		t.Errorf("it was told %d times: %s", n, g.said())
	}
	if page := g.tap(true); !strings.Contains(page, "its messages reach you this way") {
		t.Errorf("after the tap: %s", page)
	}
	if page := g.tap(true); !strings.Contains(page, "knows already") {
		t.Errorf("after another tap: %s", page)
	}
	g.again()
	g.pass(3 * 24 * time.Hour)
	if s := g.missed(); s != alarms.Normal {
		t.Errorf("it was confirmed and is missed: %v", s)
	}

	g.pass(4 * 24 * time.Hour) // the next Sunday, the first of a month
	await(t, "both are told", func() bool { return len(g.told("Ada")) == 2 && strings.Contains(g.said(), "TRIAL. Nothing is wrong.") })
	g.pass(letter.Patience + time.Minute)
	await(t, "the letter is missed", func() bool { return g.missed() == alarms.Unacknowledged })
	g.again()
	await(t, "it is missed after a start", func() bool { return g.missed() == alarms.Unacknowledged })
	log, err := g.store.Log.Transitions(context.Background(), store.LogQuery{Alarm: alarms.TroubleLetters, Limit: 10})
	ok(t, err)
	if len(log) != 1 {
		t.Fatalf("%d lines of the log", len(log))
	}
	if log[0].Priority != alarms.Low || !strings.Contains(log[0].Sentence, "Ada has not confirmed that of Sunday 5 April 2026") {
		t.Errorf("the log of it has %d lines, the last %+v", len(log), log[0])
	}
	g.letters.take(context.Background(), "Ada", 0)
	await(t, "it is missed no more", func() bool { return !g.missed().Active() })
}

// Clocks that are set by years bring one letter at most, and whoever is away gets none.
func TestNoFloodOfLetters(t *testing.T) {
	t.Parallel()
	g := &letterGarden{t: t, dir: t.TempDir()}
	g.start(g.config(), letterEve)
	defer func() { g.stop() }()
	_, err := g.watch.GoAway(context.Background(), alarms.Leave{Person: "Ada", Until: letterEve.Add(10 * 24 * time.Hour)}, "Ada")
	ok(t, err)
	g.pass(26 * time.Hour)
	if n := len(g.told("Ada")); n != 0 {
		t.Errorf("away, and %d letters", n)
	}
	_, err = g.watch.Back(context.Background(), "Ada", "Ada")
	ok(t, err)
	g.pass(7 * 24 * time.Hour)
	await(t, "a letter comes", func() bool { return len(g.told("Ada")) == 1 })
	for _, years := range []int{5, -9, 20, -20, 1, 3} {
		g.clock.stepTaken(time.Duration(years) * 365 * 24 * time.Hour)
		g.letters.look(context.Background())
	}
	if n := len(g.told("Ada")); n != 1 {
		t.Errorf("%d letters while the clock was set to and fro", n)
	}
}

// Over a modem it is one short text, and YES confirms it; so does OK where nothing else
// waits.
func TestALetterByTextIsConfirmedByOne(t *testing.T) {
	t.Parallel()
	for word, answer := range map[string]string{"Yes!": "knows now that it reaches you", "ok": "knows now that it reaches you"} {
		g := withModem(t, sim.Options{Network: 1, Signal: 17})
		one := letter.Letter{Reader: letter.Reader{Name: "Ada", Day: time.Sunday, Answers: true}, Of: letterEve, Number: 1}
		ok(t, g.letters.send(context.Background(), one, g.watch.Now().UTC()))
		text := g.textTo(adasPhone, "Reply YES")
		if !strings.HasPrefix(text, "Letter of the week: ") || len(text) > 160 {
			t.Errorf("the text, of %d letters, is %q", len(text), text)
		}
		g.sim.Keep(adasPhone, word, time.Now(), false)
		g.textTo(adasPhone, answer)
		g.letters.mu.Lock()
		if s := g.letters.state.Stands("Ada", 0); s != letter.Confirmed {
			t.Errorf("after %s it stands %v", word, s)
		}
		g.letters.mu.Unlock()
		g.sim.Keep(adasPhone, "YES", time.Now(), false)
		g.textTo(adasPhone, "No letter of the watch waits")
	}
}

// A letter, and a trial, are in the language of whoever gets them.
func TestALetterIsInTheLanguageOfItsReader(t *testing.T) {
	t.Parallel()
	g := &letterGarden{t: t, dir: t.TempDir()}
	text := strings.Replace(fmt.Sprintf(lettersConfig, filepath.Join(g.dir, "said")), `name = "Ada"`, "name = \"Ada\"\nlanguage = \"de\"", 1)
	c, err := read(text, filepath.Join(g.dir, "store"))
	ok(t, err)
	g.start(c, letterEve)
	defer func() { g.stop() }()
	for person, want := range map[string]struct {
		trial bool
		in    tongue.Tongue
		head  string
		text  string
	}{
		"Ada": {false, tongue.German, "Wochenbrief: kein Alarm", "Telltale, Sa 21. März 2026 bis Sa 28. März 2026"},
		"Ben": {true, tongue.English, "TRIAL: nothing is wrong", "TRIAL. Nothing is wrong."},
	} {
		one := letter.Letter{Reader: letter.Reader{Name: person, Day: time.Sunday, Trial: want.trial, Answers: true}, Of: letterEve, Number: 1}
		rows, err := g.letters.rows(context.Background(), one, letterEve)
		ok(t, err)
		var e reach.Event
		ok(t, json.Unmarshal(rows[0].Body, &e))
		if e.Language != want.in || !strings.HasPrefix(e.Sentence, want.text) || !strings.HasPrefix(e.Headline, want.head) {
			t.Errorf("%s: in %q %q, %s", person, e.Language.Name(), e.Headline, e.Sentence)
		}
	}
}
