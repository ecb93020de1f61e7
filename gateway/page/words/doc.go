// Package words writes what the page says of values and times: with unit, in the
// locale of one visitor (°C or °F, decimal mark, 12 or 24 hours) and in the
// garden's zone. Values come in the core's units (°C, %, Pa). It reads no clock
// and keeps nothing.
package words
