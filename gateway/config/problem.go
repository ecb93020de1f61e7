package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing that is wrong with the file.
type Problem struct {
	File    string
	Line    int    // 1 is the first line; 0 when the file as a whole is meant
	Path    string // dotted key, as written in the file
	Text    string // one sentence: what is wrong, what was got, what would be right
	Warning bool   // the watch can run with it
}

func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
	}
	b.WriteString(": ")
	if p.Warning {
		b.WriteString("warning: ")
	}
	if p.Path != "" {
		b.WriteString(p.Path + ": ")
	}
	b.WriteString(p.Text)
	return b.String()
}

// Problems are all problems of a file in the order of its lines. As an error
// it prints one a line.
type Problems []Problem

func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, one := range p {
		lines[i] = one.String()
	}
	return strings.Join(lines, "\n")
}

// Errors returns the problems with which the watch cannot run.
func (p Problems) Errors() Problems { return p.pick(false) }

// Warnings returns the problems with which it can.
func (p Problems) Warnings() Problems { return p.pick(true) }

// Err returns the errors as an error, nil when there are none.
func (p Problems) Err() error {
	if e := p.Errors(); len(e) > 0 {
		return e
	}
	return nil
}

func (p Problems) pick(warning bool) Problems {
	var out Problems
	for _, one := range p {
		if one.Warning == warning {
			out = append(out, one)
		}
	}
	return out
}

// in says of which file they are.
func (p Problems) in(file string) Problems {
	for i := range p {
		p[i].File = file
	}
	return p
}

// sorted returns p by line, then path, then text, each problem once.
func (p Problems) sorted() Problems {
	slices.SortStableFunc(p, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Path, b.Path), cmp.Compare(a.Text, b.Text))
	})
	return slices.Compact(p)
}
