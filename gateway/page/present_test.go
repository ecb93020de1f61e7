package page

import (
	"encoding/json"
	"math/rand/v2"
	"net/url"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/page/door"
	"telltale/gateway/page/words"
)

// hotBench is a core in which an alarm was raised at 33.2 °C and it is 36.0 °C
// since; more sends one reading more and returns the new picture.
func hotBench(t *testing.T) (picture alarms.Picture, more func(v float64) alarms.Picture) {
	t.Helper()
	e, err := engine.New(alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Houses: []alarms.House{{ID: "long-house", Name: "Long House",
		Places: []alarms.Place{{ID: "bench", Name: "bench",
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(33)}}},
			Probes: []alarms.Probe{{ID: "bench-1", Name: "bench-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	at := noon.Add(-30 * time.Minute)
	more = func(v float64) alarms.Picture {
		e.Step(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: v})
		at = at.Add(time.Minute)
		return say.Picture(e.Plan(), e.Picture(), say.Of(e.Plan()))
	}
	for _, v := range []float64{31, 32, 33.2, 33.2, 34, 35, 36.4} {
		more(v)
	}
	for i := range 21 {
		picture = more(36.2 + float64(i%2)/10)
	}
	picture = more(36)
	if len(picture.Alarms) != 1 || picture.Alarms[0].State != alarms.Unacknowledged {
		t.Fatalf("got %+v, want one alarm", picture.Alarms)
	}
	return picture, more
}

// Every view of an open alarm shows how it is, not how it was when it came.
func TestNoViewShowsHowItWasAsHowItIs(t *testing.T) {
	const is = "Too hot in Long House, bench: 36.0 °C now (limit 33.0 °C)"
	picture, more := hotBench(t)
	f, ackLinks := newFake(), door.NewAckLinks([]byte("a key of these tests, not secret"))
	f.picture = picture
	st := start(t, Options{Watch: f, AckLinks: ackLinks}, quick)
	hot := picture.Alarms[0]
	views := map[string]string{
		"the front page": "/", "the alarm's page": "/alarm?id=" + url.QueryEscape(string(hot.ID)),
		"the page behind a link": "/tap?t=" + tokenOf(t, ackLinks.Link("http://x", hot.ID, hot.Transition, "Ada", noon.Add(time.Hour))),
	}
	for name, path := range views {
		_, text := st.get(path)
		if read := reading(text); !strings.Contains(read, is) || !strings.Contains(read, "the highest was 36.4 °C at 11:38; 33.2 °C when raised at 11:35.") {
			t.Errorf("%s does not say how it is: %s", name, read)
		}
		wantNone(t, reading(text), "33.2 °C now")
	}

	events := st.follow()
	next(t, events)
	f.change(func(p *alarms.Picture) { *p = more(36.7) })
	n := next(t, events).news(t)
	wantAll(t, reading(n.Pieces["alarms"]), "36.7 °C now (limit 33.0 °C)")
}

// The figure of an open alarm is the newest reading of the probe furthest out that is heard,
// whatever comes and goes, and there is none where none is heard.
func TestTheFigureIsAlwaysOfNow(t *testing.T) {
	w := words.New(alarms.Words{})
	figures, blind := 0, 0
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 13))
		probe := func(id alarms.ProbeID) alarms.Probe {
			return alarms.Probe{ID: id, Name: string(id), Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}
		}
		e, err := engine.New(alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Houses: []alarms.House{{ID: "long-house", Name: "Long House", Places: []alarms.Place{{ID: "bench", Name: "bench",
			Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(30)}}}, Probes: []alarms.Probe{probe("bench-1"), probe("bench-2")}}}}}})
		if err != nil {
			t.Fatal(err)
		}
		air, heard, last := 30.0, [2]time.Time{}, [2]float64{}
		dumb := [2]int{} // minutes for which a probe says nothing
		for minute := range 600 {
			at := noon.Add(time.Duration(minute) * time.Minute)
			air = min(max(air+rnd.Float64()*2-1, 26), 36)
			for i, id := range []alarms.ProbeID{"bench-1", "bench-2"} {
				if dumb[i]--; dumb[i] > 0 {
					continue
				}
				if rnd.IntN(40) == 0 {
					dumb[i] = rnd.IntN(15)
				}
				heard[i], last[i] = at, air+rnd.Float64()*0.6
				e.Step(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: id, Quantity: alarms.Temperature, Value: last[i]})
			}
			now := at.Add(30 * time.Second)
			e.Step(alarms.Input{At: now, Kind: alarms.Tick})
			open, _ := splitAlarms(w, say.Picture(e.Plan(), e.Picture(), say.Of(e.Plan())), now)
			var furthest *float64
			sure := true // heard or silent for sure: a silence is noticed after 3.1 minutes
			for i := range last {
				switch old := now.Sub(heard[i]); {
				case old <= 3*time.Minute:
					if furthest == nil || last[i] > *furthest {
						furthest = &last[i]
					}
				case old < 4*time.Minute:
					sure = false
				}
			}
			for _, a := range open.Open {
				switch {
				case a.ID != "long-house/bench/temperature/high" || a.Over || !sure:
				case furthest == nil && a.Figure == nil:
					blind++
				case furthest == nil || a.Figure == nil || a.Figure.Value+a.Figure.Unit != w.Value(alarms.Temperature, *furthest):
					t.Fatalf("seed %d, minute %d: it shows %+v, heard is %v of %v", seed, minute, a.Figure, last, heard)
				default:
					figures++
				}
			}
		}
	}
	if figures < 1000 || blind < 5 {
		t.Errorf("%d figures and %d times none: the schedules are too dull", figures, blind)
	}
}

func TestAPIGivesWhatHoldsNow(t *testing.T) {
	a := apiOf(t)
	a.fake.picture, _ = hotBench(t)
	var v struct {
		Alarms []struct {
			Sentence, Told string
			Present        struct{ Value, Beyond, Worst, First *float64 }
		}
	}
	if err := json.Unmarshal(a.call("GET", "/api/v1/alarms", lookToken, "", 200), &v); err != nil || len(v.Alarms) != 1 {
		t.Fatalf("%v: %+v", err, v)
	}
	one := v.Alarms[0]
	if !strings.Contains(one.Sentence, ": 36.0 °C now") || !strings.Contains(one.Told, ": 36.4 °C (limit 33.0 °C)") || strings.Contains(one.Told, "now") {
		t.Errorf("it says %q, and was told %q", one.Sentence, one.Told)
	}
	if p := one.Present; p.Value == nil || *p.Value != 36 || *p.Beyond != 3 || *p.Worst != 36.4 || *p.First != 33.2 {
		t.Errorf("as data: %+v", p)
	}
}
