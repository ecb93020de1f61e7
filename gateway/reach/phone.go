package reach

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// Texter sends text messages and lets telephones ring. Its errors keep to the
// contract of Notifier.
type Texter interface {
	// Text returns nil when the network has taken the text. What became of it
	// afterwards is told of rows, the outbox rows that it stands for.
	Text(ctx context.Context, to, text string, p alarms.Priority, rows []string) error
	// Parts is how many messages the network makes of a text.
	Parts(text string) int
	// Ring returns nil when the telephone has rung.
	Ring(ctx context.Context, to string) error
}

// Phone tells each person by text messages to their telephone. To keep them
// short it departs from the contract of Notifier in two ways: a sign that the
// alphabet of text messages lacks is written by one that it has where that
// says the same ("21 C"), and of several events in one text the most urgent is
// told by its sentence, others by their headline where two parts have no room
// for more. Every event is in some text. The ID is four digits of its digest.
type Phone struct {
	texter  Texter
	numbers map[string]string // person -> number
}

// Sizes of a text, in parts.
const (
	shortText = 2 // preferred
	mostText  = 6

	mostTexted = 80 // letters of directions
)

// NewPhone tells people at numbers.
func NewPhone(t Texter, numbers map[string]string) *Phone { return &Phone{t, numbers} }

// Tell sends t, by more than one text where one has no room for all.
func (p *Phone) Tell(ctx context.Context, t Telling) error {
	number, ok := p.numbers[t.Person]
	if !ok {
		return refuse("no telephone number is known for %q; add phone to [person] in the config", t.Person)
	}
	if len(t.Events) == 0 {
		return refuse("telling %s holds no event; there is nothing to tell", t.ID)
	}
	for _, l := range p.letters(t) {
		if err := p.texter.Text(ctx, number, l.text, l.worst, l.rows); err != nil {
			return err
		}
	}
	return nil
}

// sms is one text with the rows that it tells.
type sms struct {
	text  string
	worst alarms.Priority
	rows  []string
}

// draft is a text that is being written.
type draft struct {
	sms
	lines  []string
	hint   string
	hinted bool
}

// with is the text that d becomes with one more line.
func (d *draft) with(line, id string) string {
	return strings.Join(append(d.lines[:len(d.lines):len(d.lines)], line), "\n") + d.hint + id
}

// finish closes the text.
func (d *draft) finish(id string) sms {
	d.text = strings.Join(d.lines, "\n")
	if d.hinted {
		d.text += d.hint
	}
	d.text += id
	return d.sms
}

// letters writes t as texts, the most urgent event first.
func (p *Phone) letters(t Telling) []sms {
	rows := map[string]string{} // event -> outbox row
	for i, e := range t.Events {
		if i < len(t.Rows) {
			rows[e.ID] = t.Rows[i]
		}
	}
	id := " (#" + shortID(t.ID) + ")"
	var out []sms
	d := draft{hint: " " + t.Events[0].say(hint)}
	for i, e := range worstFirst(t.Events) {
		line := plainSigns(phoneLine(e))
		if i > 0 && p.texter.Parts(d.with(line, id)) > shortText {
			line = plainSigns(e.Headline)
		}
		if len(d.lines) > 0 && p.texter.Parts(d.with(line, id)) > mostText {
			out = append(out, d.finish(id))
			d = draft{hint: d.hint}
		}
		d.lines = append(d.lines, p.cut(line, d.hint+id))
		d.worst, d.hinted = max(d.worst, e.Priority), d.hinted || !e.over() && !e.Test && !e.Letter && e.Reason.Rule != alarms.RuleLeave
		if row := rows[e.ID]; row != "" {
			d.rows = append(d.rows, row)
		}
	}
	return append(out, d.finish(id))
}

const hint tongue.Text = "Reply OK to acknowledge."

// cut shortens a line that no text has room for.
func (p *Phone) cut(line, end string) string {
	if p.texter.Parts(line+end) <= mostText {
		return line
	}
	signs := []rune(line)
	for p.texter.Parts(string(signs)+"..."+end) > mostText {
		signs = signs[:len(signs)-1]
	}
	return string(signs) + "..."
}

// phoneLine is how urgent e is, and its sentence.
func phoneLine(e Event) string {
	if d := e.Reason.Directions; d != "" {
		e.Sentence = strings.Replace(e.Sentence, d, firstRunes(d, mostTexted), 1)
	}
	switch {
	case e.Letter:
		return e.Short
	case e.Test:
		return e.Sentence
	case e.over():
		return e.say("Over|told") + ": " + e.Sentence
	}
	out := e.say(priorityWord(e.Priority)) + ": "
	if n := news(e); n != "" {
		out += e.say(n) + ". "
	}
	return out + e.Sentence
}

// plainSigns writes signs that the alphabet of text messages lacks by those it
// has: one of the others makes a text take twice the room.
func plainSigns(text string) string {
	return strings.NewReplacer("°C", "C", "°F", "F", "°", " deg", "–", "-", "—", "-", "−", "-", "…", "...", "“", "\"", "”", "\"",
		"„", "\"", "‘", "'", "’", "'", "²", "2", "³", "3", "·", ".", "\u00a0", " ", "\u202f", " ").Replace(text)
}

// shortID is what tells doubles from news.
func shortID(id string) string {
	sum := sha256.Sum256([]byte(id))
	return hex.EncodeToString(sum[:2])
}

// Bell lets the telephone of a person ring for alarms of high priority, and
// says nothing: another channel must say what is wrong. For everything else
// there is nothing to do, and that is done.
type Bell struct {
	texter  Texter
	numbers map[string]string
}

// NewBell rings people at numbers.
func NewBell(t Texter, numbers map[string]string) *Bell { return &Bell{t, numbers} }

// Tell rings, unless t is no bad news of high priority.
func (b *Bell) Tell(ctx context.Context, t Telling) error {
	number, ok := b.numbers[t.Person]
	if !ok {
		return refuse("no telephone number is known for %q; add phone to [person] in the config", t.Person)
	}
	urgent := func(e Event) bool { return e.Priority >= alarms.High && !e.over() }
	if !t.Test && !slices.ContainsFunc(t.Events, urgent) {
		return ctx.Err()
	}
	return b.texter.Ring(ctx, number)
}
