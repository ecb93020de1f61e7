// Package lookback draws the past of a house as one strip, for a day or for
// years: what an address asks for, what the watch has kept of it, and the same in
// words, as a list and as a table. What cannot be read is counted and left out.
package lookback
