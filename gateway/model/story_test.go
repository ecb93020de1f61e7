package model

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// tell opens a story; heard collects what it publishes.
func tell(t *testing.T, name string) (*Sim, Story) {
	t.Helper()
	story, ok := Find(name)
	if !ok {
		t.Fatalf("no story %q", name)
	}
	s, err := Tell(story, 7)
	if err != nil {
		t.Fatal(err)
	}
	return s, story
}

// said is one quantity of what one probe says in a stretch of messages.
func said(t *testing.T, list []Published, id alarms.ProbeID, q alarms.Quantity) []float64 {
	t.Helper()
	var all []float64
	for _, p := range list {
		if spec := specOf(t, p.Topic); spec.ID == id {
			v, _ := values(t, spec, p.Payload)
			all = append(all, v[q])
		}
	}
	return all
}

// The fan dies at 13:10 in the sun. With it the bench stays near the dial;
// without it 35 °C is passed within 40 minutes; mended, the house returns.
func TestHotAfternoon(t *testing.T) {
	s, story := tell(t, "hot-afternoon")
	at := func(h, m int) time.Time { return time.Date(2026, 7, 14, h, m, 0, 0, time.UTC) }
	for now := story.Start; now.Before(at(13, 10)); now = now.Add(5 * time.Minute) {
		s.Advance(now)
		if v := s.Truth().House("long-house").Temperature; v > 32.2 {
			t.Fatalf("%s: %v °C with a working fan", now, v)
		}
	}
	before := s.Advance(at(13, 9))
	if h := s.Truth().House("long-house"); !h.Fan || h.Shutter != 1 {
		t.Errorf("just before: fan %v shutter %v", h.Fan, h.Shutter)
	}
	if amps := said(t, before, "exhaust-fan-1", alarms.Current); len(amps) == 0 || amps[0] < 0.25 {
		t.Errorf("fan current before: %v", amps)
	}
	dead := s.Advance(at(13, 50))
	h := s.Truth().House("long-house")
	if h.Fan || h.Temperature < 35.3 || h.Temperature > 42 {
		t.Errorf("40 minutes later: fan %v, %v °C, want off and above 35 °C", h.Fan, h.Temperature)
	}
	if amps := said(t, dead, "exhaust-fan-1", alarms.Power); amps[len(amps)-1] > 5 {
		t.Errorf("a dead fan draws %v W", amps[len(amps)-1])
	}
	if warm := said(t, dead, "bench-1", alarms.Temperature); warm[len(warm)-1] < 35 {
		t.Errorf("the probe says %v °C", warm[len(warm)-1])
	}
	s.Advance(at(16, 30))
	if h := s.Truth().House("long-house"); !h.Fan || h.Temperature > 32 {
		t.Errorf("an hour after mending: %v °C", h.Temperature)
	}
	evening := s.Advance(at(17, 45))
	rest := s.Advance(story.Start.Add(story.Length))
	if len(said(t, evening, "ridge-1", alarms.Temperature)) == 0 || len(said(t, rest, "ridge-1", alarms.Temperature)) != 0 {
		t.Error("the ridge probe must fall silent at 17:45")
	}
	if h := s.Truth().House("long-house"); h.Fan || h.Temperature > 26 {
		t.Errorf("at midnight: fan %v %v °C", h.Fan, h.Temperature)
	}
}

func TestFrostyNight(t *testing.T) {
	s, story := tell(t, "frosty-night")
	at := func(after time.Duration) time.Time { return story.Start.Add(after) }
	s.Advance(at(6*time.Hour + 29*time.Minute))
	if v := s.Truth().House("low-house").Temperature; v < 6 {
		t.Errorf("heated: %v °C", v)
	}
	s.Advance(at(8 * time.Hour))
	if v := s.Truth().House("low-house").Temperature; v > 2.5 {
		t.Errorf("90 minutes without the heater: %v °C", v)
	}
	s.Advance(at(11*time.Hour + 9*time.Minute))
	if h := s.Truth().House("low-house"); h.Temperature < 6 || !s.Truth().House("long-house").Loop {
		t.Errorf("heated again: %v °C", h.Temperature)
	}
	loopOn := s.Truth().House("long-house").Temperature
	s.Advance(at(11*time.Hour + 10*time.Minute))
	silent := s.Advance(at(13*time.Hour + 10*time.Minute))
	for _, id := range []alarms.ProbeID{"loop-deep-1", "loop-shallow-1", "bed-1"} {
		q := specByID(t, id).Senses[0].Quantity
		if said(t, silent, id, q) != nil {
			t.Errorf("%s speaks without electricity", id)
		}
	}
	if watts := said(t, silent, "loop-fan-1", alarms.Power); watts[len(watts)-1] > 3 {
		t.Errorf("loop fan draws %v W on a dead circuit", watts)
	}
	if v := s.Truth().House("long-house").Temperature; v > loopOn-1.5 {
		t.Errorf("without the loop: %v °C, with it %v °C", v, loopOn)
	}
	back := said(t, s.Advance(at(13*time.Hour+20*time.Minute)), "bed-1", alarms.Soil)
	if len(back) < 2 || back[0] != 85 || back[1] > 15 {
		t.Errorf("after power-on the 1-wire probe says %v, want 85 and then the truth", back)
	}
}

func specByID(t *testing.T, id alarms.ProbeID) Spec {
	t.Helper()
	for _, s := range Layout() {
		if s.ID == id {
			return s
		}
	}
	t.Fatalf("no probe %s", id)
	return Spec{}
}

func TestClosedShutter(t *testing.T) {
	s, story := tell(t, "closed-shutter")
	s.Advance(story.Start.Add(7 * time.Hour))
	list := s.Advance(story.Start.Add(8 * time.Hour))
	h := s.Truth().House("long-house")
	if !h.Fan || h.Temperature < 33 {
		t.Errorf("fan %v, %v °C behind a closed shutter", h.Fan, h.Temperature)
	}
	amps, contact := said(t, list, "exhaust-fan-1", alarms.Current), said(t, list, "shutter-1", alarms.Contact)
	if amps[0] < 0.37 || contact[0] != 0 {
		t.Errorf("fan current %v, end switch %v", amps[0], contact[0])
	}
	list = s.Advance(story.Start.Add(8*time.Hour + 40*time.Minute))
	if v := s.Truth().House("long-house").Temperature; v > 32 {
		t.Errorf("40 minutes after it opened: %v °C", v)
	}
	contact = said(t, list, "shutter-1", alarms.Contact)
	if contact[len(contact)-1] != 1 {
		t.Error("the end switch must close")
	}
}

func TestSickProbes(t *testing.T) {
	s, story := tell(t, "sick-probes")
	s.Advance(story.Start.Add(2*time.Hour + time.Minute))
	wet := s.Advance(story.Start.Add(3 * time.Hour))
	for _, v := range said(t, wet, "bench-1", alarms.Humidity) {
		if v != 100 {
			t.Fatalf("wet probe says %v %%", v)
		}
	}
	for _, v := range said(t, wet, "bench-2", alarms.Humidity) {
		if v > 95 {
			t.Fatalf("its sibling says %v %%", v)
		}
	}
	s.Advance(story.Start.Add(4*time.Hour + time.Minute))
	stuck := said(t, s.Advance(story.Start.Add(6*time.Hour)), "intake-1", alarms.Temperature)
	for _, v := range stuck {
		if v != stuck[0] {
			t.Fatalf("stuck probe says %v and %v", stuck[0], v)
		}
	}
	reset := said(t, s.Advance(story.Start.Add(6*time.Hour+2*time.Minute)), "ridge-1", alarms.Temperature)
	if len(reset) == 0 || reset[len(reset)-1] != 85 {
		t.Errorf("power-on value: got %v", reset)
	}
	s.Advance(story.Start.Add(20*time.Hour + time.Minute))
	last := s.Advance(story.Start.Add(20*time.Hour + 20*time.Minute))
	if v := said(t, last, "bench-1", alarms.Humidity); v[0] == 100 {
		t.Error("the probe does not dry")
	}
	if len(s.Faults()) != 0 {
		t.Errorf("left over: %v", s.Faults())
	}
}

func TestBrokerAway(t *testing.T) {
	s, story := tell(t, "broker-away")
	s.Advance(story.Start.Add(time.Hour))
	if s.BrokerUp() {
		t.Error("the broker must be away")
	}
	if got := s.Advance(story.Start.Add(80*time.Minute - time.Second)); len(got) != 0 {
		t.Errorf("%d messages got through", len(got))
	}
	if got := s.Advance(story.Start.Add(90 * time.Minute)); !s.BrokerUp() || len(got) < 100 {
		t.Errorf("%d messages after it came back", len(got))
	}
}

func TestWeldedRelay(t *testing.T) {
	s, story := tell(t, "welded-relay")
	s.Advance(story.Start.Add(3 * time.Hour))
	if h := s.Truth().House("long-house"); !h.Fan || h.Shutter != 1 {
		t.Errorf("in the sun: fan %v shutter %v", h.Fan, h.Shutter)
	}
	s.Advance(story.Start.Add(11 * time.Hour))
	list := s.Advance(story.Start.Add(12 * time.Hour))
	h := s.Truth().House("long-house")
	if amps := said(t, list, "exhaust-fan-1", alarms.Current); !h.Fan || h.Shutter != 0 || amps[0] < 0.37 {
		t.Errorf("at night: fan %v shutter %v current %v", h.Fan, h.Shutter, amps)
	}
	s.Advance(story.Start.Add(20*time.Hour + time.Minute))
	if h := s.Truth().House("long-house"); h.Fan {
		t.Error("the fan must stop when the relay is replaced")
	}
}

func TestStoriesAreInOrder(t *testing.T) {
	for _, st := range Stories() {
		var last time.Duration
		for _, e := range st.Events {
			if e.After < last || e.After > st.Length || !strings.HasSuffix(e.Says, ".") {
				t.Errorf("%s: event %+v", st.Name, e)
			}
			last = e.After
		}
		if _, err := Tell(st, 1); err != nil || !strings.HasSuffix(st.Says, ".") {
			t.Errorf("%s: %v", st.Name, err)
		}
	}
	if _, ok := Find("no-such-story"); ok {
		t.Error("found a story that is not there")
	}
}

func TestFaultsMustExist(t *testing.T) {
	s := ThimbleGarth(day(2026, 5, 1, 8), 1)
	for want, f := range map[string]Fault{
		`fault fan-dead: got house "attic", want one of ["long-house" "low-house"]`: {Kind: FanDead, House: "attic"},
		`fault breaker-tripped: house "long-house" has no circuit "east"`:           {Kind: BreakerTripped, House: "long-house", Circuit: "east"},
		`fault breaker-tripped: house "long-house" has no circuit ""`:               {Kind: BreakerTripped, House: "long-house"},
		`fault probe-wet: there is no probe "bench-9"`:                              {Kind: ProbeWet, Probe: "bench-9"},
		`fault "flood" is not known`:                                                {Kind: "flood"},
	} {
		if err := s.Switch(f, true); err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
		if err := s.schedule(s.now, f, true); err == nil || err.Error() != want {
			t.Errorf("scheduled: got %v, want %s", err, want)
		}
	}
	if _, err := Tell(Story{Name: "x", Start: day(2026, 5, 1, 8), Events: []Event{{Fault: Fault{Kind: ProbeStuck}}}}, 1); err == nil {
		t.Error("a story about a probe that is not there")
	}
	f := Fault{Kind: ProbeSilent, Probe: "bench-1"}
	for range 2 { // twice is as good as once
		if err := s.Switch(f, true); err != nil || len(s.Faults()) != 1 {
			t.Errorf("%v %v", err, s.Faults())
		}
	}
	if err := s.Switch(f, false); err != nil || len(s.Faults()) != 0 {
		t.Errorf("%v %v", err, s.Faults())
	}
}
