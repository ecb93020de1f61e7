package gateway

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/store"
)

// peek is what a store holds before a watch recovers from it.
type peek struct {
	Snapshot []byte         // nil for none
	Inputs   []alarms.Input // journaled since
	Newest   time.Time      // newest time in all of it
	Next     int            // step to go on with
}

// marker is what a watch that recovers from k on the clock of live does first.
func (k peek) marker() alarms.Input {
	return alarms.Input{Kind: alarms.RestartMarker, At: k.Newest.Add(time.Millisecond)}
}

// peekAt looks into the store at dir.
func peekAt(dir string) (k peek, err error) {
	s, err := store.Open(dir, store.Options{})
	if err != nil {
		return k, err
	}
	defer s.Close()
	c, err := read(victimConfig, dir)
	if err != nil {
		return k, err
	}
	snap, inputs, err := s.Recover()
	if err != nil {
		return k, err
	}
	e, fresh, err := restore(c.Plan, snap)
	if err != nil {
		return k, err
	}
	k.Snapshot, k.Newest = snap, e.Now()
	if !fresh {
		k.Next = stepAt(e.Now()) + 1
	}
	for in, err := range inputs {
		if err != nil {
			return k, err
		}
		k.Inputs = append(k.Inputs, in)
		if in.At.After(k.Newest) {
			k.Newest = in.At
		}
		if scriptedInput(in) {
			k.Next = stepAt(in.At) + 1
		}
	}
	return k, nil
}

// keep writes k down as the next one of dir, whole or not at all. The time in
// a snapshot may be that of a tick, which says nothing of the step it came
// before; so with nothing journaled since, and no clean stop between, the step
// to go on with is that of the life before.
func (k *peek) keep(dir string, stops bool) error {
	before, err := filepath.Glob(filepath.Join(dir, "peek-*"))
	if err != nil {
		return err
	}
	if n := len(before); n > 0 && !stops && !slices.ContainsFunc(k.Inputs, scriptedInput) {
		last, err := readPeek(before[n-1])
		if err != nil {
			return err
		}
		k.Next = last.Next
	}
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(k); err != nil {
		return err
	}
	half := filepath.Join(dir, "half")
	if err := os.WriteFile(half, b.Bytes(), 0o600); err != nil {
		return err
	}
	return os.Rename(half, filepath.Join(dir, fmt.Sprintf("peek-%04d", len(before))))
}

func readPeek(file string) (k peek, err error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return k, err
	}
	return k, gob.NewDecoder(bytes.NewReader(text)).Decode(&k)
}

// scriptedInput reports whether in comes from the script.
func scriptedInput(in alarms.Input) bool {
	switch in.Kind {
	case alarms.Tick, alarms.RestartMarker, alarms.TroubleOn, alarms.TroubleOff, alarms.ClockStep, alarms.StoodStill:
		return false // the owner's own
	}
	return true
}
