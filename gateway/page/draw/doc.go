// Package draw makes the drawings of the page: a house in section with its
// readings and drives, a value against its band, and the past as panels of lines
// or bars over rows of drives and alarms. It returns numbers and SVG paths for
// templates, in units of the drawing, and the same in words; it reads no clock
// and asks nobody.
package draw
