// Package alarms is what the judging core is told and what it tells: the Plan of the
// houses, with its defaults and checks; Inputs, each with its time; Transitions, each with
// its reason as data; and the Picture of all that can be seen at a moment. What judges is
// alarms/engine, what makes sentences of it alarms/say.
package alarms
