// Package control judges whether the mechanical control does what it should.
//
// A Judge is for drives that something shows: a contact, a current, a speed; of the
// others package infer says what is likely. It holds no rule itself but asks, each for
// what it knows: the air (what each bulb and the outside last read), the stages of the
// thermostat (where each switches, and whether that has drifted), and of each drive the
// demand (what stages, season and people ask of it), the meters (what its evidence
// shows), the drawing (what it draws, at which speeds), the run that goes on, its turns,
// starts, timer and record, and its gates: one a verdict, which waits out a grace. What
// makes a verdict stands in verdicts.go: did not start, stopped early, ran uncalled, a
// shutter that stays shut and the like. Told carries what began and ended, and the log.
package control
