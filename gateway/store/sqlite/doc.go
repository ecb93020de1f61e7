// Package sqlite is one SQLite file: how it is opened, to be written, only read, or in
// memory; the layers between it and the disk, which count what is written and keep no
// page of it mapped; and questions that are given up when their time is over. It knows
// no table.
package sqlite
