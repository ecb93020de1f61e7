// Package edit changes the text of a configuration: every line that no edit asks for
// stays byte for byte, with its comments, order and blank lines, and nothing is
// written with which the watch could not run. The file of before stays beside the new
// one, and a crash leaves either of the two whole.
package edit
