// Package modem sends and takes text messages, and lets telephones ring,
// through a GSM or LTE modem on a serial line, by standard AT commands alone:
// 3GPP TS 27.005 for messages, TS 27.007 for the rest, TS 23.040 and TS 23.038
// for what a message looks like. It needs no internet.
//
// It promises that one goroutine owns the line; that a modem which is
// unplugged, hangs or starts again is found again; that a PIN which the SIM
// refused is never tried a second time; that a message is taken off the SIM
// only when whoever handles it says that it is done; that unknown or broken
// input is counted and stops nothing; and that State says at any time whether
// a message could go out now, and why not.
package modem
