package config

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"telltale/alarms/tongue"
)

// spot is where in the file something stands.
type spot struct {
	line  int
	order int // position among all keys of the file
}

const pathSep = "\x00" // between the parts of an internal path

// lines knows for every key and value of a document where it stands.
type lines struct {
	starts []int // offsets at which lines begin
	parser unstable.Parser
	spots  map[string]spot
	values map[string]bool // paths that were given a value
	tables map[string]bool // paths that had a [header]
	counts map[string]int  // elements of an array of tables so far
	found  Problems        // keys and tables written twice
}

// readLines walks the syntax tree of data. It stops at the first syntax
// error, which the decoder reports.
func readLines(data []byte) *lines {
	l := &lines{starts: []int{0}, spots: map[string]spot{}, values: map[string]bool{},
		tables: map[string]bool{}, counts: map[string]int{}}
	for i, c := range data {
		if c == '\n' {
			l.starts = append(l.starts, i+1)
		}
	}
	l.parser.Reset(data)
	prefix := ""
	for l.parser.NextExpression() {
		n := l.parser.Expression()
		switch n.Kind {
		case unstable.Table, unstable.ArrayTable:
			prefix = l.header(n)
		case unstable.KeyValue:
			l.keyValue(prefix, n)
		}
	}
	return l
}

// header notes a [table] or [[array]] header and returns its path.
func (l *lines) header(n *unstable.Node) string {
	path, line := "", 0
	for it := n.Key(); it.Next(); {
		k := it.Node()
		line = l.line(k)
		path = inner(path, string(k.Data))
		l.note(path, line)
		last := it.IsLast()
		if last && n.Kind == unstable.ArrayTable {
			l.counts[path]++
		}
		if c := l.counts[path]; c > 0 {
			path = inner(path, "#"+strconv.Itoa(c-1))
			l.note(path, line)
		}
	}
	if n.Kind == unstable.Table {
		if l.tables[path] {
			l.twice(path, line)
		}
		l.tables[path] = true
	}
	return path
}

func (l *lines) keyValue(prefix string, n *unstable.Node) {
	path, line := prefix, 0
	for it := n.Key(); it.Next(); {
		line = l.line(it.Node())
		path = inner(path, string(it.Node().Data))
		l.note(path, line)
	}
	if l.values[path] {
		l.twice(path, line)
		return
	}
	l.values[path] = true
	l.value(path, line, n.Value())
}

func (l *lines) value(path string, line int, n *unstable.Node) {
	switch n.Kind {
	case unstable.InlineTable:
		for it := n.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				l.keyValue(path, it.Node())
			}
		}
	case unstable.Array:
		i := 0
		for it := n.Children(); it.Next(); {
			if it.Node().Kind == unstable.Comment {
				continue
			}
			at := inner(path, "#"+strconv.Itoa(i))
			line = max(line, l.begin(it.Node()))
			l.note(at, line)
			l.value(at, line, it.Node())
			i++
		}
	}
}

// begin is the line of the first thing in n that the parser placed, else 0.
func (l *lines) begin(n *unstable.Node) int {
	if n.Raw.Length > 0 {
		return l.line(n)
	}
	for it := n.Children(); it.Next(); {
		if at := l.begin(it.Node()); at > 0 {
			return at
		}
	}
	return 0
}

func (l *lines) line(n *unstable.Node) int {
	i, found := slices.BinarySearch(l.starts, int(n.Raw.Offset))
	if found {
		i++
	}
	return i
}

func (l *lines) note(path string, line int) {
	if _, ok := l.spots[path]; !ok {
		l.spots[path] = spot{line: line, order: len(l.spots)}
	}
}

func (l *lines) twice(path string, line int) {
	l.found = append(l.found, Problem{Line: line, Path: shown(path),
		Says: tongue.Put("is written twice; the first is in line %d", l.spots[path].line)})
}

// inner makes an internal path of its parts, of which the first may be a path, or
// empty for the root.
func inner(parts ...string) string { return strings.TrimPrefix(strings.Join(parts, pathSep), pathSep) }

// shown writes an internal path as a person would: tell[1].by for the first
// element of tell.
func shown(path string) string {
	var b strings.Builder
	for i, part := range strings.Split(path, pathSep) {
		if n, ok := strings.CutPrefix(part, "#"); ok {
			nth, _ := strconv.Atoi(n)
			fmt.Fprintf(&b, "[%d]", nth+1)
			continue
		}
		if i > 0 {
			b.WriteByte('.')
		}
		b.WriteString(part)
	}
	return b.String()
}

// parse reads data into the root table. When the file cannot be read as TOML
// the root is nil and everything that can be said is in the problems.
func parse(data []byte) (map[string]any, *lines, Problems) {
	var root map[string]any
	err := toml.Unmarshal(data, &root)
	l := readLines(data)
	if err == nil {
		return root, l, nil
	}
	found := slices.Clone(l.found)
	if len(found) == 0 || l.parser.Error() != nil {
		found = append(found, syntaxProblem(data, err, l.parser.Error()))
	}
	slices.SortStableFunc(found, func(a, b Problem) int { return a.Line - b.Line })
	return nil, l, append(found, Problem{Says: tongue.Put("nothing else was checked; mend this first")})
}

// Syntax says what is wrong with a text that is no TOML, nil if it is.
func Syntax(name string, text []byte) Problems {
	root, _, found := parse(text)
	if root != nil {
		return nil
	}
	return found.in(name)
}

// syntaxProblem says what the parser or, failing that, the decoder found.
func syntaxProblem(data []byte, err, parserErr error) Problem {
	var pe *unstable.ParserError
	if errors.As(parserErr, &pe) && cap(pe.Highlight) <= cap(data) {
		at := min(cap(data)-cap(pe.Highlight), len(data))
		line := 1 + bytes.Count(data[:at], []byte{'\n'})
		return notTOML(line, at-bytes.LastIndexByte(data[:at], '\n'), "", pe.Message)
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		line, col := de.Position()
		return notTOML(line, col, strings.Join(de.Key(), "."), de.Error())
	}
	return notTOML(0, 0, "", err.Error())
}

func notTOML(line, col int, path, why string) Problem {
	return Problem{Line: line, Path: path, Says: tongue.Put("this is not TOML, at column %d: %s", col,
		strings.TrimPrefix(why, "toml: "))}
}
