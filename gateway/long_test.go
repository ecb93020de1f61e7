package gateway

import (
	"context"
	"flag"
	"fmt"
	"os"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/trials"
)

var (
	longDays  = flag.Int("days", 2, "simulated days of TestLong and TestTrialDays")
	longWhole = flag.Bool("long", false, "a year of TestLong and a day of TestRate, in place of -days and -minutes")
	longSeed  = flag.Uint64("seed", 1, "of what goes wrong in TestLong, and of the first day of TestTrialDays")
)

const (
	longSlice = 5 * time.Minute // between two rounds of the probes
	longSpeed = 1e5             // of pauses that the watch makes in real time

	troublesADay = 2
)

// longStart lies before the present: the writer then syncs whatever it is given.
var longStart = time.Date(2024, time.January, 1, 0, 0, 0, 0, time.UTC)

// longConfig is the demo's garden, whose probes report every longSlice, at a
// broker of its own, with two ways to tell the grower.
func longConfig(t *testing.T, broker string, phone, post *receiver, high int) *config.Config {
	t.Helper()
	text, err := os.ReadFile("../cmd/telltale/demo.toml")
	ok(t, err)
	s := regexp.MustCompile(`every = ".*"`).ReplaceAllString(string(text), fmt.Sprintf("every = %q", longSlice))
	s = strings.ReplaceAll(s, "misses-allowed = 10", "misses-allowed = 3")
	s = strings.Replace(s, "day = { high = 33,", fmt.Sprintf("day = { high = %d,", high), 1)
	from, to := strings.Index(s, "[channel.lamp]"), strings.Index(s, "[probe.bench-1]")
	s = s[:from] + fmt.Sprintf(`
[channel.phone]
kind = "webhook"
url = %q
secret-env = "KEY"
at-once = 100
then-every = "10s"
[channel.post]
kind = "webhook"
url = %q
secret-env = "KEY"
at-once = 100
then-every = "10s"
[channel.lamp]
kind = "mqtt"
[person.grower]
channels = ["phone", "post"]
[[tell]]
people = ["grower"]
from-priority = "low"
[broker]
servers = ["mqtt://%s"]
client-id = "telltale"
user = "telltale"
password-env = "KEY"
`, phone.URL, post.URL, broker) + s[to:] + "address = \"127.0.0.1:0\"\n[metrics]\non-page = true\n"
	c, problems := config.Parse("long.toml", []byte(s), func(string) (string, bool) { return hookKey, true })
	ok(t, problems.Err())
	return c
}

// gauge is what must not grow.
type gauge struct {
	heap            uint64
	files, routines int
	state           int // bytes of the core's snapshot
}

func (l *long) gauge() gauge {
	l.t.Helper()
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	files, err := os.ReadDir("/proc/self/fd")
	ok(l.t, err)
	l.w.mu.Lock()
	defer l.w.mu.Unlock()
	state, err := l.w.core.Snapshot()
	ok(l.t, err)
	return gauge{m.HeapAlloc, len(files), runtime.NumGoroutine(), len(state)}
}

func (l *long) day(first bool) {
	l.t.Helper()
	if m := l.clock.Core().Month(); l.clock.Core().Day() == 1 || first {
		season := alarms.SeasonOpen
		if m == time.December || m <= time.February {
			season = alarms.SeasonWinter
		}
		for _, h := range []alarms.HouseID{"long-house", "low-house"} {
			_ = l.p.watch.Do(context.Background(), alarms.Input{Kind: alarms.SetSeason, House: h, Season: season, By: "grower"}) // refused where it holds
		}
	}
	end := l.clock.Core().Add(24 * time.Hour)
	names := slices.Sorted(func(yield func(string) bool) {
		for name := range troubles {
			if !yield(name) {
				return
			}
		}
	})
	for i := range troublesADay {
		for range l.rng.IntN(48) {
			l.slice(true)
		}
		name := names[l.rng.IntN(len(names))]
		if first && i == 0 {
			name = "killed while nothing happens"
		}
		l.happened[name]++
		troubles[name](l)
		_ = l.p.watch.Do(context.Background(), alarms.Input{Kind: alarms.Acknowledge, By: "grower"}) // refused where there is nothing
	}
	for l.clock.Core().Before(end) {
		l.slice(true)
	}
	for more := true; more; {
		var err error
		more, err = l.p.store.Retain(context.Background(), l.clock.Now())
		ok(l.t, err)
	}
}

// TestLong lets a watch live through days, or a year, of everything going wrong:
// its broker, its disk, its clock, its receivers and its houses, and kills. It
// must say what the bare core says, and not grow.
func TestLong(t *testing.T) {
	if testing.Short() {
		t.Skip("lives through days")
	}
	days := *longDays
	if *longWhole {
		days = 366
	}
	l := newLong(t)
	var early gauge
	for d := range days {
		if d == min(30, (days+1)/2) {
			early = l.gauge()
		}
		if l.day(d == 0); t.Failed() {
			t.Fatalf("on day %d of seed %d", d, *longSeed)
		}
	}
	for range 288 {
		l.slice(true)
	}
	if len(l.w.untold) > 0 {
		t.Errorf("a day after the last trouble nobody was told of %v", l.w.untold)
	}
	late := l.gauge()
	if late.heap > early.heap*5/4+1<<20 || late.files > early.files+8 || late.routines > early.routines+12 {
		t.Errorf("it grew: early it held %+v, late %+v", early, late)
	}
	sameLog(t, l.w, l.p.store)
	l.storeAsPromised(days)
	ok(t, l.stop())
	again, kinds := 0, 0
	for _, r := range []*receiver{l.phone, l.post} {
		again += r.again
		if len(r.altered) > 0 || r.told < 10*days {
			t.Errorf("%d events were told; again with another content: %q", r.told, r.altered)
		}
	}
	for _, n := range l.happened {
		kinds += n
	}
	if kinds != troublesADay*days || l.w.made < 20*days {
		t.Errorf("%d troubles and %d transitions in %d days: too calm", kinds, l.w.made, days)
	}
	t.Logf("seed %d: %d messages, %d readings, %d lost with those killed, %d transitions; early %+v, late %+v; %v",
		*longSeed, l.messages, l.w.readings, l.w.lost, l.w.made, early, late, l.happened)
	trials.Report(t, fmt.Sprintf("%d days of two houses, %d troubles of broker, disk, clock, receivers, config and houses, kills among them", days, kinds),
		trials.Lost(l.w.wrong+len(l.w.owed)+len(l.w.untold)), trials.Twice(again), trials.Blind(l.w.blind), trials.Told(time.Duration(l.slowest.Load())), trials.Memory(float64(late.heap)/1e6))
}

// storeAsPromised holds the store against what its package promises: raw readings
// for 90 days and the days until their epoch is over, then 10-minute values. A
// reading took 4.2 bytes in BenchmarkHour's days; a 10-minute value of four bytes
// and its stream's day, a transition with all that is kept of its tellings, and
// the rest are bounds by rule of thumb.
func (l *long) storeAsPromised(days int) {
	l.t.Helper()
	const reading, sum, transition, rest = 6, 3 * 144 * 4, 6000, 12 << 20
	size, err := l.p.store.Size(context.Background())
	ok(l.t, err)
	streams := l.p.store.Stats().Streams
	most := int64(l.w.readings*min(days, 100)/days*reading + days*streams*sum + l.w.made*transition + rest)
	if size > most {
		l.t.Errorf("the store holds %d bytes, want at most %d", size, most)
	}
	old := l.clock.Now().Add(-100 * 24 * time.Hour)
	if !old.After(longStart) {
		return
	}
	raw, err := l.p.store.History.Readings(context.Background(), "bench-1", alarms.Temperature, longStart, old, 10)
	ok(l.t, err)
	sums, err := l.p.store.History.Buckets(context.Background(), "bench-1", alarms.Temperature, longStart, old, 1000)
	ok(l.t, err)
	if len(raw) > 0 || len(sums) == 0 {
		l.t.Errorf("of what is over 100 days old there are %d raw readings and %d sums, want none and some", len(raw), len(sums))
	}
}
