package gateway

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/modem/sim"
	"telltale/gateway/page/service"
)

// When somebody will be back is read as people write it, by the clocks of the garden.
func TestWhenSomebodyIsBack(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 10, 23, 17, 30, 0, 0, zone) // a Friday; the clocks are put back on Sunday
	for text, want := range map[string]string{
		"":                   "2026-10-24 17:30 +0200",
		"SUN 18:00":          "2026-10-25 18:00 +0100",
		"until sunday 18.00": "2026-10-25 18:00 +0100",
		"Sun 1800":           "2026-10-25 18:00 +0100",
		"fri 18:00":          "2026-10-23 18:00 +0200",
		"fri 17:00":          "2026-10-30 17:00 +0100",
		"18:00":              "2026-10-23 18:00 +0200",
		"7:15":               "2026-10-24 07:15 +0200",
		"tomorrow":           "2026-10-25 00:00 +0200",
		"tomorrow 12:00!":    "2026-10-24 12:00 +0200",
		"today 17:00":        "2026-10-23 17:00 +0200", // past: refused later
		"sun":                "2026-10-26 00:00 +0100",
		"24 Dec 18:00":       "2026-12-24 18:00 +0100",
		"Oct 30th":           "2026-10-31 00:00 +0100",
		"2 jan":              "2027-01-03 00:00 +0100",
		"36 h":               "2026-10-25 04:30 +0100",
		"36h":                "2026-10-25 04:30 +0100",
		"for 3 days":         "2026-10-26 16:30 +0100",
		"1 week":             "2026-10-30 16:30 +0100",
		"bis SO 18:00":       "2026-10-25 18:00 +0100",
		"Sonntag 18.00":      "2026-10-25 18:00 +0100",
		"morgen":             "2026-10-25 00:00 +0200",
		"24. Dez. 18:00":     "2026-12-24 18:00 +0100",
		"24. Dez 18:00":      "2026-12-24 18:00 +0100",
		"30 Okt":             "2026-10-31 00:00 +0100",
		"36 Std.":            "2026-10-25 04:30 +0100",
		"FÜR 3 TAGE":         "2026-10-26 16:30 +0100",
		"1 Woche":            "2026-10-30 16:30 +0100",
		"sun 25:00":          "",
		"su 18:00":           "",
		"next week":          "",
		"-3 days":            "",
		"99999999999 h":      "",
		"31 feb 10:00":       "",
		"18":                 "",
		"sun 18:00 18:00":    "",
		"\x00 ·":             "",
	} {
		got := ""
		if until, ok := leaveEnd(text, now); ok {
			got = until.Format("2006-01-02 15:04 -0700")
		}
		if got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

// By text somebody goes away: the next person is told at once of what is on, of what
// comes, and that it is over, and nobody is told less; BACK ends it. It survives a start
// with a config that names others.
func TestGoneByText(t *testing.T) {
	t.Parallel()
	g := withModem(t, sim.Options{Network: 1, Signal: 17})
	g.send("g/bench", "34.0")
	g.textTo(adasPhone, "bench: 34.0 C")
	g.sim.Keep(bensPhone, "back", time.Now(), false)
	g.textTo(bensPhone, "You were not away.")
	g.sim.Keep(adasPhone, "GONE NEXT YEAR", time.Now(), false)
	g.textTo(adasPhone, "was not understood, so nothing was set. Reply GONE SUN 18:00")
	g.sim.Keep(adasPhone, "GONE 40 DAYS", time.Now(), false)
	g.textTo(adasPhone, "longer than 31 days")
	if all := g.watch.Picture().Leaves; len(all) != 0 {
		t.Fatalf("somebody is away: %+v", all)
	}
	g.sim.Keep(adasPhone, "Gone 3 days", time.Now(), false)
	g.textTo(adasPhone, "Until then Ben is told first: whatever Ada would be told, and in quiet hours too. Ada is told as before.")
	g.textTo(bensPhone, "Ada is away until ")
	text := g.textTo(bensPhone, "Medium: still. Too hot in Long House, bench: 34.0 C (limit 33.0 C)")
	if !strings.Contains(text, "so Ben is told.") || !strings.Contains(text, "Reply OK to acknowledge.") {
		t.Errorf("Ben is told %q", text)
	}
	await(t, "it is recorded that Ben was told", func() bool {
		last, _, err := g.phones.untaken(context.Background(), "Ben", time.Now().Add(time.Hour), false)
		return err == nil && len(last) == 1
	})
	g.sim.Keep(bensPhone, "OK", time.Now(), false)
	g.textTo(bensPhone, "Acknowledged: Long House, bench: too hot.")
	await(t, "Ben has it", func() bool { return g.state(benchHigh) == alarms.Acknowledged })
	g.send("g/bench", "25.0")
	g.textTo(bensPhone, "Over: ")
	g.textTo(adasPhone, "Over: ")
	h := g.watch.Line()
	if len(h.Away) != 1 || h.Away[0].StandIn != "Ben" || !slices.Equal(h.AtHand, []string{"Ben"}) {
		t.Errorf("in line are %+v", h)
	}
	g.sim.Keep(adasPhone, "BACK", time.Now(), false)
	g.textTo(adasPhone, "Ada is back: Ada and Ben are told as before.")
	if h := g.watch.Line(); len(h.Away) != 0 || len(h.AtHand) != 2 {
		t.Errorf("in line are %+v", h)
	}
	log, err := g.watch.Search(context.Background(), service.LogQuery{Kind: service.LogPeople, Words: []string{"is back"}, Limit: 5})
	if err != nil || len(log.Lines) != 1 {
		t.Errorf("in the log are %+v, %v", log.Lines, err)
	}
}

// OK still takes what Ada was told, though it was handed over to Ben since.
func TestWhatWasHandedOverCanBeTakenByWhoWasToldFirst(t *testing.T) {
	t.Parallel()
	g := withModem(t, sim.Options{Network: 1, Signal: 17})
	g.send("g/bench", "34.0")
	g.textTo(adasPhone, "bench: 34.0 C")
	_, err := g.watch.GoAway(context.Background(), alarms.Leave{Person: "Ada", Until: g.watch.Now().Add(time.Hour)}, "Ben")
	ok(t, err)
	g.textTo(bensPhone, "so Ben is told.")
	await(t, "it is recorded that Ada was told", func() bool {
		last, _, err := g.phones.untaken(context.Background(), "Ada", time.Now().Add(time.Hour), false)
		return err == nil && len(last) == 1
	})
	g.sim.Keep(adasPhone, "OK", time.Now(), false)
	await(t, "Ada has it", func() bool { return g.state(benchHigh) == alarms.Acknowledged })
}

// A leave outlives the watch, and a config that does not name the person any more: nobody
// is away by it then, and it ends in silence.
func TestALeaveOutlivesTheWatchAndTheConfig(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	with := func(people string) *config.Config {
		c, err := read(strings.Replace(leaveConfig, "PEOPLE", people, 1), filepath.Join(dir, "store"))
		ok(t, err)
		return c
	}
	both := `[person.ada]
channels = ["run"]
[person.ben]
channels = ["run"]
[[tell]]
people = ["ada"]
[[tell]]
people = ["ben"]
after = "1h"
`
	p, _, stop := running(t, with(both))
	until := p.watch.Now().Add(72 * time.Hour)
	for _, wrong := range []alarms.Leave{{Person: "zoe", Until: until}, {Person: "ada", StandIn: "zoe", Until: until}, {Person: "ada"},
		{Person: "ada", Until: p.watch.Now().Add(32 * 24 * time.Hour)}, {Until: until}} {
		var refused service.Refusal
		if _, err := p.watch.GoAway(context.Background(), wrong, ""); !errors.As(err, &refused) {
			t.Errorf("%+v: %v", wrong, err)
		}
	}
	if said, err := p.watch.GoAway(context.Background(), alarms.Leave{Person: "ada", Until: until, Spared: true}, "ada"); err != nil || !strings.Contains(said, "ben is told first") {
		t.Fatalf("%q, %v", said, err)
	}
	stop()
	p, _, stop = running(t, with(both))
	if h := p.watch.Line(); len(h.Away) != 1 || h.Away[0].StandIn != "ben" || !h.Away[0].Spared || h.Away[0].Until.Sub(until).Abs() > time.Second {
		t.Errorf("after a start: %+v", h)
	}
	stop()
	p, _, stop = running(t, with("[person.ben]\nchannels = [\"run\"]\n[[tell]]\npeople = [\"ben\"]\n"))
	if h := p.watch.Line(); len(h.Away) != 0 || !slices.Equal(h.AtHand, []string{"ben"}) {
		t.Errorf("without ada: %+v", h)
	}
	stop()
}

const leaveConfig = `
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
[channel.run]
kind = "command"
run = ["/bin/true"]
PEOPLE`
