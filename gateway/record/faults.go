package record

import (
	"fmt"
	"slices"
	"strconv"
)

// Cause says in a few words why something could not be read.
type Cause string

// Causes of this package; others come from whoever reads the cells.
const (
	TooLong    Cause = "line too long"
	StrayQuote Cause = "stray quote"
	TooMany    Cause = "too many cells"
	BadTime    Cause = "no time"
)

// Fault is everything that could not be read for one cause in one column, with
// its first example.
type Fault struct {
	Cause  Cause
	Column string // header; empty: the whole row
	Count  uint64
	Line   int64 // of the example
	Detail string
}

// String is a line for people: how many, then the first one.
func (f Fault) String() string {
	where := ""
	if f.Column != "" {
		where = fmt.Sprintf(", column %q", f.Column)
	}
	return fmt.Sprintf("%d × %s%s; first in line %d: %s", f.Count, f.Cause, where, f.Line, f.Detail)
}

type fault struct {
	cause  Cause
	column string
	line   int64
	detail string
}

// Faults counts by cause and column, in the order met.
type Faults struct{ all []Fault }

// mostFaults bounds how many kinds are kept apart; further ones count with the
// last.
const mostFaults = 200

// Add counts one; detail is called for the first of its kind alone.
func (f *Faults) Add(cause Cause, column string, line int64, detail func() string) {
	i := slices.IndexFunc(f.all, func(g Fault) bool { return g.Cause == cause && g.Column == column })
	if i < 0 {
		if len(f.all) == mostFaults {
			i = mostFaults - 1
		} else {
			i = len(f.all)
			f.all = append(f.all, Fault{Cause: cause, Column: column, Line: line, Detail: detail()})
		}
	}
	f.all[i].Count++
}

func (f *Faults) add(x *fault) {
	f.Add(x.cause, x.column, x.line, func() string { return x.detail })
}

// All returns what was counted.
func (f *Faults) All() []Fault { return slices.Clone(f.all) }

// show quotes the start of a text: printable, and not long.
func show(b []byte) string {
	const most = 48
	if len(b) > most {
		return strconv.QuoteToASCII(string(b[:most])) + "..."
	}
	return strconv.QuoteToASCII(string(b))
}
