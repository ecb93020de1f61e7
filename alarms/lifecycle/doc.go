// Package lifecycle is the life of an alarm after ANSI/ISA-18.2 and IEC 62682: rules report a
// level (Alarm.Apply), people act on it (Acknowledge, Shelve, TakeOut and their opposites),
// and the alarm decides what that means: in which state it is, which transition is told, when
// it is told again, and that what comes and goes is held. It knows no house, probe or reading:
// About says of an alarm what it hangs on, and Rule what stands behind it. The Panel is what all
// alarms of an engine share; it takes in their transitions.
package lifecycle
