// Package decode turns what probes publish into values of the core: a plain
// number, JSON read by RFC 6901 pointers, SenML packs (RFC 8428) or line
// protocol, each in the unit that was declared for it.
//
// It promises that a bad payload is never fatal and never costs a good value
// beside it: every value that can be read is given, every one that cannot is a
// Problem with a stable cause, counted per probe with an example kept. Every
// value given is finite, in the core's unit, and of a quantity that a source
// claims.
//
// A Table routes by topic: exact topics and topics met before cost one map
// look-up; MQTT filters are matched once for each new topic. Cells and Lines read
// recorded readings the same way.
//
// Propose says how payloads that nobody has declared yet could be read, Weigh
// the same of the columns of a table. Every value that it shows is what the decoder gives for that choice.
package decode
