package reach

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/gateway/topic"
)

// Publisher hands a message to the broker. It returns nil when the broker has
// acknowledged it, and an error at once or when ctx ends if it is not reached.
type Publisher interface {
	Publish(ctx context.Context, topic string, payload []byte, qos byte, retain bool) error
}

// qos 1: at least once.
const qos = 1

// MQTT tells lamps, sirens and whatever else follows in the house:
//
//	<prefix>/alarm/<alarm ID>     retained: the state of one alarm as JSON
//	                              (testdata/schema/alarm-state.json), also when
//	                              it is normal again
//	<prefix>/event                not retained: each transition as JSON
//	                              (testdata/schema/alarm-event.json)
//	<prefix>/house/<house>/state  retained: one plain Word for the house
//	<prefix>/state                retained: the worst Word of all houses and of
//	                              the watch itself; the broker should be given
//	                              Will for it, so a lamp that follows just one
//	                              topic should follow this one
//
// The state is published before the event. A state older than the one already
// published is left out, so late rows never turn a lamp back.
type MQTT struct {
	out    Publisher
	prefix string
	turn   chan struct{} // holds one token; who has it may touch what follows

	states  map[alarms.AlarmID]AlarmState
	words   map[string]Word // last published, by topic
	foreign map[string]bool // topics on which somebody said another word since
}

// NewMQTT builds a notifier that publishes below prefix; empty means "telltale".
func NewMQTT(out Publisher, prefix string) (*MQTT, error) {
	prefix = cmp.Or(prefix, "telltale")
	if err := topic.CheckBeginning(prefix); err != nil {
		return nil, fmt.Errorf("the topic prefix %w", err)
	}
	m := &MQTT{
		out: out, prefix: prefix, turn: make(chan struct{}, 1),
		states: map[alarms.AlarmID]AlarmState{}, words: map[string]Word{}, foreign: map[string]bool{},
	}
	m.turn <- struct{}{}
	return m, nil
}

// Will is the topic and payload to be given to the broker as last will, QoS 1
// and retained: a follower then knows that nobody watches any more.
func (m *MQTT) Will() (topic string, payload []byte) { return m.prefix + "/state", []byte(Blind) }

// Own are filters of the topics with words, which the watch alone should write:
// what comes there is for Overheard.
func (m *MQTT) Own() []string {
	return []string{m.prefix + "/state", m.prefix + "/house/+/state"}
}

// Overheard takes what came on a topic of Own and returns the word if it is
// another than the one last published there; else "". It may be a second watch,
// on its way out, that says Blind for both: the caller then publishes everything
// again. Another word is put right by the next Still, so that two watches that
// differ, which is for people to mend, do not answer each other without end.
func (m *MQTT) Overheard(ctx context.Context, topic string, payload []byte) Word {
	if m.take(ctx) != nil {
		return ""
	}
	defer m.release()
	ours, said := m.words[topic]
	if !said || Word(payload) == ours {
		delete(m.foreign, topic)
		return ""
	}
	m.foreign[topic] = true
	return Word(payload)
}

// Tell publishes the state, the words and the event of each transition.
func (m *MQTT) Tell(ctx context.Context, t Telling) error {
	if err := m.take(ctx); err != nil {
		return err
	}
	defer m.release()
	for i, e := range t.outward() {
		if err := m.tell(ctx, t.Events[i], e); err != nil {
			return err
		}
	}
	return nil
}

// tell publishes what e does, and out, which is e as it leaves.
func (m *MQTT) tell(ctx context.Context, e, out Event) error {
	if e.Move != alarms.Note { // a note, like a test message, is about no alarm
		if topic.CheckBeginning(string(e.Alarm)) != nil {
			return refuse("the alarm ID %q cannot be part of an MQTT topic", e.Alarm)
		}
		s := stateOf(e)
		if s.newerThan(m.states[s.Alarm]) {
			if err := m.show(ctx, s); err != nil {
				return err
			}
		}
		if err := m.showWords(ctx, s.House); err != nil {
			return err
		}
	}
	payload, err := json.Marshal(out)
	if err != nil {
		return refuse("transition %s cannot be written as JSON: %w", e.ID, err)
	}
	return m.publish(ctx, m.prefix+"/event", payload, false)
}

// Republish publishes the state of every alarm in p, of all known others as
// normal, and every word: after a start and whenever the broker is reached
// again, since it may have lost what it retained. known are the IDs of alarms
// that have ever been told of; an alarm whose newest transition came after p
// was taken keeps its state.
func (m *MQTT) Republish(ctx context.Context, p alarms.Picture, known []alarms.AlarmID) error {
	if err := m.take(ctx); err != nil {
		return err
	}
	defer m.release()
	m.words = map[string]Word{} // say every word again
	for _, s := range statesIn(p, m.states, known) {
		if err := m.show(ctx, s); err != nil {
			return err
		}
	}
	for _, h := range p.Houses {
		if err := m.showWord(ctx, h.ID); err != nil {
			return err
		}
	}
	return m.showWords(ctx, "")
}

// Still takes from p which of the alarms that were put aside hold now: nobody is
// told of that, so no transition says it. It also says again the words in whose
// place others were overheard.
func (m *MQTT) Still(ctx context.Context, p alarms.Picture) error {
	if err := m.take(ctx); err != nil {
		return err
	}
	defer m.release()
	for _, a := range p.Alarms {
		s, known := m.states[a.ID]
		if !known || s.State != a.State || s.Holds == a.StillAside() {
			continue
		}
		s.Holds = a.StillAside()
		if err := m.show(ctx, s); err != nil {
			return err
		}
		if err := m.showWords(ctx, s.House); err != nil {
			return err
		}
	}
	return m.putRight(ctx, p)
}

func (m *MQTT) putRight(ctx context.Context, p alarms.Picture) error {
	houses := []alarms.HouseID{""}
	for _, h := range p.Houses {
		houses = append(houses, h.ID)
	}
	for _, h := range houses {
		topic := m.wordTopic(h)
		if !m.foreign[topic] {
			continue
		}
		delete(m.words, topic)
		if err := m.showWord(ctx, h); err != nil {
			return err
		}
	}
	return nil
}

// Leave publishes Blind for everything and for each of the houses: to be
// called before the watch stops, while the broker is still reached.
func (m *MQTT) Leave(ctx context.Context, houses []alarms.HouseID) error {
	if err := m.take(ctx); err != nil {
		return err
	}
	defer m.release()
	failed := m.publish(ctx, m.prefix+"/state", []byte(Blind), true)
	for _, h := range houses {
		failed = errors.Join(failed, m.publish(ctx, m.wordTopic(h), []byte(Blind), true))
	}
	m.words = map[string]Word{}
	return failed
}

// show publishes the retained state of one alarm.
func (m *MQTT) show(ctx context.Context, s AlarmState) error {
	payload, err := json.Marshal(s)
	if err != nil {
		return refuse("the state of alarm %s cannot be written as JSON: %w", s.Alarm, err)
	}
	if err := m.publish(ctx, m.prefix+"/alarm/"+string(s.Alarm), payload, true); err != nil {
		return err
	}
	m.states[s.Alarm] = s
	return nil
}

// showWords publishes the word of house, if any, and that of everything,
// where they changed.
func (m *MQTT) showWords(ctx context.Context, house alarms.HouseID) error {
	if house != "" {
		if err := m.showWord(ctx, house); err != nil {
			return err
		}
	}
	return m.showWord(ctx, "")
}

func (m *MQTT) showWord(ctx context.Context, house alarms.HouseID) error {
	topic, word := m.wordTopic(house), wordOf(m.states, house)
	if m.words[topic] == word {
		return nil
	}
	if err := m.publish(ctx, topic, []byte(word), true); err != nil {
		return err
	}
	m.words[topic] = word
	delete(m.foreign, topic)
	return nil
}

func (m *MQTT) wordTopic(house alarms.HouseID) string {
	if house == "" {
		return m.prefix + "/state"
	}
	return m.prefix + "/house/" + string(house) + "/state"
}

func (m *MQTT) publish(ctx context.Context, topic string, payload []byte, retain bool) error {
	if err := m.out.Publish(ctx, topic, payload, qos, retain); err != nil {
		return fmt.Errorf("cannot publish to %s; check that the broker is up and lets this account write there: %w", topic, err)
	}
	return nil
}

func (m *MQTT) take(ctx context.Context) error {
	select {
	case <-m.turn:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (m *MQTT) release() { m.turn <- struct{}{} }

// statesIn lists what Republish shows, sorted by alarm.
func statesIn(p alarms.Picture, before map[alarms.AlarmID]AlarmState, known []alarms.AlarmID) []AlarmState {
	now := map[alarms.AlarmID]AlarmState{}
	for _, id := range known {
		now[id] = AlarmState{Version: formVersion, Alarm: id, State: alarms.Normal, At: p.At.UTC()}
	}
	for id, s := range before {
		if s.State != alarms.Normal {
			s = AlarmState{Version: formVersion, Alarm: id, House: s.House, State: alarms.Normal, At: p.At.UTC()}
		}
		now[id] = s
	}
	for _, a := range p.Alarms {
		now[a.ID] = stateInPicture(a, p.At)
	}
	for id, s := range before {
		if s.At.After(p.At) && s.newerThan(now[id]) {
			now[id] = s
		}
	}
	var all []AlarmState
	for id, s := range now {
		if topic.CheckBeginning(string(id)) == nil {
			all = append(all, s)
		}
	}
	slices.SortFunc(all, func(a, b AlarmState) int { return strings.Compare(string(a.Alarm), string(b.Alarm)) })
	return all
}
