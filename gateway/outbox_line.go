package gateway

import (
	"context"
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// line is what waits for one channel.
type line struct {
	channel     string
	rows        map[string]*queued // by ID; at most lineRows
	cancellable map[alarms.AlarmID]int

	more   bool  // the database may hold rows that are not here
	full   bool  // some of them found no room here
	unread error // why it could not be read; nil: it could
	again  time.Time

	loaded chan struct{}   // closed when the reading under way has ended; nil: none is
	ended  map[string]bool // rows finished meanwhile
	stale  bool            // rows were taken out meanwhile: what is read is not used
	behind bool            // rows were saved meanwhile that are not here
}

// queued is a row in memory.
type queued struct {
	reach.Row
	saved bool
	seq   int
}

// lineRows bounds what is held in memory for a channel. A saved row beyond it
// waits in the database alone; of those that are not saved the oldest is
// dropped until it is.
const lineRows = 1000

func (o *outbox) line(channel string) *line {
	l := o.lines[channel]
	if l == nil {
		l = &line{channel: channel, rows: map[string]*queued{}, cancellable: map[alarms.AlarmID]int{}, more: true}
		o.lines[channel] = l
	}
	return l
}

func (l *line) add(q *queued) {
	l.rows[q.ID] = q
	if q.Cancellable {
		l.cancellable[q.Alarm]++
	}
}

func (l *line) remove(id string) {
	q, here := l.rows[id]
	if !here {
		return
	}
	delete(l.rows, id)
	if q.Cancellable {
		if l.cancellable[q.Alarm]--; l.cancellable[q.Alarm] == 0 {
			delete(l.cancellable, q.Alarm)
		}
	}
}

// end takes out a row that is finished.
func (l *line) end(id string) {
	l.remove(id)
	if l.loaded != nil {
		l.ended[id] = true
	}
}

// cancel takes out the cancellable rows of an alarm, for one person or, with
// none named, for all.
func (l *line) cancel(a alarms.AlarmID, person string) {
	if l.loaded != nil {
		l.stale = true
	}
	if l.cancellable[a] == 0 {
		return
	}
	for id, q := range l.rows {
		if q.Cancellable && q.Alarm == a && (person == "" || q.Person == person) {
			l.remove(id)
		}
	}
}

// missing notes that the database holds what is not here.
func (l *line) missing() { l.more, l.behind = true, l.loaded != nil }

// forever is later than any row is due.
var forever = time.Unix(0, math.MaxInt64)

// load begins to read what the database holds for a channel, if there may be
// something that is not here, and room for it. It returns what is closed when
// that has ended; nil: nothing is read.
func (o *outbox) load(l *line) <-chan struct{} {
	if l.loaded == nil && l.more && len(l.rows) <= lineRows/2 && !time.Now().Before(l.again) {
		l.loaded, l.ended, l.stale, l.behind = make(chan struct{}), map[string]bool{}, false, false
		o.work.Go(func() { o.read(l) })
	}
	if l.loaded == nil {
		return nil
	}
	return l.loaded
}

func (o *outbox) read(l *line) {
	found, err := o.store.Due(context.Background(), l.channel, forever, lineRows)
	o.mu.Lock()
	defer o.mu.Unlock()
	if err == nil && !l.stale {
		for _, w := range found {
			if !o.known(l, w) {
				o.seq++
				l.add(&queued{Row: w, saved: true, seq: o.seq})
			}
		}
		l.more = l.behind || len(found) == lineRows
		l.full = l.full && l.more
	}
	if l.unread = err; err != nil || len(found) == lineRows {
		l.again = time.Now().Add(tryAgain)
	}
	close(l.loaded)
	l.loaded = nil
	if o.wake != nil && err == nil && (len(found) > 0 || l.more) {
		o.wake()
	}
}

// known reports whether a row that was read is here, or is not to be told.
func (o *outbox) known(l *line, w reach.Row) bool {
	_, here := l.rows[w.ID]
	_, done := o.done[w.ID]
	if here || done || l.ended[w.ID] || o.expected[w.ID] || w.Cancellable && o.void[w.Alarm] {
		return true
	}
	for _, some := range [][]store.Attempt{o.late, o.writing} {
		for _, a := range some {
			if a.Outgoing == w.ID {
				return true
			}
		}
	}
	return false
}

// unreadable says what cannot be read, "" if all can, and has it tried again.
func (o *outbox) unreadable() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	why := ""
	for _, l := range o.lines {
		if l.unread == nil {
			continue
		}
		o.load(l)
		if now := tongue.Keep("what waits for the channel %s cannot be read: %s", l.channel, l.unread.Error()); why == "" || now < why {
			why = now
		}
	}
	return why
}

// expect hears which rows are about to be saved.
func (o *outbox) expect(rows []reach.Outgoing) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.expected = map[string]bool{}
	for _, r := range rows {
		o.expected[r.ID] = true
	}
}

// tellUnsaved lets rows that the disk did not take be told all the same. ts are
// the transitions that they tell of, oldest first. A row comes once, however
// often this is called with it.
func (o *outbox) tellUnsaved(ts []alarms.Transition, rows []reach.Outgoing) {
	o.mu.Lock()
	defer o.mu.Unlock()
	of := byTransition(rows)
	for _, t := range ts {
		if o.applied[t.ID] || o.before[t.ID] {
			continue
		}
		o.applied[t.ID] = true
		o.noteMoves(t)
		if reach.Cancels(t) {
			o.void[t.Alarm] = true
			o.cancel(t.Alarm)
		}
		for _, i := range of[t.ID] {
			o.put(rows[i], false)
		}
	}
}

// saved hears that ts are on disk, with their rows as kept says: what was told
// from memory is recorded as told, the rest is told now. still are the
// transitions that are not saved yet.
func (o *outbox) saved(ts []alarms.Transition, rows []reach.Outgoing, kept []reach.Outgoing, still []alarms.Transition) {
	o.mu.Lock()
	defer o.mu.Unlock()
	of := byTransition(rows)
	for _, t := range ts {
		here := o.applied[t.ID]
		if !here {
			o.noteMoves(t)
		}
		if reach.Cancels(t) && !here {
			o.cancel(t.Alarm)
		}
		for _, i := range of[t.ID] {
			o.keep(rows[i], kept[i], here)
		}
		delete(o.applied, t.ID)
	}
	if len(still) == 0 {
		clear(o.applied)
		if len(o.done) > lineRows { // rows that were never to be saved
			clear(o.done)
		}
	}
	clear(o.void)
	for _, t := range still {
		if reach.Cancels(t) && o.applied[t.ID] {
			o.void[t.Alarm] = true
		}
	}
	o.expected = nil
	o.record()
}

func byTransition(rows []reach.Outgoing) map[string][]int {
	of := map[string][]int{}
	for i, r := range rows {
		of[r.Transition] = append(of[r.Transition], i)
	}
	return of
}

func (o *outbox) cancel(a alarms.AlarmID) {
	for _, l := range o.lines {
		l.cancel(a, "")
	}
}

// put takes a row in, unless it is here.
func (o *outbox) put(r reach.Outgoing, saved bool) {
	l := o.line(r.Channel)
	if l.rows[r.ID] != nil {
		return
	}
	if r.Replaces {
		l.cancel(r.Alarm, r.Person)
	}
	if saved && (len(l.rows) >= lineRows || l.full && l.unread == nil) {
		l.full = true
		l.missing()
		return
	}
	if len(l.rows) >= lineRows {
		o.makeRoom(l)
	}
	o.seq++
	l.add(&queued{Row: reach.Row{Outgoing: r}, saved: saved, seq: o.seq})
}

// sooner brings forward what waits here untried and says the same as one of
// rows, to the same person by the same channel.
func (o *outbox) sooner(rows []reach.Outgoing) {
	for _, r := range rows {
		q := o.line(r.Channel).saying(r)
		if q != nil && q.Tries == 0 && q.NotBefore.After(r.NotBefore) {
			q.NotBefore, q.Body = r.NotBefore, r.Body
		}
	}
}

// beside lets rows be told from memory that nothing here says already.
func (o *outbox) beside(rows []reach.Outgoing) {
	for _, r := range rows {
		if _, done := o.done[r.ID]; !done && o.line(r.Channel).saying(r) == nil {
			o.put(r, false)
		}
	}
}

// saying returns the row here that says what r does; nil: none does.
func (l *line) saying(r reach.Outgoing) *queued {
	for _, q := range l.rows {
		if q.Transition == r.Transition && q.Person == r.Person {
			return q
		}
	}
	return nil
}

// makeRoom takes out the newest row that is saved, which can be read again; if
// none is, the oldest.
func (o *outbox) makeRoom(l *line) {
	var out *queued
	for _, q := range l.rows {
		if out == nil || q.saved && (!out.saved || q.seq > out.seq) || !q.saved && !out.saved && q.seq < out.seq {
			out = q
		}
	}
	if !out.saved {
		o.lost++
	}
	l.remove(out.ID)
	l.full = true
	l.missing()
}

// keep notes that a row is saved, as kept says. here: it was told, or was to be
// told, from memory.
func (o *outbox) keep(r reach.Outgoing, kept reach.Outgoing, here bool) {
	l := o.line(r.Channel)
	if kept.Known { // by an earlier run, which may have told it
		l.missing()
	}
	q := l.rows[r.ID]
	a, done := o.done[r.ID]
	r.ID = kept.ID
	switch {
	case done:
		delete(o.done, a.Outgoing)
		a.Outgoing = kept.ID
		o.recordLater(a)
	case q != nil:
		l.remove(q.ID)
		q.ID, q.saved = kept.ID, true
		l.add(q)
	case !here && !kept.Known:
		o.put(r, true)
	}
}

// settled reports whether nothing waits that is due.
func (o *outbox) settled() bool {
	now := o.clock.Core()
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, l := range o.lines {
		for _, q := range l.rows {
			if !q.NotBefore.After(now) {
				return false
			}
		}
	}
	return true
}
