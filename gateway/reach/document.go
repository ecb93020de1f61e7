package reach

import (
	"encoding/json"
	"fmt"
	"time"
)

// Document is a telling as JSON, for webhooks and commands. It is described by
// testdata/schema/webhook.json.
type Document struct {
	Version int       `json:"version"`
	ID      string    `json:"id"` // the same when it is sent again, and of no other message of any watch
	Channel string    `json:"channel"`
	Person  string    `json:"person"`
	Sent    time.Time `json:"sent"`
	Test    bool      `json:"test"`
	Subject string    `json:"subject"`
	Text    string    `json:"text"` // all of it, ready to be shown to a person
	Events  []Event   `json:"events"`
}

// document writes t as a Document.
func document(t Telling) ([]byte, error) {
	if len(t.Events) == 0 {
		return nil, refuse("telling %s holds no event; there is nothing to tell", t.ID)
	}
	b, err := json.Marshal(Document{
		Version: formVersion, ID: t.ID, Channel: t.Channel, Person: t.Person, Sent: t.At.UTC(), Test: t.Test,
		Subject: Subject(t), Text: Text(t), Events: t.outward(),
	})
	if err != nil {
		return nil, &Permanent{Err: fmt.Errorf("telling %s cannot be written as JSON: %w", t.ID, err)}
	}
	return b, nil
}
