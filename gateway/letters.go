package gateway

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/letter"
	"telltale/gateway/page/door"
	"telltale/gateway/page/reports"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// lettering sends the letters of the week, and trials, and keeps what came of them. What is
// on its way is saved before that is noted: after a crash between the two the same rows
// are saved again, under the same IDs, which changes nothing.
type lettering struct {
	w        *watch
	links    *door.AckLinks
	base     string // address of the page; "": no links
	garden   string
	notes    *store.Notes
	log      zerolog.Logger
	drill    *drilling
	readers  []letter.Reader
	channels map[string]config.Channel

	turn   sync.Mutex // held while it is looked
	mu     sync.Mutex
	state  letter.State
	looked bool      // what was missed is known
	again  time.Time // real time: not before then is it tried again to send
}

const (
	lettersKept = "letters"
	// lookEvery is, in real time, how often it is looked whether a letter is due.
	lookEvery = 10 * time.Second
	// sendAgain is, in real time, how long a letter waits that could not be saved.
	sendAgain = time.Minute
	// letterLinks is for how long a letter can be confirmed by its link.
	letterLinks = 8 * 24 * time.Hour
)

// openLetters takes up what was kept.
func (p *parts) openLetters() *lettering {
	l := &lettering{w: p.watch, links: p.ackLinks(), base: p.cfg.Page.URL, garden: cmp.Or(p.cfg.Page.Name, "Telltale"), notes: &p.store.Notes,
		log: p.logger("letters"), drill: p.drill, readers: readersOf(p.cfg), channels: map[string]config.Channel{}, state: letter.State{}}
	for _, ch := range p.cfg.Reach.Channels {
		l.channels[ch.Name] = ch
	}
	if err := recall(context.Background(), l.notes, lettersKept, &l.state); err != nil {
		l.log.Error().Err(err).Msg("what was kept of the letters cannot be read; they begin anew")
		l.state = letter.State{}
	}
	l.looked = len(l.readers) == 0
	p.letters = l
	return l
}

// readersOf are those who get letters and, where somebody does, everybody else who is told of
// anything, who gets trials on the first such day of a month.
func readersOf(c *config.Config) (all []letter.Reader) {
	i := slices.IndexFunc(c.Reach.People, func(p config.Person) bool { return p.Letter != "" })
	if i < 0 {
		return nil
	}
	first, told := c.Reach.People[i].Letter, rulesOf(c).Line()
	for _, p := range c.Reach.People {
		r := letter.Reader{Name: cmp.Or(p.Name, p.ID), Day: cmp.Or(p.Letter, first).Of(), Trial: p.Letter == "", Answers: c.Reach.Answers(p, c.Page.URL)}
		if !r.Trial || slices.Contains(told, r.Name) {
			all = append(all, r)
		}
	}
	return all
}

// run looks until ctx ends.
func (l *lettering) run(ctx context.Context) error {
	if len(l.readers) == 0 {
		return nil
	}
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		l.look(ctx)
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

// look sends what is due, and finds what was not confirmed.
func (l *lettering) look(ctx context.Context) {
	l.turn.Lock()
	defer l.turn.Unlock()
	core, wall := l.w.clock.Core(), l.w.Now().In(l.zone())
	var leaves []alarms.Leave
	away := func(name string) bool {
		if leaves == nil {
			leaves = append([]alarms.Leave{}, l.w.Picture().Leaves...)
		}
		return slices.ContainsFunc(leaves, func(one alarms.Leave) bool { return one.Person == name && one.Runs(wall) })
	}
	l.mu.Lock()
	missed := l.state.Look(l.readers, away, core)
	due, changed := l.state.Due(l.readers, away, core, wall)
	if missed || changed {
		l.save(ctx)
	}
	l.looked = true
	wait := time.Now().Before(l.again)
	l.mu.Unlock()
	for _, one := range due {
		if wait || ctx.Err() != nil {
			return
		}
		if err := l.send(ctx, one, wall); err != nil {
			l.log.Error().Err(err).Str("person", one.Name).Msg("a letter could not be saved; it is tried again")
			l.mu.Lock()
			l.again = time.Now().Add(sendAgain)
			l.mu.Unlock()
			return
		}
	}
}

func (l *lettering) zone() *time.Location {
	if z := l.w.plan.Words.Zone; z != nil {
		return z
	}
	return time.UTC
}

// send puts a letter on its way, and then notes that it is.
func (l *lettering) send(ctx context.Context, one letter.Letter, wall time.Time) error {
	rows, err := l.rows(ctx, one, wall)
	if err != nil {
		return err
	}
	rows, from := scheduled(rows, l.w.clock), l.w.clock.Core()
	if len(rows) > 0 {
		from = rows[0].NotBefore
		if err := l.w.box.enqueue(ctx, rows); err != nil {
			return err
		}
	} else {
		one.Answers = false
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.state.Sent(one, from)
	l.save(ctx)
	l.w.wake()
	return nil
}

// save keeps the state; the lock is held. What cannot be kept goes on from memory.
func (l *lettering) save(ctx context.Context) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), patience)
	defer cancel()
	b, err := json.Marshal(l.state)
	if err == nil {
		err = l.notes.Keep(ctx, lettersKept, string(b))
	}
	if err != nil {
		l.log.Error().Err(err).Msg("what was sent of the letters could not be saved; with the next start it is not known")
	}
}

// rows are those of a letter, one for each channel that can carry it.
func (l *lettering) rows(ctx context.Context, one letter.Letter, wall time.Time) (rows []reach.Outgoing, err error) {
	i := slices.IndexFunc(l.w.rules.People, func(p reach.Person) bool { return p.Name == one.Name })
	if i < 0 {
		return nil, nil
	}
	id, say := reach.LetterID(one.Of, one.Number), words.New(l.w.plan.Words).Telling(&l.w.plan).Speaking(l.w.rules.LocaleOf(one.Name).Tongue)
	var of reports.LetterOf
	if !one.Trial {
		of = l.tells(ctx, say, wall)
	}
	for _, name := range l.w.rules.People[i].Channels {
		ch := l.channels[name]
		if ch.Kind == config.ByRing {
			continue
		}
		m := reach.Letter{ID: id, Person: one.Name}
		ask := reports.Ask{Device: ch.Kind == config.ByPush, Text: ch.Kind == config.ByText}
		if !ask.Text && (ask.Device || l.base != "") {
			m.Confirm = l.links.Link(l.base, reach.LetterAlarm, id, one.Name, wall.Add(letterLinks))
			ask.Link = m.Confirm
		}
		if one.Trial {
			m.Headline, m.Text, m.Short = reports.TrialText(say, one.Name, ask)
		} else {
			m.Headline, m.Text = reports.LetterText(say, of, ask)
			m.Short = reports.LetterShort(say, of)
		}
		if !ask.Text {
			m.Short = ""
		}
		row, err := l.w.rules.LetterRow(m, name, wall)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// tells is what a letter tells of. What cannot be read is said in it: a letter that does
// not come because of that would be one that nobody misses.
func (l *lettering) tells(ctx context.Context, w words.Words, wall time.Time) reports.LetterOf {
	week := report.Span{From: report.Day(wall.AddDate(0, 0, -7), l.zone()).From, To: wall}
	o := reports.LetterOf{Garden: l.garden, Week: week, Picture: l.w.PictureIn(w.Core), Others: l.trials(w)}
	for _, h := range l.w.Houses() {
		r, err := l.w.Report(ctx, h.ID, week)
		if err != nil {
			o.Unread = err.Error()
			continue
		}
		o.Houses = append(o.Houses, r)
	}
	told, err := l.w.ToldTo(ctx, week)
	if err != nil {
		o.Unread = err.Error()
	}
	o.Told = told
	if last := l.drill.Drill().Last; last != nil {
		o.Drill = last.At
	}
	return o
}

// trials says what came of those of others.
func (l *lettering) trials(w words.Words) (out []string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, r := range l.readers {
		sent := l.state[r.Name]
		if !r.Trial || sent.From.IsZero() || !sent.Trial {
			continue
		}
		out = append(out, reports.Confirmed(w, r.Name, sent.Of, !sent.Taken.IsZero()))
	}
	return out
}

// missed keeps who did not confirm which letter, "" for nobody; known is false until that
// was looked at.
func (l *lettering) missed() (note string, known bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, r := range l.readers {
		if sent := l.state[r.Name]; !sent.Missed.IsZero() {
			note = joined(note, tongue.Keep("%s has not confirmed that of %s", r.Name, tongue.Day(sent.Missed)))
		}
	}
	return note, l.looked
}

// take notes that a person says that a letter of a number arrived; 0: the newest.
func (l *lettering) take(ctx context.Context, person string, number int) letter.Stand {
	l.mu.Lock()
	defer l.mu.Unlock()
	stood := l.state.Take(person, number, l.w.Now())
	if stood == letter.Waits {
		l.save(ctx)
	}
	return stood
}

// IsLetter implements service.Letters.
func (l *lettering) IsLetter(transition string) bool { return reach.LetterNumber(transition) > 0 }

// Letter implements service.Letters.
func (l *lettering) Letter(person, transition string) service.LetterStand {
	l.mu.Lock()
	defer l.mu.Unlock()
	return stands[l.state.Stands(person, reach.LetterNumber(transition))]
}

// Confirm implements service.Letters.
func (l *lettering) Confirm(ctx context.Context, person, transition string) service.LetterStand {
	return stands[l.take(ctx, person, reach.LetterNumber(transition))]
}

var (
	_      service.Letters = (*lettering)(nil)
	stands                 = map[letter.Stand]service.LetterStand{letter.Waits: service.LetterWaits,
		letter.Confirmed: service.LetterConfirmed, letter.Older: service.LetterOlder, letter.Unknown: service.LetterUnknown}
)
