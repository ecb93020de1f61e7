package page

import (
	"encoding/json"
	"net/url"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// hotBench is a core in which an alarm was raised at 33.2 °C and it is 36.0 °C
// since; more sends one reading more and returns the new picture.
func hotBench(t *testing.T) (picture alarms.Picture, more func(v float64) alarms.Picture) {
	t.Helper()
	e, err := alarms.New(alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Houses: []alarms.House{{ID: "long-house", Name: "Long House",
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
		return e.Picture()
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
	f, taps := newFake(), NewTaps([]byte("a key of these tests, not secret"))
	f.picture = picture
	st := start(t, Options{Watch: f, Taps: taps}, quick)
	hot := picture.Alarms[0]
	views := map[string]string{
		"the front page": "/", "the alarm's page": "/alarm?id=" + url.QueryEscape(string(hot.ID)),
		"the page behind a link": "/tap?t=" + tokenOf(t, taps.Link("http://x", hot.ID, hot.Transition, "Ada", noon.Add(time.Hour))),
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
