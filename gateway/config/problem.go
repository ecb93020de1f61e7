package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// Problem is one thing that is wrong with the file.
type Problem struct {
	File    string
	Line    int           // 1 is the first line; 0 when the file as a whole is meant
	Path    string        // dotted key, as written in the file
	Says    tongue.Saying // one sentence: what is wrong, what was got, what would be right
	Warning bool          // the watch can run with it
}

func (p Problem) String() string { return p.Whole().Error() }

// Whole is what p says and where it stands.
func (p Problem) Whole() tongue.Saying {
	where, says := p.File, p.Says
	if p.Line > 0 {
		where = strings.TrimPrefix(fmt.Sprintf("%s:%d", where, p.Line), ":")
	}
	if p.Path != "" {
		says = tongue.Saying{Args: []any{p.Path + ": ", says}}
	}
	if p.Warning {
		says = tongue.Put("warning: %s", says)
	}
	if where == "" {
		return says
	}
	return tongue.Saying{Args: []any{where + ": ", says}}
}

// Problems are all problems of a file in the order of its lines. As an error
// it prints one a line.
type Problems []Problem

func (p Problems) Error() string { return p.In(tongue.English) }

// In is what Error writes, in a language.
func (p Problems) In(t tongue.Tongue) string {
	return strings.Join(walk.Each(p, func(one Problem) string { return one.Whole().In(t) }), "\n")
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
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Path, b.Path), cmp.Compare(a.Says.Error(), b.Says.Error()))
	})
	return slices.CompactFunc(p, func(a, b Problem) bool { return a.String() == b.String() })
}
