// Package timing is what waits in the core, and by which time: instants, the queue of all
// deadlines, latches with a delay each way, waits for messages, and how the wall clock
// stands to the core's time.
//
// The core runs on a time of its own, which only moves forward and never
// stands. Deadlines, delays, waits and the order of what happens go by it
// alone. What clocks on the wall show is that time and Ahead: at the first
// start both are the same, and each ClockStep moves them apart. So a clock
// that is put back by hours or forward by years delays nothing and makes
// nothing happen; it changes what is shown, and where day, night, season and
// midnight lie.
package timing
