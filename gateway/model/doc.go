// Package model is a simulated greenhouse for demonstrations and tests: the
// walled garden Thimble Garth with its lean-to Long House, its propagation house
// Low House, the weather around them, their thermostats, fans, shutter, buried
// loop pipes and the probes that publish.
//
// It is a thermal model built from published equations, each named where it
// stands. A house has an air node with its moisture, a node for the thermal
// mass of beds, wall and water, a node for the cover, and one for the soil
// around each loop pipe. Energy and water are conserved: what a house stores
// is what came in less what went out, and a ledger of every flow shows it.
//
// A Sim is deterministic: the same start, seed and calls give the same bytes,
// however the time is cut into calls. It uses no clock, starts no goroutine
// and is not safe for concurrent use. Nothing in it is a real place; the
// readings are invented.
package model
