// Package alarms is the judging core of the watch: what happened goes in as
// Inputs, each with its time; what it means comes out as Transitions, each
// with its reason. See DEVELOPERS.md for the states and the order of work.
package alarms
