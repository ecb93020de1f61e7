// Package reports writes what was as a person takes it along: a report in words,
// tables and small drawings, the same as CSV, and readings as CSV or line
// protocol. It says what time a report is about, and reads no clock.
package reports
