package gateway

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/gateway/letter"
	"telltale/gateway/modem"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// hearing remembers what has come in, so that nobody is answered without end
// and nothing is done twice.
type hearing struct {
	mu       sync.Mutex
	done     []string               // messages handled, newest last
	strange  map[string]bool        // senders that were logged
	ignored  uint64                 // messages of strangers
	answered map[string][]time.Time // person -> answers of the last hour, real time
}

const (
	messagesKnown   = 64 // so many handled messages are remembered
	strangersLogged = 50
	answersPerHour  = 6 // to one person
	// together is for how long before the newest text others count as told with
	// it: one OK takes them all.
	together = 30 * time.Minute
	// onItsWay is how old an answer may be and still be taken as of now.
	onItsWay = 2 * time.Minute
	// tooOld is from when on a text means nothing any more: left on the SIM, say.
	tooOld = 24 * time.Hour
)

// again reports whether m was handled before, and remembers it.
func (h *hearing) again(m modem.Message) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	if slices.Contains(h.done, messageKey(m)) {
		return true
	}
	h.done = append(h.done, messageKey(m))
	h.done = h.done[max(0, len(h.done)-messagesKnown):]
	return false
}

// forget lets m be handled again.
func (h *hearing) forget(m modem.Message) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.done = slices.DeleteFunc(h.done, func(key string) bool { return key == messageKey(m) })
}

func messageKey(m modem.Message) string {
	return fmt.Sprintf("%s|%d|%s", m.From, m.Sent.Unix(), m.Text)
}

// stranger counts a message of an unknown sender; first is true once for each.
func (h *hearing) stranger(from string) (first bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.ignored++
	if h.strange == nil {
		h.strange = map[string]bool{}
	}
	if h.strange[from] || len(h.strange) == strangersLogged {
		return false
	}
	h.strange[from] = true
	return true
}

// mayAnswer books one answer to a person.
func (h *hearing) mayAnswer(person string, now time.Time) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.answered == nil {
		h.answered = map[string][]time.Time{}
	}
	recent := slices.DeleteFunc(h.answered[person], func(t time.Time) bool { return now.Sub(t) > time.Hour })
	ok := len(recent) < answersPerHour
	if ok {
		recent = append(recent, now)
	}
	h.answered[person] = recent
	return ok
}

// incoming handles one text message. It returns an error only where it must
// be handled again.
func (ph *phones) incoming(ctx context.Context, m modem.Message) error {
	log := ph.log
	person := ph.person(m.From)
	if person == "" {
		if ph.heard.stranger(m.From.Text) {
			log.Warn().Str("from", m.From.Text).Msg("a text message of somebody who is not in the config is ignored, and so are more of them")
		}
		return nil
	}
	if ph.heard.again(m) {
		return nil
	}
	if age := time.Since(m.Sent); age > tooOld {
		log.Info().Str("person", person).Dur("age_ms", age).Msg("a text message is too old to be meant for now; it is ignored")
		return nil
	}
	answer, err := ph.answer(ctx, person, m)
	if err != nil {
		ph.heard.forget(m)
		return err
	}
	if !ph.heard.mayAnswer(person, time.Now()) {
		log.Info().Str("person", person).Msg("a text message was handled and is not answered: too many came")
		return nil
	}
	sending, cancel := context.WithTimeout(ctx, 2*time.Minute)
	defer cancel()
	if err := ph.Send(sending, modem.Text{To: m.From.Text, Body: answer, Valid: time.Hour}); err != nil && ctx.Err() == nil {
		log.Warn().Err(err).Str("person", person).Msg("a text message was handled and could not be answered")
	}
	return nil
}

// person is whose number n is; empty: nobody's. A network may give a number
// without its country, as it is dialled at home.
func (ph *phones) person(n modem.Number) string {
	switch {
	case n.Named:
		return ""
	case strings.HasPrefix(n.Text, "+"):
		return ph.people[n.Text]
	}
	const enough = 9 // digits that tell people apart
	digits, found := strings.TrimLeft(n.Text, "0"), ""
	for number, name := range ph.people {
		if len(digits) >= enough && strings.HasSuffix(number, digits) {
			if found != "" {
				return "" // it could be either
			}
			found = name
		}
	}
	return found
}

// answer does what a person asks for, and says what was done.
func (ph *phones) answer(ctx context.Context, person string, m modem.Message) (string, error) {
	first, rest, _ := strings.Cut(strings.TrimSpace(m.Text), " ")
	first, _, _ = strings.Cut(first, "\n")
	first = strings.ToLower(strings.Trim(first, ".,!;: \r\t"))
	answers := ph.p.watch.answersTo(person)
	switch {
	case means(wordsTaken, first):
		return ph.take(ctx, person, m.Sent, onTheWay(rest))
	case means(wordsGone, first):
		return ph.away(ctx, person, rest)
	case means(wordsBack, first):
		return ph.back(ctx, person)
	case means(wordsYes, first):
		return answers.Letter(ph.p.letters.take(ctx, person, 0) == letter.Waits), nil
	case means(wordsStatus, first):
		return answers.Sentence(ph.p.watch.PictureIn(answers.Locale).Sentence), nil
	}
	ph.log.Info().Str("person", person).Msg("a text message was not understood")
	return answers.Unknown(), nil
}

// answersTo are the answers to a person.
func (w *watch) answersTo(person string) reach.Answers {
	return reach.Answers{Locale: w.rules.LocaleOf(person)}
}

// take acknowledges for a person what they were told last by text message and
// nobody has acknowledged. sent is when they answered, by the network's clock.
func (ph *phones) take(ctx context.Context, person string, sent time.Time, way time.Duration) (string, error) {
	open, more, err := ph.untaken(ctx, person, ph.answered(sent), way > 0)
	if err != nil {
		return "", err
	}
	if len(open)+more == 0 && ph.p.letters.take(ctx, person, 0) == letter.Waits {
		return ph.p.watch.answersTo(person).Letter(true), nil
	}
	var bodies [][]byte
	for _, o := range open {
		in := alarms.Input{Kind: alarms.Acknowledge, Alarm: o.Alarm, By: person, Note: alarms.NoteByText}
		if way > 0 {
			in.Until = ph.p.clock.Now().Add(way)
		}
		err := ph.p.watch.Do(ctx, in)
		switch {
		case errors.Is(err, errStopping), ctx.Err() != nil:
			return "", errors.Join(err, ctx.Err())
		case err != nil:
			ph.log.Warn().Err(err).Str("alarm", string(o.Alarm)).Msg("an alarm could not be acknowledged by text message")
		default:
			bodies = append(bodies, o.Body)
		}
	}
	return ph.p.watch.answersTo(person).Taken(bodies, ph.toldAgain(open), more)
}

// toldAgain is what of that which was acknowledged is told again first; none where
// it is over.
func (ph *phones) toldAgain(taken []store.Telling) (first alarms.AlarmPicture) {
	for _, a := range ph.p.watch.Picture().Alarms {
		mine := slices.ContainsFunc(taken, func(t store.Telling) bool { return t.Alarm == a.ID })
		if mine && a.State == alarms.Acknowledged && !a.Until.IsZero() && (first.Until.IsZero() || a.Until.Before(first.Until)) {
			first = a
		}
	}
	return first
}

// onTheWay reads for how long somebody is on the way, behind OK: "90" is in
// minutes, "2h" in hours; 0 where they do not say.
func onTheWay(text string) time.Duration {
	text = strings.ToLower(strings.ReplaceAll(strings.TrimSpace(text), " ", ""))
	digits := strings.TrimRight(text, "abcdefghijklmnopqrstuvwxyz.")
	switch unit := strings.TrimSuffix(text[len(digits):], "."); {
	case unit == "", means(wordsMinute, unit):
		text = digits + "m"
	case means(wordsHour, unit):
		text = digits + "h"
	}
	d, err := time.ParseDuration(text)
	if err != nil || d < time.Minute || d > 24*time.Hour {
		return 0
	}
	return d
}

// answered is the time up to which a person had been told when they answered,
// by the watch's clock: a text that was long on its way answers nothing newer.
func (ph *phones) answered(sent time.Time) time.Time {
	now := ph.p.clock.Now()
	if age := time.Since(sent); age > onItsWay {
		return now.Add(-time.Duration(float64(age-onItsWay) * ph.p.clock.Speed()))
	}
	return now
}

// untaken returns of the unacknowledged alarms those that a person was told
// last by text message, up to some time, and how many were told earlier. An
// alarm counts only if the person was told its newest news: nobody
// acknowledges what they do not know. With mine, those that the person
// acknowledged count too: for how long can be said later.
func (ph *phones) untaken(ctx context.Context, person string, until time.Time, mine bool) (last []store.Telling, more int, err error) {
	rows, err := ph.p.store.Outbox.Tellings(ctx, store.TellingsQuery{Person: person, Limit: 300})
	if err != nil {
		return nil, 0, err
	}
	waits := map[alarms.AlarmID]bool{}
	for _, a := range ph.p.watch.Picture().Alarms {
		waits[a.ID] = a.State == alarms.Unacknowledged || a.State == alarms.ReturnedUnack ||
			mine && a.State == alarms.Acknowledged && a.By == person
	}
	var newest time.Time
	for _, r := range rows {
		if !waits[r.Alarm] || !ph.told(r) || r.Last.At.After(until) {
			continue
		}
		if current, err := ph.newestNews(ctx, r.Alarm); err != nil || !slices.Contains(current, r.Transition) {
			if err != nil {
				return nil, 0, err
			}
			continue
		}
		waits[r.Alarm] = false
		if newest.IsZero() {
			newest = r.Last.At
		}
		if newest.Sub(r.Last.At) > together {
			more++
			continue
		}
		last = append(last, r)
	}
	return last, more, nil
}

// told reports whether r went out by text message, and was not reported lost.
func (ph *phones) told(r store.Telling) bool {
	return r.HasTold && r.State == store.TellingTold && r.Last != nil && r.Last.Outcome != store.Undelivered &&
		slices.Contains(ph.texts, r.Channel)
}

// newestNews is the newest transition of an alarm that people hear of, with
// those that only told it again since.
func (ph *phones) newestNews(ctx context.Context, id alarms.AlarmID) ([]string, error) {
	all, err := ph.p.store.Log.Transitions(ctx, store.LogQuery{Alarm: id, Limit: 200})
	var ids []string
	for _, t := range all {
		if t.Told() {
			ids = append(ids, t.ID)
		}
		if t.Told() && !t.Repeats() {
			break
		}
	}
	return ids, err
}
