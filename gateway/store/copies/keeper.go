package copies

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/tongue"
	"telltale/gateway/store"
)

// Keeper makes copies while a watch runs, in a goroutine of its own on which
// nobody waits.
type Keeper struct {
	Source Source
	Target Target

	Every     time.Duration // between copies
	LateAfter time.Duration // without a good one, is late
	Core      func() time.Time
	Notes     *store.Notes
	Log       zerolog.Logger
	Look      time.Duration // real time between looks at the clock; default 30 s

	mu     sync.Mutex
	note   note
	known  bool   // the note was read
	fault  string // of the last try; "" it succeeded
	trying bool   // one is under way
}

// NoteName is the name under which the Keeper keeps what it knows.
const NoteName = "copies"

// note is what one run leaves for the next. Times but Made are the core's, which
// no step of the wall clock touches.
type note struct {
	Since time.Time `json:"since"`          // from when on copies were to be made
	At    time.Time `json:"at,omitzero"`    // of the newest good one; zero: there is none
	Made  time.Time `json:"made,omitzero"`  // the same by the wall clock
	Apart bool      `json:"apart,omitzero"` // it went to another disk than the store's
}

// State is how the copies are.
type State struct {
	Known bool          // what the run before left was read, or there is no Keeper
	Made  time.Time     // of the newest good one, by the wall clock; zero: there is none yet
	Age   time.Duration // of it
	Fault string        // why the last try failed; "": it did not
	Late  string        // as tongue.Keep has it, that there was no good one for too long; "": there was
}

const (
	lookEvery = 30 * time.Second
	notesWait = 5 * time.Second // for a disk that keeps notes
	parting   = 2 * time.Second // for a copy that is under way at the end
)

// Run makes a copy whenever one is due, until ctx ends. A copy that hangs is left
// behind then.
func (k *Keeper) Run(ctx context.Context) error {
	k.begin(ctx)
	if k.Look == 0 {
		k.Look = lookEvery
	}
	tick := time.NewTicker(k.Look)
	defer tick.Stop()
	next := k.due()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
		if now := k.Core(); !now.Before(next) {
			k.try(ctx)
			next = k.due()
			if again := now.Add(k.Every / 12); next.Before(again) { // it failed
				next = again
			}
		}
	}
}

// begin reads what the run before left.
func (k *Keeper) begin(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, notesWait)
	defer cancel()
	text, err := k.Notes.Kept(ctx, NoteName)
	var n note
	if err == nil && text != "" {
		err = json.Unmarshal([]byte(text), &n)
	}
	if err != nil {
		k.Log.Error().Err(err).Msg("when the newest copy was made cannot be read")
	}
	fresh := n.Since.IsZero()
	if fresh {
		n.Since = k.Core()
	}
	k.mu.Lock()
	k.note, k.known = n, true
	k.mu.Unlock()
	if fresh {
		k.keep(ctx, n)
	}
}

func (k *Keeper) keep(ctx context.Context, n note) {
	text, err := json.Marshal(n)
	if err == nil {
		err = k.Notes.Keep(ctx, NoteName, string(text))
	}
	if err != nil {
		k.Log.Warn().Err(err).Msg("when the newest copy was made cannot be kept")
	}
}

// due is when the next copy is.
func (k *Keeper) due() time.Time {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.note.At.IsZero() {
		return k.note.Since
	}
	return k.note.At.Add(k.Every)
}

// try makes one copy, and returns when it has ended, or soon after ctx has.
func (k *Keeper) try(ctx context.Context) {
	k.mu.Lock()
	k.trying = true
	k.mu.Unlock()
	began, ended := k.Core(), make(chan struct{})
	go func() { // waited for below, but where the disk does not answer
		defer close(ended)
		c, err := k.make(ctx)
		k.came(ctx, c, err, began)
	}()
	select {
	case <-ended:
		return
	case <-ctx.Done():
	}
	late := time.NewTimer(parting)
	defer late.Stop()
	select {
	case <-ended:
	case <-late.C:
	}
}

var errUnmounted = errors.New("it lies on the disk of the store, where it did not lie before: is its own disk not mounted?")

func (k *Keeper) make(ctx context.Context) (Copy, error) {
	k.mu.Lock()
	apart := k.note.Apart
	k.mu.Unlock()
	if apart && SameDisk(k.Target.Dir, k.Source.Store) {
		return Copy{}, fmt.Errorf("no copy was made in %s: %w", k.Target.Dir, errUnmounted)
	}
	return Make(ctx, k.Source, k.Target)
}

// came hears what came of a try that began at a time.
func (k *Keeper) came(ctx context.Context, c Copy, err error, began time.Time) {
	k.mu.Lock()
	k.trying, k.fault = false, ""
	if c.Path == "" {
		k.fault = err.Error()
		k.mu.Unlock()
		if ctx.Err() == nil {
			k.Log.Error().Err(err).Msg("the copy failed; it is tried again")
		}
		return
	}
	k.note.At, k.note.Made, k.note.Apart = began, c.Made, !SameDisk(k.Target.Dir, k.Source.Store)
	n := k.note
	k.mu.Unlock()
	k.Log.Info().Str("copy", c.Path).Int64("bytes", c.Bytes).Msg("a copy was made and checked")
	if err != nil {
		k.Log.Warn().Err(err).Msg("in the directory of the copies")
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), notesWait)
	defer cancel()
	k.keep(ctx, n)
}

// State returns how the copies are. It may be called by anybody, also of no
// Keeper.
func (k *Keeper) State() (s State) {
	if k == nil {
		return State{Known: true}
	}
	now := k.Core()
	k.mu.Lock()
	defer k.mu.Unlock()
	if s.Known = k.known; !s.Known {
		return s
	}
	s.Made, s.Fault = k.note.Made, k.fault
	since := k.note.Since
	if !k.note.At.IsZero() {
		since, s.Age = k.note.At, now.Sub(k.note.At)
	}
	if now.Sub(since) <= k.LateAfter {
		return s
	}
	s.Late = tongue.Keep("there is no good copy yet")
	if !s.Made.IsZero() {
		s.Late = tongue.Keep("no good copy since %s", tongue.Moment(s.Made))
	}
	switch {
	case s.Fault != "":
		s.Late = tongue.Keep("%s: %s", s.Late, s.Fault)
	case k.trying:
		s.Late = tongue.Keep("%s: the disk of %s does not answer, or is very slow", s.Late, k.Target.Dir)
	}
	return s
}
