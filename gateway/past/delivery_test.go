package past

import (
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

func TestDeliveriesAreCounted(t *testing.T) {
	now := time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)
	ago := func(d time.Duration) time.Time { return now.Add(-d) }
	away := []tally.Span{{From: ago(2 * time.Hour), To: ago(time.Hour)}, {From: ago(30 * time.Hour), To: ago(23 * time.Hour)}}
	for _, c := range []struct {
		from time.Duration
		want int
	}{{24 * time.Hour, 22 * 60}, {90 * time.Minute, 60}, {time.Hour, 60}, {48 * time.Hour, 40 * 60}} {
		if r := received(7, ago(c.from), now, away, time.Minute); r.Want != c.want || r.Got != 7 {
			t.Errorf("in the last %v: got %+v, want %d", c.from, r, c.want)
		}
	}
	if r := received(7, ago(time.Hour), now, nil, 0); r.Want != 0 {
		t.Errorf("with no interval known %d were expected", r.Want)
	}
}

// A probe that is three days old, and was silent for two hours of the last day,
// during one of which the watch was away.
func TestADeliveryIsCountedFromTheFirstReading(t *testing.T) {
	s, err := store.Open(filepath.Join(t.TempDir(), "store"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now := time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)
	ago := func(d time.Duration) time.Time { return now.Add(-d) }
	for at := ago(72 * time.Hour); at.Before(now); at = at.Add(time.Minute) {
		if at.After(ago(5*time.Hour)) && at.Before(ago(3*time.Hour)) {
			continue
		}
		s.Append(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: 20})
	}
	w := New(Options{Store: s})
	p := alarms.ProbePicture{ID: "bench-1", Interval: time.Minute,
		Values: []alarms.ProbeValue{{Quantity: alarms.Battery}, {Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}}
	d, err := w.delivery(t.Context(), p, []tally.Span{{From: ago(4 * time.Hour), To: ago(3 * time.Hour)}}, now)
	if err != nil {
		t.Fatal(err)
	}
	want := service.Delivery{Day: service.Received{Got: 22*60 + 1, Want: 23 * 60}, Week: service.Received{Got: 70*60 + 1, Want: 71 * 60}, Kept: time.Minute,
		Longest: 2 * time.Hour, LongestFrom: ago(5 * time.Hour), Since: ago(72 * time.Hour), Away: time.Hour}
	if d != want {
		t.Errorf("got %+v\nwant %+v", d, want)
	}
	if d, err = w.delivery(t.Context(), p, nil, now.Add(3*time.Hour)); err != nil || d.Longest != 3*time.Hour+time.Minute {
		t.Errorf("silent since: %+v, %v", d, err)
	}
	p.Values = p.Values[:1]
	if d, err = w.delivery(t.Context(), p, nil, now); err != nil || d != (service.Delivery{}) {
		t.Errorf("of a battery alone: %+v, %v", d, err)
	}
}
