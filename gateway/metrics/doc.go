// Package metrics shows the watch to a metrics collector: every point, probe,
// alarm and part of the service, in the text exposition format, with names and
// base units by its rules (temperatures in celsius, shares as ratios of 0 to
// 1, pressures in pascals, times in seconds, counters ending in _total).
//
// It promises never to show an old value as if it were now: a value is there
// only while it is live; its age and time of receipt stay. Everything is made
// at the moment of the scrape from a picture of the core; nothing is kept but
// label strings. It uses a registry of its own and changes nothing.
package metrics
