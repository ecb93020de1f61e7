package gateway

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// settle makes what was judged last: transitions at once, the rest with the
// next tick. Then it tells those who wait.
func (o *owner) settle() {
	now := time.Now()
	o.collect()
	switch {
	case len(o.fresh) > 0 && o.saving == nil && (!o.refused || !now.Before(o.again)):
		o.save()
	case len(o.fresh) > 0 && o.rows == nil: // it refuses, or does not answer
		o.tellFromMemory()
	}
	if len(o.batch) >= batch {
		o.give(toSync, nil)
	}
	if o.writer.checkpointDue() && !o.refused && !o.laying {
		o.checkpoint()
	}
	if o.moved && now.Sub(o.noted) >= notices {
		o.moved, o.noted = false, now
		o.hub.notify()
	}
}

// flush has the disk take what waits for it, or from time to time the time
// alone, from which the next run knows how long this one lived.
func (o *owner) flush() {
	if now := o.engine.Now(); o.unsaved || o.refused || now.Sub(o.flushed) >= lifeSigns {
		o.unsaved, o.flushed = false, now
		o.give(toSync, o.writer.store.Sync)
	}
}

// give hands the writer what was judged, and what to ask the disk after it.
func (o *owner) give(what asked, do func() error) {
	if len(o.batch) == 0 && do == nil {
		return
	}
	o.writer.give(o.batch, what, do)
	o.batch = o.batch[:0]
}

// collect takes what came of what was given to the writer.
func (o *owner) collect() {
	for _, c := range o.writer.take() {
		late := errors.Is(c.err, errNoAnswer) // it did it
		switch c.what {
		case toSave:
			o.cameBack(c.err == nil || late)
		case toCheckpoint:
			o.laying = false
		case toNote:
			if c.err != nil {
				o.log.Error().Err(c.err).Msg("that this run began cannot be saved")
			}
			continue
		}
		if c.err == nil && c.what != toSave && (len(o.fresh) > 0 || o.saving != nil) {
			continue // whether the disk takes it again, what waits will show
		}
		o.disk(c.err)
	}
}

// begin saves what a crash left unsaved, and a snapshot, so that the old
// journal need not be read again. Troubles of the run before are over until
// they show again, but for its having broken off, for what is lost, and for what the
// owner asks after, which a run that begins is told.
func (o *owner) begin() {
	began := o.starts.begin(o.writer.notes, o.clock.Core(), o.log)
	o.give(toNote, func() error { return o.writer.notes.Keep(context.Background(), startsKept, began) })
	o.apply(o.starts.trouble(o.clock.Core()))
	if o.recovered {
		for _, id := range alarms.Troubles {
			if id != alarms.TroubleStarts && id != alarms.TroubleStore && !o.minded(id) {
				o.apply(alarms.Input{At: o.clock.Core(), Kind: alarms.TroubleOff, Alarm: id})
			}
		}
		o.findHearers()
		o.settle()
		o.checkpoint()
	}
	run := store.Origin{Boot: o.clock.boot, At: time.Unix(0, o.clock.base.Load()).UTC()}
	o.give(toNote, func() error { return o.writer.notes.SetOrigin(context.Background(), run) })
	o.pulse.Beat()
	close(o.begun)
}

// tryAgain is how long the owner waits, in real time, before it asks a disk
// again that has refused to save.
const tryAgain = time.Second

// saving is what was given to the writer to be saved.
type saving struct {
	ts   []alarms.Transition
	rows []reach.Outgoing
	kept []reach.Outgoing // rows, as the store has them
}

// save saves the fresh transitions and what they ask to be told, then lets it
// be told. If the disk refuses, or does not answer in time, people are told
// from memory, and saving is tried again later, or goes on. A disk that did
// either is not waited for until it takes something.
func (o *owner) save() {
	if o.rows == nil {
		o.rows = o.route(o.fresh)
	}
	s := &saving{o.fresh, o.rows, slices.Clone(o.rows)}
	o.saving, o.fresh, o.rows = s, nil, nil
	o.box.expect(s.rows)
	o.give(toSave, func() error { return o.writer.store.Save(s.ts, s.kept) })
	if !o.refused {
		o.await(o.writer.patience)
	}
	if o.saving != s {
		return
	}
	o.box.tellUnsaved(s.ts, s.rows)
	o.wake()
	if !o.refused {
		o.disk(errNoAnswer)
	}
}

// await waits until nothing is being saved, in real time not for longer than
// within.
func (o *owner) await(within time.Duration) {
	late := time.After(within)
	for o.saving != nil {
		select {
		case <-o.writer.news:
			o.collect()
		case <-late:
			return
		}
	}
}

// cameBack hears whether what was given to be saved is on disk.
func (o *owner) cameBack(done bool) {
	s := o.saving
	o.saving = nil
	if !done {
		o.fresh, o.rows = append(s.ts, o.fresh...), nil
		o.again = time.Now().Add(tryAgain)
		o.tellFromMemory()
		return
	}
	o.box.saved(s.ts, s.rows, s.kept, o.fresh)
	for _, t := range s.ts {
		o.out.Transition(t)
		if o.heard != nil {
			o.heard(t)
		}
	}
	o.wake()
	o.hub.notify()
}

// tellFromMemory lets be told what is not saved.
func (o *owner) tellFromMemory() {
	o.rows = o.route(o.fresh)
	o.box.tellUnsaved(o.fresh, o.rows)
	o.wake()
}

// findHearers finds who was told of the alarms that ended with the restart: the
// config may have been changed, and tell others, or nobody, of a house that it
// does not name any more.
func (o *owner) findHearers() {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	o.hearers = map[string][]string{}
	for _, t := range o.fresh {
		if t.Move != alarms.Return || t.Reason.Lasted <= 0 {
			continue
		}
		people, err := o.box.store.ToldOf(ctx, t.Alarm, t.Due.Add(-t.Reason.Lasted).Truncate(time.Second))
		if err != nil {
			o.log.Error().Err(err).Msg("who was told of the alarms that ended cannot be read; those hear of it whom the config names")
			return
		}
		o.hearers[t.ID] = people
	}
}

func (o *owner) route(ts []alarms.Transition) []reach.Outgoing {
	rows, passing, leaves := []reach.Outgoing{}, reach.Passing(ts), o.engine.Leaves()
	for _, t := range ts {
		rules := o.rules
		rules.Leaves = leaves
		if people := o.hearers[t.ID]; len(people) > 0 {
			rules.Tell = append(slices.Clone(rules.Tell), reach.Rule{From: alarms.Low, People: people})
		}
		r, err := rules.Route(t)
		if err != nil {
			o.log.Error().Err(err).Str("transition", t.ID).Msg("a transition cannot be told")
		}
		if passing[t.ID] {
			r = slices.DeleteFunc(r, func(r reach.Outgoing) bool { return r.Person != "" })
		}
		rows = append(rows, r...)
	}
	rows = scheduled(rows, o.clock)
	o.first.delayed(rows, ts)
	return rows
}

// disk hears how the disk took the last write, and tells a change.
func (o *owner) disk(err error) {
	if (err != nil) == o.refused {
		return
	}
	o.refused = err != nil
	in := alarms.Input{At: o.clock.Core(), Kind: alarms.TroubleOff, Alarm: alarms.TroubleDisk}
	if err != nil {
		in.Kind, in.Note = alarms.TroubleOn, o.diskWords(err)
		o.log.Error().Err(err).Msg("the disk refuses; the watch goes on from memory")
	} else {
		o.log.Info().Msg("the disk takes writes again; all that waited is saved")
	}
	o.apply(in)
	if err != nil {
		o.tellFromMemory() // the trouble itself too
	}
}

// keeping is what the owner asks of the store besides its writing side.
type keeping interface {
	Refusing() error
	Knows() bool
	FoundEarlier() bool
	Losses() []string
}

// diskWords says why nothing is saved, and what is not known because the disk
// could not be read either.
func (o *owner) diskWords(err error) string {
	words := err.Error()
	var d *store.DiskError
	refusing := o.keeps.Refusing()
	switch {
	case errors.As(err, &d) && d.Full:
		words = tongue.Keep("no space is left on the disk")
	case refusing != nil:
		words = tongue.Keep("the store works from memory: %s", refusing.Error())
	}
	if refusing != nil && !o.keeps.Knows() {
		words = joined(words, o.lacks)
	}
	return words
}

// joined is what is kept of several things, one behind another; "" is nothing.
func joined(all ...string) string { return tongue.KeepList("%s; %s", all...) }

// tellLosses reports what of the saved is lost, once for each time that some is
// found to be.
func (o *owner) tellLosses() {
	o.gone = append(o.gone, o.keeps.Losses()...)
	if len(o.gone) == 0 {
		return
	}
	note := joined(append(o.gone, o.lacks)...)
	for _, kind := range []alarms.InputKind{alarms.TroubleOff, alarms.TroubleOn} { // told again, if it is on
		o.apply(alarms.Input{At: o.clock.Core(), Kind: kind, Alarm: alarms.TroubleStore, Note: note})
	}
	o.gone = nil
}

// checkpoint puts a snapshot in the place of the journal. It waits while there
// are transitions to be saved: after a crash only the journal could make them
// again.
func (o *owner) checkpoint() {
	if len(o.fresh) > 0 || o.saving != nil {
		return
	}
	snap, err := o.engine.Snapshot()
	if err != nil {
		o.log.Error().Err(err).Msg("no snapshot could be taken")
		return
	}
	o.laying = true
	o.give(toCheckpoint, func() error { return o.writer.store.Checkpoint(snap) })
}

// finish leaves everything on disk. What the disk does not take stays in the
// journal, if that was taken, and is made again at the next start.
func (o *owner) finish() error {
	end := time.Now().Add(parting * o.writer.patience)
	for range 2 { // that a trouble of the disk is over is to be saved too
		o.await(time.Until(end))
		if len(o.fresh) > 0 && o.saving == nil {
			o.save()
		}
	}
	o.await(time.Until(end))
	o.give(toSync, o.writer.store.Sync)
	n := len(o.fresh)
	if o.saving != nil {
		n += len(o.saving.ts)
	}
	if n > 0 {
		return fmt.Errorf("the disk refuses, or does not answer: %d moves of alarms are not saved", n)
	}
	snap, err := o.engine.Snapshot()
	if err != nil {
		return err
	}
	laid, ended := make(chan error, 1), o.starts.end()
	o.give(toCheckpoint, func() error {
		err := o.writer.store.Checkpoint(snap)
		if err == nil {
			err = o.writer.notes.Keep(context.Background(), startsKept, ended)
		}
		laid <- err
		return err
	})
	select {
	case err := <-laid:
		return err
	case <-time.After(time.Until(end)):
		return fmt.Errorf("%w: the state of the alarms is not saved; it is in the journal", errNoAnswer)
	}
}

// quietAgain is how long no message may be lost before that is over.
const quietAgain = 10 * time.Minute

// watchSelf looks whether the watch itself can work.
func (o *owner) watchSelf() {
	if o.writer.stuck(time.Now()) {
		o.disk(errNoAnswer)
	}
	now := o.clock.Core()
	o.tellLosses()
	if n, topic := o.losses(); n > o.lost {
		note := tongue.Keep("%d messages so far", n)
		if topic != "" {
			note = tongue.Keep("%d messages so far; %q brings far more of them than any probe would, and what is too much is left out", n, topic)
		}
		o.apply(alarms.Input{At: now, Kind: alarms.TroubleOn, Alarm: alarms.TroubleLosses, Note: note})
		o.lost, o.lostAt = n, now
	} else if !o.lostAt.IsZero() && now.Sub(o.lostAt) > quietAgain {
		o.apply(alarms.Input{At: now, Kind: alarms.TroubleOff, Alarm: alarms.TroubleLosses})
		o.lostAt = time.Time{}
	}
	o.mind(now)
	if o.starts.over(now) {
		o.apply(o.starts.trouble(now))
	}
	if why := o.mute(); why != o.muted {
		in := alarms.Input{At: now, Kind: alarms.TroubleOff, Alarm: alarms.TroubleTelling, Note: why}
		if why != "" {
			in.Kind = alarms.TroubleOn
		}
		o.apply(in)
		o.muted = why
	}
}
