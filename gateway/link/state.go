package link

import (
	"context"
	"encoding/json"
	"time"
)

// stateNote is the retained payload of the state topic, as JSON.
type stateNote struct {
	State string    `json:"state"` // watching, stopped or lost
	Since time.Time `json:"since"` // lost: since when it had been watching
}

type stateName string

const (
	stateWatching stateName = "watching"
	stateStopped  stateName = "stopped" // by intention
	stateLost     stateName = "lost"    // the broker says so when the watch has gone without a word
)

func (n stateName) payload(since time.Time) ([]byte, error) {
	return json.Marshal(stateNote{State: string(n), Since: since.UTC()})
}

// will is what the broker is to publish if the link ends without a word.
func (s *session) will() (Will, error) {
	if w := s.link.opt.Will; w != nil {
		return *w, nil
	}
	lost, err := stateLost.payload(s.since)
	return Will{Topic: s.link.opt.StateTopic, Payload: lost}, err
}

// tellState publishes the state. That it may not is no failure of the link:
// it is logged.
func (s *session) tellState(ctx context.Context, n stateName) {
	l := s.link
	if l.opt.Will != nil || l.opt.silent {
		return
	}
	since := s.since
	if n == stateStopped {
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
