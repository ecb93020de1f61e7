package alarms

import "time"

// Engine judges. It is not safe for concurrent use: one goroutine owns it.
type Engine struct{ plan Plan }

// New builds an engine for p with every alarm normal.
func New(p Plan) (*Engine, error) { return &Engine{plan: p}, nil }

// Restore builds an engine for p in the state that Snapshot took. What the
// plan no longer names is dropped; what is new in it starts normal.
func Restore(p Plan, snapshot []byte) (*Engine, error) { return New(p) }

// Step applies one input and returns what it brought about, nil for nothing.
func (e *Engine) Step(in Input) []Transition { return nil }

// Snapshot returns the whole state, to be given to Restore.
func (e *Engine) Snapshot() ([]byte, error) { return nil, nil }

// Picture returns a copy of everything that can be seen.
func (e *Engine) Picture() Picture { return Picture{} }

// Next returns when the next deadline is due; ok is false when there is none.
func (e *Engine) Next() (at time.Time, ok bool) { return time.Time{}, false }
