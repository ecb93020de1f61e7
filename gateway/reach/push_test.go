package reach

import (
	"errors"
	"net/http"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

func hotTelling(p alarms.Priority) Telling { return telling(garden(), "phone", tooHot(p)) }

func TestPushGoesToEveryDevice(t *testing.T) {
	s := startPushService(t)
	phone, tablet := s.register(1, "phone"), s.register(2, "tablet")
	d := newDrawer("Ada", phone, tablet)
	if err := pushTo(t, d).Tell(t.Context(), hotTelling(alarms.High)); err != nil {
		t.Fatal(err)
	}
	got := s.letters()
	if len(got) != 2 || got[0].device == got[1].device || got[0].Tag != got[1].Tag {
		t.Fatalf("got %+v", got)
	}
	m, want := got[0].pushed, tooHot(alarms.High)
	if !strings.Contains(m.Body, want.Sentence) || !strings.HasSuffix(m.Body, "\nTold at 12:00 on Thursday 9 July.") || m.Alarm != string(hot) ||
		m.Tap != "tap-of-Ada-"+want.ID || m.Page != "/alarm?id="+string(hot) || m.At != "2026-07-09T12:00:00Z" || m.Priority != "high" || m.Over || m.Test ||
		m.Title != "High: Long House, bench: too hot, 33.4 °C at 12:00" {
		t.Errorf("got %+v", m)
	}
	h := got[0].header
	if h.Get("TTL") != "86400" || h.Get("Urgency") != "high" || h.Get("Topic") != m.Tag {
		t.Errorf("got %v", h)
	}
	for id := range int64(2) {
		if n := d.last(id + 1); !n.Told || n.Why != "" {
			t.Errorf("device %d: got %+v", id+1, n)
		}
	}
}

func TestPushOneOfSeveralIsEnough(t *testing.T) {
	s := startPushService(t)
	phone, old := s.register(1, "phone"), s.register(2, "old phone")
	old.gone = true
	d := newDrawer("Ada", old, phone)
	p := pushTo(t, d)
	for range 2 {
		if err := p.Tell(t.Context(), hotTelling(alarms.Medium)); err != nil {
			t.Fatal(err)
		}
	}
	if n := d.last(2); !n.Gone || n.Told || len(d.news[2]) != 1 || !strings.Contains(n.Why, "answered 410 Gone: the push service does not know it any more, so it was forgotten") {
		t.Errorf("got %+v", d.news[2])
	}
	phone.gone = true
	err := p.Tell(t.Context(), hotTelling(alarms.Medium))
	var final *Permanent
	if !errors.As(err, &final) || !strings.HasPrefix(err.Error(), `device "phone": `) {
		t.Errorf("all are gone: got %v", err)
	}
	err = p.Tell(t.Context(), hotTelling(alarms.Medium))
	if !errors.As(err, &final) || err.Error() != "no device of Ada takes alarms yet: open /device on the phone" {
		t.Errorf("none is left: got %v", err)
	}
	d.err = errors.New("disk I/O error")
	if err := p.Tell(t.Context(), hotTelling(alarms.Medium)); err == nil || errors.As(err, &final) {
		t.Errorf("a disk that refuses: got %v", err)
	}
}

func TestPushAnswers(t *testing.T) {
	s := startPushService(t)
	d := newDrawer("Ada", s.register(1, "phone"))
	p := pushTo(t, d)
	in := noon.Add(90 * time.Second).Format(http.TimeFormat)
	for _, c := range []struct {
		code  int
		after string
		want  string
	}{
		{200, "", "told"}, {201, "", "told"}, {202, "", "told"}, {204, "", "told"},
		{301, "", "denied"}, {302, "", "denied"}, {307, "", "denied"}, {308, "", "denied"},
		{400, "", "permanent"}, {405, "", "denied"}, {413, "", "permanent"}, {422, "", "denied"},
		{401, "", "denied"}, {403, "", "denied"}, {408, "", "again"}, {425, "", "again"},
		{429, "", "again"}, {429, "30", "later 30s"}, {429, in, "later 1m30s"}, {429, "soon", "again"}, {429, "0", "again"}, {429, "-3", "again"},
		{500, "", "again"}, {502, "", "again"}, {503, "", "again"}, {503, "120", "later 2m0s"}, {503, "999999", "later 1h0m0s"},
		{503, noon.Add(-time.Hour).Format(http.TimeFormat), "again"},
		{404, "", "gone"},
	} {
		s.set(func(s *pushService) {
			s.status, s.header = c.code, http.Header{}
			if c.after != "" {
				s.header.Set("Retry-After", c.after)
			}
		})
		err := p.Tell(t.Context(), hotTelling(alarms.High))
		n := d.last(1)
		if got := kindOf(err, n); got != c.want {
			t.Errorf("%d, Retry-After %q: got %s (%v), want %s", c.code, c.after, got, err, c.want)
		}
		if n.Told != (err == nil) || (n.Why == "") != (err == nil) {
			t.Errorf("%d: noted %+v", c.code, n)
		}
		if err != nil && (strings.Contains(err.Error(), "s3cr3t") || strings.Contains(err.Error(), "/push/") || strings.Contains(n.Why, "s3cr3t")) {
			t.Errorf("the sentence shows the endpoint: %v", err)
		}
	}
}

func kindOf(err error, n DeviceNews) string {
	switch {
	case n.Gone:
		return "gone"
	case err == nil:
		return "told"
	}
	return strings.Replace(kindOfError(err), "temporary", "again", 1)
}

// What fails for one device for now and for another for good is tried again.
func TestPushErrorsTogether(t *testing.T) {
	for _, c := range []struct {
		errs []error
		want string
	}{
		{[]error{errors.New("a"), nil}, "told"},
		{[]error{refuse("a"), refuse("b")}, "permanent"},
		{[]error{refuse("a"), errors.New("b")}, "again"},
		{[]error{refuse("a"), deny("b")}, "denied"},
		{[]error{deny("a"), errors.New("b")}, "again"},
		{[]error{refuse("a"), &Later{Pause: time.Minute}}, "later 1m0s"},
		{[]error{&Later{Pause: time.Minute}, &Later{Pause: time.Second}}, "later 1s"},
		{[]error{&Later{Pause: time.Minute}, errors.New("b")}, "again"},
	} {
		if got := kindOf(together(c.errs), DeviceNews{}); got != c.want {
			t.Errorf("%v: got %s, want %s", c.errs, got, c.want)
		}
	}
}

func TestPushReplacesOlderNewsOfTheSameAlarm(t *testing.T) {
	s := startPushService(t)
	p := pushTo(t, newDrawer("Ada", s.register(1, "phone")))
	other := tooHot(alarms.Low)
	other.Alarm, other.ID = "low-house/bed/temperature/high", "low-house/bed/temperature/high#1"
	for _, one := range []Telling{
		hotTelling(alarms.High),
		telling(garden(), "phone", over(alarms.High, alarms.Unacknowledged, noon.Add(time.Hour), time.Hour)),
		telling(garden(), "phone", tooHot(alarms.High), over(alarms.High, alarms.Acknowledged, noon.Add(time.Hour), time.Hour)),
		telling(garden(), "phone", other),
		telling(garden(), "phone", tooHot(alarms.High), other),
	} {
		if err := p.Tell(t.Context(), one); err != nil {
			t.Fatal(err)
		}
	}
	got := s.letters()
	if got[0].Tag != got[1].Tag || got[0].Tag != got[2].Tag || got[3].Tag == got[0].Tag || got[4].Tag == got[0].Tag || got[4].Tag == got[3].Tag {
		t.Errorf("got the tags %q", []string{got[0].Tag, got[1].Tag, got[2].Tag, got[3].Tag, got[4].Tag})
	}
	for i, want := range []struct {
		tap, over bool
		urgency   string
		ttl       string
		page      string
	}{
		{true, false, "high", "86400", "/alarm?id=" + string(hot)},
		{true, true, "high", "86400", "/alarm?id=" + string(hot)},   // it returned, and nobody has acknowledged it
		{false, false, "high", "86400", "/alarm?id=" + string(hot)}, // acknowledged meanwhile
		{true, false, "low", "21600", "/alarm?id=" + string(other.Alarm)},
		{false, false, "high", "86400", "/"}, // of two alarms: which one would be acknowledged?
	} {
		m := got[i]
		if (m.Tap != "") != want.tap || m.Over != want.over || m.header.Get("Urgency") != want.urgency || m.header.Get("TTL") != want.ttl || m.Page != want.page {
			t.Errorf("message %d: got %+v, want %+v", i, m, want)
		}
	}
	if !strings.HasSuffix(got[4].Title, "(and 1 more)") || !strings.Contains(got[4].Body, tooHot(alarms.High).Sentence) {
		t.Errorf("got %+v", got[4])
	}
}

func TestPushShortens(t *testing.T) {
	s := startPushService(t)
	p := pushTo(t, newDrawer("Ada", s.register(1, "phone")))
	long := tooHot(alarms.High)
	long.Sentence = "The bench is too hot. " + strings.Repeat("<é> \"and\" ", 500)
	if err := p.Tell(t.Context(), telling(garden(), "phone", long)); err != nil {
		t.Fatal(err)
	}
	s.set(func(s *pushService) { s.most = 1200 })
	if err := p.Tell(t.Context(), telling(garden(), "phone", long)); err != nil {
		t.Fatal(err)
	}
	got := s.letters()
	for i, least := range []int{1800, 200} { // of the longest body there is room for
		if b := got[i].Body; !strings.HasPrefix(b, "The bench is too hot. <é> \"and\" ") ||
			!strings.HasSuffix(b, "… The rest is on the page.\nTold at 12:00 on Thursday 9 July.") || len(b) < least {
			t.Errorf("message %d has a body of %d bytes: %q", i, len(b), b)
		}
	}
	s.set(func(s *pushService) { s.most = 10 })
	err := p.Tell(t.Context(), hotTelling(alarms.High))
	if got := kindOf(err, DeviceNews{}); got != "permanent" || !strings.Contains(err.Error(), "too long") {
		t.Errorf("a service that takes next to nothing: got %v", err)
	}
}

// The whole way: from rows in the outbox through the worker to two devices,
// over a service that is away at first and a device that is gone.
func TestPushThroughTheWorker(t *testing.T) {
	s := startPushService(t)
	phone, lost := s.register(1, "phone"), s.register(2, "lost phone")
	lost.gone = true
	d := newDrawer("Ada", phone, lost)
	s.set(func(s *pushService) { s.status = 503; s.header = map[string][]string{"Retry-After": {"1"}} })
	rules := garden()
	rules.Tell = rules.Tell[:1]
	rows := route(t, rules, tooHot(alarms.High))
	var mine []Outgoing
	for _, r := range rows {
		if r.Channel == "phone" {
			mine = append(mine, r)
		}
	}
	box := newMemory(mine...)
	begun := time.Now()
	start(t, box, Options{Now: func() time.Time { return noon.Add(time.Since(begun)) },
		Channels: []Channel{{Name: "phone", Notifier: Limit(TimeLimit(pushTo(t, d), time.Minute), Limits{})}}})
	eventually(t, "the service is asked", func() bool { return d.last(1).Why != "" })
	s.set(func(s *pushService) { s.status = 201 })
	eventually(t, "the phone is told", func() bool { return len(s.letters()) == 1 && strings.HasSuffix(outcomes(box.log()), "delivered") })
	if got := outcomes(box.log()); !strings.HasPrefix(got, "held ") {
		t.Errorf("the outcomes are %q, want it held at first", got)
	}
	if m := s.letters()[0]; m.Body != tooHot(alarms.High).Sentence+"\nTold at 12:00 on Thursday 9 July." {
		t.Errorf("got %q", m.Body)
	}
	if of, _ := d.Of(t.Context(), "Ada"); len(of) != 1 || of[0].ID != 1 {
		t.Errorf("left are %v", of)
	}
}
