package link

import (
	"context"
	"encoding/json"
	"time"
)

// stateNote is the retained payload of the state topic, as JSON.
type stateNote struct {
	State State     `json:"state"`
	Since time.Time `json:"since"` // lost: since when it had been watching
}

// State is how a watch is, by what its broker keeps of it.
type State string

// States of a watch at its broker.
const (
	Watching State = "watching"
	Stopped  State = "stopped" // by intention
	Lost     State = "lost"    // the broker says so when the watch has gone without a word
)

// StateIn reads what a broker keeps of a watch on topic.State; "" for what is none.
func StateIn(payload []byte) State {
	var n stateNote
	if json.Unmarshal(payload, &n) != nil {
		return ""
	}
	return n.State
}

func (n State) payload(since time.Time) ([]byte, error) {
	return json.Marshal(stateNote{State: n, Since: since.UTC()})
}

// will is what the broker is to publish if the link ends without a word.
func (s *session) will() (Will, error) {
	if w := s.link.opt.Will; w != nil {
		return *w, nil
	}
	lost, err := Lost.payload(s.since)
	return Will{Topic: s.link.opt.StateTopic, Payload: lost}, err
}

// tellState publishes the state. That it may not is no failure of the link:
// it is logged.
func (s *session) tellState(ctx context.Context, n State) {
	l := s.link
	if l.opt.Will != nil || l.opt.silent {
		return
	}
	since := s.since
	if n == Stopped {
		since = l.opt.Now()
	}
	payload, err := n.payload(since)
	if err == nil {
		ctx, cancel := context.WithTimeout(ctx, goodbyeTimeout)
		defer cancel()
		err = s.publish(ctx, l.opt.StateTopic, payload, 1, true)
	}
	if err != nil {
		l.opt.Log.Warn().Err(err).Str("topic", l.opt.StateTopic).Msg("could not publish the state of the watch")
	}
}
