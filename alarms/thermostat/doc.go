// Package thermostat holds what the thermostats and humidistats of a house and their drives do
// against what they should.
//
// Package control judges the drives and knows no names. Here one judge is built for thermostats
// and humidistats that share drives, or whose drives must or must not run together; a stage with
// a set point of its own by night is two stages of the judge that alternate. The judge is given
// believed readings alone (a lost probe is NaN). Each verdict gets an alarm when it is first
// needed, each whole switching a line of the log; the deadline of the next grace is kept among
// the engine's own. What is not known (silence, a restart, a lost link) begins nothing. A verdict
// that is no wonder without power is spoken for by the lost circuit of its drive, and for as long
// as the drive may take to start once that is back.
//
// A Thermostat knows of its house what House and Place say.
package thermostat
