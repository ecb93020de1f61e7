// Package record reads tables of recorded readings that nobody prepared, and
// gives their cells in the order of time. It knows nothing of quantities and
// units: what a column measures is for others to say.
//
// A file is gone through twice. The first time finds out how it is written
// (encoding, separator, decimal mark, lines before the header, the columns that
// say when, the order of day and month, whether each row names its probe) and
// where in it which times stand; what it found is told in sentences before
// anything is given. The second time gives the rows by time. Memory does not
// grow with the file but for about a hundred bytes for each thousand rows:
// rows a little out of order, a file sorted newest first and one sorted by
// probe are read a block at a time, those blocks first whose times come first. A
// file in no order at all is refused once that takes more than mostOpen blocks.
//
// What cannot be read is counted by cause, with the first example, and costs
// itself: a cell its value, a time or a stray quote its row. Where a guess would
// be unsafe Open stops with an Unsure, which names what must be said.
//
// Compressed files (gzip) and UTF-16 are first laid down as plain text in a
// temporary file, which is gone when the Table is closed.
package record
