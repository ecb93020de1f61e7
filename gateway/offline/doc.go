// Package offline is what commands do without the watch: judge recorded readings as the
// watch would have, fit the ground to them, write a report to a file, let the simulated
// garden publish to a broker, or play it a past.
//
// Like package gateway it ties parts together, and uses them as that does; it starts no
// watch, changes no config and no store that there was before, and only commands use it.
// What is judged here goes through the same decoding and the same core as live readings.
package offline
