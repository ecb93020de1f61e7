package gateway

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// settle makes the turn last: transitions at once, the rest within the time
// that the store allows. Then it tells those who wait.
func (o *owner) settle() {
	now := time.Now()
	switch due := o.store.SyncDue(); {
	case len(o.fresh) > 0:
		if !o.refused || !now.Before(o.again) {
			o.save()
		}
	case !due.IsZero() && !now.Before(due):
		o.disk(o.store.Sync())
	}
	if o.store.CheckpointDue() && !o.refused {
		o.checkpoint()
	}
	if o.moved && now.Sub(o.noted) >= notices {
		o.moved, o.noted = false, now
		o.hub.notify()
	}
}

// begin saves what a crash left unsaved, and a snapshot, so that the old
// journal need not be read again. Troubles of the run before are over until
// they show again, but for its having broken off.
func (o *owner) begin() {
	o.starts.begin(o.store, o.clock.Core(), o.log)
	if o.recovered {
		for _, id := range alarms.Troubles {
			if id != alarms.TroubleStarts {
				o.apply(alarms.Input{At: o.clock.Core(), Kind: alarms.TroubleOff, Alarm: id})
			}
		}
		o.apply(o.starts.trouble(o.clock.Core()))
		o.settle()
		o.checkpoint()
	}
	if err := o.store.SetOrigin(context.Background(), store.Origin{Boot: o.clock.boot, At: o.clock.origin()}); err != nil {
		o.log.Error().Err(err).Msg("when this run began cannot be saved")
	}
	o.pulse.Beat()
	close(o.begun)
}

// tryAgain is how long the owner waits, in real time, before it asks a disk
// again that has refused to save.
const tryAgain = time.Second

// save saves the fresh transitions and what they ask to be told, then lets it
// be told. If the disk refuses, people are told from memory, and saving is
// tried again later.
func (o *owner) save() {
	if o.rows == nil {
		o.rows = o.route(o.fresh)
	}
	err := o.store.Save(o.fresh, storeRows(o.rows))
	if err != nil {
		o.again = time.Now().Add(tryAgain)
		o.box.tellUnsaved(o.fresh, o.rows)
		o.wake()
		o.disk(err)
		return
	}
	saved, rows := o.fresh, o.rows
	o.fresh, o.rows = nil, nil
	o.box.saved(context.Background(), rows)
	for _, t := range saved {
		o.out.Transition(t)
		if o.heard != nil {
			o.heard(t)
		}
	}
	o.wake()
	o.hub.notify()
	o.disk(nil)
}

func (o *owner) route(ts []alarms.Transition) []reach.Outgoing {
	rows, passing := []reach.Outgoing{}, reach.Passing(ts)
	for _, t := range ts {
		r, err := o.rules.Route(t)
		if err != nil {
			o.log.Error().Err(err).Str("transition", t.ID).Msg("a transition cannot be told")
		}
		if passing[t.ID] {
			r = slices.DeleteFunc(r, func(r reach.Outgoing) bool { return r.Person != "" })
		}
		rows = append(rows, r...)
	}
	return scheduled(rows, o.clock)
}

// disk hears how the disk took the last write, and tells a change.
func (o *owner) disk(err error) {
	if (err != nil) == o.refused {
		return
	}
	o.refused = err != nil
	in := alarms.Input{At: o.clock.Core(), Kind: alarms.TroubleOff, Alarm: alarms.TroubleDisk}
	if err != nil {
		in.Kind, in.Note = alarms.TroubleOn, diskWords(err)
		o.log.Error().Err(err).Msg("the disk refuses; the watch goes on from memory")
	} else {
		o.log.Info().Msg("the disk takes writes again; all that waited is saved")
	}
	o.apply(in)
	if err != nil { // the trouble itself must be told too, unsaved
		o.rows = o.route(o.fresh)
		o.box.tellUnsaved(o.fresh, o.rows)
		o.wake()
	}
}

func diskWords(err error) string {
	var d *store.DiskError
	if errors.As(err, &d) && d.Full {
		return "no space is left on the disk"
	}
	return err.Error()
}

// checkpoint puts a snapshot in the place of the journal. It waits while there
// are transitions to be saved: after a crash only the journal could make them
// again.
func (o *owner) checkpoint() {
	if len(o.fresh) > 0 {
		return
	}
	snap, err := o.engine.Snapshot()
	if err != nil {
		o.log.Error().Err(err).Msg("no snapshot could be taken")
		return
	}
	o.disk(o.store.Checkpoint(snap))
}

// finish leaves everything on disk. What the disk does not take stays in the
// journal, if that was taken, and is made again at the next start.
func (o *owner) finish() error {
	for range 2 { // that a trouble of the disk is over is to be saved too
		if len(o.fresh) > 0 {
			o.save()
		}
	}
	if n := len(o.fresh); n > 0 {
		return fmt.Errorf("the disk refuses: %d moves of alarms are not saved", n)
	}
	snap, err := o.engine.Snapshot()
	if err != nil {
		return err
	}
	if err := o.store.Checkpoint(snap); err != nil {
		return err
	}
	o.starts.end(o.store, o.log)
	return nil
}

// quietAgain is how long no message may be lost before that is over.
const quietAgain = 10 * time.Minute

// watchSelf looks whether the watch itself can work.
func (o *owner) watchSelf() {
	now := o.clock.Core()
	if n, topic := o.losses(); n > o.lost {
		note := fmt.Sprintf("%d messages so far", n)
		if topic != "" {
			note += fmt.Sprintf("; %q brings far more of them than any probe would, and what is too much is left out", topic)
		}
		o.apply(alarms.Input{At: now, Kind: alarms.TroubleOn, Alarm: alarms.TroubleLosses, Note: note})
		o.lost, o.lostAt = n, now
	} else if !o.lostAt.IsZero() && now.Sub(o.lostAt) > quietAgain {
		o.apply(alarms.Input{At: now, Kind: alarms.TroubleOff, Alarm: alarms.TroubleLosses})
		o.lostAt = time.Time{}
	}
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
