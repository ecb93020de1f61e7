package reach

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

const (
	mostPush  = 3000 // bytes of a message before it is encrypted
	leastPush = 1000 // where a push service finds that too long
	mostTitle = 120  // characters
)

// pushed is what a device gets, as JSON. The page's worker.js reads it.
type pushed struct {
	Version  int    `json:"version"`
	ID       string `json:"id"` // the same when it is sent again
	Tag      string `json:"tag"`
	Title    string `json:"title"`
	Body     string `json:"body"`
	Alarm    string `json:"alarm,omitempty"` // empty for several
	Tap      string `json:"tap,omitempty"`
	Page     string `json:"page"` // path
	At       string `json:"at"`   // RFC 3339
	Priority string `json:"priority"`
	Over     bool   `json:"over,omitempty"`
	Test     bool   `json:"test,omitempty"`
}

// message writes t for a device in at most so many bytes. What does not fit is
// left out at the end of the body, which says so.
func (p *Push) message(t Telling, most int) ([]byte, error) {
	if len(t.Events) == 0 {
		return nil, refuse("telling %s holds no event; there is nothing to tell", t.ID)
	}
	m := pushed{Version: formVersion, ID: t.ID, Tag: p.o.Key.topic(about(t)), Title: firstRunes(Subject(t), mostTitle),
		Page: "/", At: t.At.Format(time.RFC3339), Priority: t.Worst().String(), Test: t.Test,
		Over: !slices.ContainsFunc(t.Events, func(e Event) bool { return !e.over() })}
	if last := t.Events[len(t.Events)-1]; !t.Test && !last.Letter && about(t) == story(last) {
		m.Alarm = string(last.Alarm)
		tap, page := p.o.Links(t.Person, last)
		m.Page = page
		if takes := last.To == alarms.Unacknowledged || last.To == alarms.ReturnedUnack; takes && (last.Move != alarms.Note || last.handsOver()) {
			m.Tap = tap
		}
	}
	if one := t.Events[0]; one.Letter { // its device confirms it on the page
		if i := strings.Index(one.Acknowledge, "/tap?"); i >= 0 {
			m.Page = one.Acknowledge[i:]
		}
	}
	return fitted(m, pushSentences(t), t.Events[0].say(cutShort), toldAt(t), most)
}

// pushSentences are all sentences, the worst first.
func pushSentences(t Telling) string {
	var lines []string
	for _, e := range worstFirst(t.Events) {
		lines = append(lines, e.Sentence)
		if e.Unanswered > 0 {
			lines = append(lines, e.unanswered())
		}
	}
	return strings.Join(lines, "\n")
}

// toldAt ends every message: a device may show it much later.
func toldAt(t Telling) string {
	e := t.Events[0]
	return "\n" + e.say("Told at %s.", e.Language.Date(clockForm, t.At.In(e.Due.Location())))
}

const cutShort tongue.Text = "… The rest is on the page."

// fitted gives m a body and shortens its sentences, by cut, until all of it fits.
func fitted(m pushed, sentences, cut, end string, most int) ([]byte, error) {
	whole := []rune(sentences)
	m.Body = sentences + end
	for keep := len(whole); ; {
		var b bytes.Buffer
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false) // three of the five characters stand in plain sentences
		if err := enc.Encode(m); err != nil {
			return nil, &Permanent{Err: fmt.Errorf("telling %s cannot be written as JSON: %w", m.ID, err)}
		}
		text := bytes.TrimSuffix(b.Bytes(), []byte("\n"))
		over := len(text) - most
		if over <= 0 {
			return text, nil
		}
		if keep == 0 {
			return nil, refuse("telling %s cannot be made short enough to be pushed", m.ID)
		}
		keep = max(0, keep-max(1, over/utf8.UTFMax))
		m.Body = strings.TrimSpace(string(whole[:keep])) + cut + end
	}
}

func firstRunes(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}
