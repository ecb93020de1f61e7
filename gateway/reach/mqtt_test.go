package reach

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

func newMQTT(t *testing.T, out Publisher) *MQTT {
	t.Helper()
	m, err := NewMQTT(out, "")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func tell(t *testing.T, n Notifier, ts ...alarms.Transition) {
	t.Helper()
	for _, tr := range ts {
		if err := n.Tell(t.Context(), telling(garden(), "lamps", tr)); err != nil {
			t.Fatal(err)
		}
	}
}

// TestLampFollows goes over a real broker with a real client: a lamp that was
// there from the start, one that comes later, and one that comes when all is over.
func TestLampFollows(t *testing.T) {
	address := startBroker(t)
	early := follow(t, address, "early", "telltale/#")
	m := newMQTT(t, client{connect(t, address, "watch")})

	raised := tooHot(alarms.High)
	tell(t, m, raised)
	late := follow(t, address, "late", "telltale/#")
	topic := "telltale/alarm/" + string(hot)
	eventually(t, "the late lamp knows", func() bool { return len(late.topics()) == 3 })
	if got, want := late.topics(), []string{topic, "telltale/house/long-house/state", "telltale/state"}; !slices.Equal(got, want) {
		t.Errorf("retained: %q, want %q", got, want)
	}
	if late.kept("telltale/state") != "act" || late.kept("telltale/house/long-house/state") != "act" {
		t.Errorf("words %q, %q", late.kept("telltale/state"), late.kept("telltale/house/long-house/state"))
	}
	checkAgainst(t, "alarm-state.json", []byte(late.kept(topic)))
	var s AlarmState
	if err := json.Unmarshal([]byte(late.kept(topic)), &s); err != nil {
		t.Fatal(err)
	}
	if s.State != alarms.Unacknowledged || !s.Active || s.Sentence != raised.Sentence || s.Priority != alarms.High || s.House != "long-house" {
		t.Errorf("state %+v", s)
	}

	acked := with(raised, "2", alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged, noon.Add(time.Minute))
	done := over(alarms.High, alarms.Acknowledged, noon.Add(time.Hour), time.Hour)
	done.ID = string(hot) + "#3"
	tell(t, m, acked, done)
	eventually(t, "the early lamp heard all", func() bool { return len(early.heard("telltale/event")) == 3 })
	if got := early.heard("telltale/house/long-house/state"); !slices.Equal(got, []string{"act", "taken", "calm"}) {
		t.Errorf("the lamp showed %q, want act, taken, calm", got)
	}
	for _, body := range early.heard("telltale/event") {
		checkAgainst(t, "alarm-event.json", []byte(body))
	}
	last := follow(t, address, "last", "telltale/#")
	eventually(t, "the last lamp knows", func() bool { return len(last.topics()) == 3 })
	if body := last.kept(topic); !strings.Contains(body, `"state":"normal"`) || last.kept("telltale/state") != "calm" {
		t.Errorf("after the end: %s, %s", body, last.kept("telltale/state"))
	}
}

// TestWords goes through what a lamp may have to show.
func TestWords(t *testing.T) {
	state := func(id string, house alarms.HouseID, s alarms.State, p alarms.Priority) AlarmState {
		return AlarmState{Alarm: alarms.AlarmID(id), House: house, State: s, Priority: p}
	}
	a, b := alarms.HouseID("long-house"), alarms.HouseID("low-house")
	cases := []struct {
		give          []AlarmState
		inA, inB, all Word
	}{
		{nil, Calm, Calm, Calm},
		{[]AlarmState{state("1", a, alarms.Unacknowledged, alarms.High)}, Act, Calm, Act},
		{[]AlarmState{state("1", a, alarms.Unacknowledged, alarms.Medium)}, Look, Calm, Look},
		{[]AlarmState{state("1", a, alarms.Acknowledged, alarms.High)}, Taken, Calm, Taken},
		{[]AlarmState{state("1", a, alarms.ReturnedUnack, alarms.High)}, Look, Calm, Look},
		{[]AlarmState{state("1", a, alarms.Shelved, alarms.High), state("2", a, alarms.SuppressedByDesign, alarms.High),
			state("3", a, alarms.OutOfService, alarms.High), state("4", a, alarms.Normal, alarms.High)}, Calm, Calm, Calm},
		{[]AlarmState{state("1", a, alarms.Acknowledged, alarms.High), state("2", a, alarms.Unacknowledged, alarms.Low),
			state("3", b, alarms.Acknowledged, alarms.Low)}, Look, Taken, Look},
		{[]AlarmState{state("1", "", alarms.Unacknowledged, alarms.High)}, Calm, Calm, Act},
		{[]AlarmState{{Alarm: "1", House: a, State: alarms.Shelved, Holds: true, Priority: alarms.High}}, Taken, Calm, Taken},
		{[]AlarmState{{Alarm: "1", House: b, State: alarms.OutOfService, Holds: true, Priority: alarms.Low}}, Calm, Taken, Taken},
	}
	for i, c := range cases {
		states := map[alarms.AlarmID]AlarmState{}
		for _, s := range c.give {
			states[s.Alarm] = s
		}
		if got := [3]Word{wordOf(states, a), wordOf(states, b), wordOf(states, "")}; got != [3]Word{c.inA, c.inB, c.all} {
			t.Errorf("case %d: got %v, want %v", i, got, [3]Word{c.inA, c.inB, c.all})
		}
	}
}

// TestLateRowsNeverTurnALampBack tells the transitions of one alarm in every
// order: the state that stays is the newest, and every event is told.
func TestLateRowsNeverTurnALampBack(t *testing.T) {
	ts := []alarms.Transition{
		with(tooHot(alarms.High), "9", alarms.Raise, alarms.Normal, alarms.Unacknowledged, noon),
		with(tooHot(alarms.High), "10", alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged, noon), // 9 < 10, unlike "9" and "10"
		with(tooHot(alarms.High), "11", alarms.Return, alarms.Acknowledged, alarms.Normal, noon),
	}
	for _, order := range [][]int{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}} {
		d := &desk{}
		m := newMQTT(t, d)
		for _, i := range order {
			tell(t, m, ts[i])
		}
		last, events := map[string]string{}, 0
		for _, s := range d.messages() {
			last[s.topic] = s.payload
			if s.topic == "telltale/event" {
				events++
			}
		}
		if !strings.Contains(last["telltale/alarm/"+string(hot)], `#11"`) || last["telltale/state"] != "calm" || events != 3 {
			t.Errorf("order %v: %d events, word %s, state %s", order, events, last["telltale/state"], last["telltale/alarm/"+string(hot)])
		}
	}
}

// TestRepublish: after a restart everything retained is right again, whatever
// the broker held.
func TestRepublish(t *testing.T) {
	address := startBroker(t)
	before := newMQTT(t, client{connect(t, address, "before")})
	gone := tooHot(alarms.High) // of an alarm that is normal by the time of the restart
	gone.Alarm, gone.ID, gone.Reason.House = "low-house/tray/temperature/high", "low-house/tray/temperature/high#1", "low-house"
	tell(t, before, gone)

	after := newMQTT(t, client{connect(t, address, "after")})
	p := alarms.Picture{
		At:     noon.Add(time.Hour),
		Houses: []alarms.HousePicture{{ID: "long-house"}, {ID: "low-house"}},
		Alarms: []alarms.AlarmPicture{{ID: hot, Transition: string(hot) + "#5", State: alarms.Acknowledged, Level: alarms.Inner, Priority: alarms.High,
			House: "long-house", Rule: alarms.RuleLimit, Since: noon, Active: true, Sentence: "It is too hot now.", Told: "Still too hot."}},
	}
	known := []alarms.AlarmID{gone.Alarm, hot}
	if err := after.Republish(t.Context(), p, known); err != nil {
		t.Fatal(err)
	}
	tell(t, after, with(tooHot(alarms.High), "4", alarms.Raise, alarms.Normal, alarms.Unacknowledged, noon)) // a row from before
	f := follow(t, address, "lamp", "telltale/#")
	eventually(t, "the lamp knows", func() bool { return len(f.topics()) == 5 })
	for topic, part := range map[string]string{
		"telltale/alarm/" + string(gone.Alarm): `"state":"normal"`,
		"telltale/alarm/" + string(hot):        `"sentence":"Still too hot."`,
		"telltale/house/long-house/state":      "taken",
		"telltale/house/low-house/state":       "calm",
		"telltale/state":                       "taken",
	} {
		if !strings.Contains(f.kept(topic), part) {
			t.Errorf("%s: got %s, want %s", topic, f.kept(topic), part)
		}
		if strings.HasPrefix(f.kept(topic), "{") {
			checkAgainst(t, "alarm-state.json", []byte(f.kept(topic)))
		}
	}
	tell(t, after, with(tooHot(alarms.High), "6", alarms.Realarm, alarms.Acknowledged, alarms.Unacknowledged, noon.Add(2*time.Hour)))
	now := follow(t, address, "lamp 2", "telltale/state")
	eventually(t, "it goes on from there", func() bool { return now.kept("telltale/state") == "act" })
}

// TestTheLampIsNotDarkWhileWhatWasPutAsideHolds: it says so when the alarm is put
// aside, goes dark when that is over, and shines again when it comes again.
func TestTheLampIsNotDarkWhileWhatWasPutAsideHolds(t *testing.T) {
	d := &desk{}
	m := newMQTT(t, d)
	shelved := with(tooHot(alarms.High), "2", alarms.ShelveOn, alarms.Unacknowledged, alarms.Shelved, noon)
	shelved.Level = alarms.Outer
	tell(t, m, shelved)
	says := func(want string) {
		t.Helper()
		newest := map[string]string{}
		for _, one := range d.sent {
			newest[one.topic] = one.payload
		}
		checkAgainst(t, "alarm-state.json", []byte(newest["telltale/alarm/"+string(hot)]))
		if all, one := newest["telltale/state"], newest["telltale/house/long-house/state"]; all != want || one != want {
			t.Errorf("the lamps say %q and %q, want %q", all, one, want)
		}
	}
	says("taken")
	for _, holds := range []bool{false, true} {
		p := alarms.Picture{At: noon, Alarms: []alarms.AlarmPicture{{ID: hot, State: alarms.Shelved, House: "long-house", Active: holds}}}
		if err := m.Still(t.Context(), p); err != nil {
			t.Fatal(err)
		}
		says(map[bool]string{false: "calm", true: "taken"}[holds])
	}
}

// TestAWordInPlaceOfOursIsPutRight has others write where the watch does.
func TestAWordInPlaceOfOursIsPutRight(t *testing.T) {
	d := &desk{}
	m := newMQTT(t, d)
	p := alarms.Picture{At: noon, Houses: []alarms.HousePicture{{ID: "long-house"}}}
	overheard := func(topic, word string, want Word) {
		t.Helper()
		if got := m.Overheard(t.Context(), topic, []byte(word)); got != want {
			t.Errorf("of %q on %s came %q, want %q", word, topic, got, want)
		}
	}
	overheard("telltale/state", "blind", "") // what an earlier run left: nothing is said yet
	tell(t, m, tooHot(alarms.High))
	overheard("telltale/state", "act", "")
	overheard("telltale/state", "calm", Calm)
	overheard("telltale/house/long-house/state", "blind", Blind)
	d.sent = nil
	if err := m.Still(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, one := range d.sent {
		got = append(got, one.topic+" "+one.payload)
	}
	if want := []string{"telltale/state act", "telltale/house/long-house/state act"}; !slices.Equal(got, want) {
		t.Errorf("said again were %q, want %q", got, want)
	}
	overheard("telltale/state", "look", Look)
	overheard("telltale/state", "act", "") // our own came after all
	d.sent = nil
	if err := m.Still(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	if len(d.sent) > 0 {
		t.Errorf("without need %v was said", d.sent)
	}
}

// TestRepublishKeepsWhatIsNewer: a transition that came after the picture was
// taken stays; one that the picture knows to be over does not.
func TestRepublishKeepsWhatIsNewer(t *testing.T) {
	d := &desk{}
	m := newMQTT(t, d)
	tell(t, m, tooHot(alarms.High))
	if err := m.Republish(t.Context(), alarms.Picture{At: noon.Add(-time.Second)}, nil); err != nil {
		t.Fatal(err)
	}
	if got := d.messages()[len(d.messages())-1]; got.payload != "act" {
		t.Errorf("an older picture: got %v", got)
	}
	if err := m.Republish(t.Context(), alarms.Picture{At: noon.Add(time.Second)}, nil); err != nil {
		t.Fatal(err)
	}
	if got := d.messages()[len(d.messages())-1]; got.payload != "calm" {
		t.Errorf("a newer picture: got %v", got)
	}
}

// TestRepublishFailing: wherever it breaks off, the next one completes it.
func TestRepublishFailing(t *testing.T) {
	p := alarms.Picture{At: noon.Add(time.Hour), Houses: []alarms.HousePicture{{ID: "long-house"}, {ID: "low-house"}}}
	for fails := 5; fails <= 9; fails++ {
		d := &desk{}
		m := newMQTT(t, d)
		tell(t, m, tooHot(alarms.High)) // four messages
		d.set(func(d *desk) { d.fails = fails })
		first := m.Republish(t.Context(), p, nil)
		d.set(func(d *desk) { d.fails = 0 })
		if broke := fails <= 8; (first != nil) != broke {
			t.Errorf("break at message %d: got %v", fails, first)
		}
		n := len(d.messages())
		if err := m.Republish(t.Context(), p, nil); err != nil {
			t.Fatal(err)
		}
		var topics []string
		for _, s := range d.messages()[n:] {
			topics = append(topics, s.topic+" "+s.payload[:4])
		}
		want := fmt.Sprintf("[telltale/alarm/%s {\"ve telltale/house/long-house/state calm telltale/house/low-house/state calm telltale/state calm]", hot)
		if got := fmt.Sprint(topics); got != want {
			t.Errorf("after a break at message %d: got %s, want %s", fails, got, want)
		}
	}
}

func TestLeaveAndWill(t *testing.T) {
	d := &desk{}
	m := newMQTT(t, d)
	tell(t, m, tooHot(alarms.High))
	if err := m.Leave(t.Context(), []alarms.HouseID{"long-house", "low-house"}); err != nil {
		t.Fatal(err)
	}
	want := []message{{"telltale/state", "blind"}, {"telltale/house/long-house/state", "blind"}, {"telltale/house/low-house/state", "blind"}}
	if got := d.messages()[4:]; !slices.Equal(got, want) {
		t.Errorf("got %v", got)
	}
	if topic, payload := m.Will(); topic != "telltale/state" || string(payload) != "blind" {
		t.Errorf("will %s %s", topic, payload)
	}
}

func TestNewMQTTChecks(t *testing.T) {
	for prefix, ok := range map[string]bool{"": true, "garden": true, "garden/telltale": true, "/garden": false, "garden/": false,
		"a//b": false, "a/+": false, "#": false, "$SYS": false, "a\x00": false} {
		if _, err := NewMQTT(&desk{}, prefix); (err == nil) != ok {
			t.Errorf("prefix %q: got %v", prefix, err)
		}
	}
}

// TestTestMessageTurnsNoLampOn: only the event stream shows it.
func TestTestMessageTurnsNoLampOn(t *testing.T) {
	d := &desk{}
	if err := newMQTT(t, d).Tell(t.Context(), TestTelling("", "lamps", tongue.English, noon)); err != nil {
		t.Fatal(err)
	}
	got := d.messages()
	if len(got) != 1 || got[0].topic != "telltale/event" || !strings.Contains(got[0].payload, `"test":true`) {
		t.Fatalf("got %v", got)
	}
	checkAgainst(t, "alarm-event.json", []byte(got[0].payload))
}
