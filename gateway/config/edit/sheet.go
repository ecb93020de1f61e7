package edit

import (
	"bytes"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// sheet is the text of a file with where its tables and keys stand. A change
// cuts one piece out of the text and puts another in its place, so that
// everything else stays byte for byte.
type sheet struct {
	text  []byte
	heads []head
	items []item
	tree  any // what it says, once that was asked for
}

// head is a [table] or [[table]].
type head struct {
	path  string // internal, see inner
	start int    // of its line
	end   int    // after its line, and after the last line of its keys
}

// item is one key with its value.
type item struct {
	path              string
	start, value, end int // where the key begins, and where the value stands
}

// newSheet reads text, which must be TOML.
func newSheet(text []byte) *sheet {
	s := &sheet{text: text}
	var p unstable.Parser
	p.Reset(text)
	counts := map[string]int{}
	prefix := ""
	for p.NextExpression() {
		switch n := p.Expression(); n.Kind {
		case unstable.Table, unstable.ArrayTable:
			prefix = s.head(n, counts)
		case unstable.KeyValue:
			s.item(prefix, n)
			if last := len(s.heads) - 1; last >= 0 {
				s.heads[last].end = s.lineEnd(int(n.Raw.Offset + n.Raw.Length))
			}
		}
	}
	return s
}

func (s *sheet) head(n *unstable.Node, counts map[string]int) string {
	path, at := "", 0
	for it := n.Key(); it.Next(); {
		at = int(it.Node().Raw.Offset)
		path = inner(path, string(it.Node().Data))
		if it.IsLast() && n.Kind == unstable.ArrayTable {
			counts[path]++
		}
		if c := counts[path]; c > 0 {
			path = inner(path, "#"+strconv.Itoa(c-1))
		}
	}
	s.heads = append(s.heads, head{path: path, start: s.lineStart(at), end: s.lineEnd(at)})
	return path
}

func (s *sheet) item(prefix string, n *unstable.Node) {
	path, at, start := prefix, 0, -1
	for it := n.Key(); it.Next(); {
		if start < 0 {
			start = int(it.Node().Raw.Offset)
		}
		at = int(it.Node().Raw.Offset + it.Node().Raw.Length)
		path = inner(path, string(it.Node().Data))
	}
	at += bytes.IndexByte(s.text[at:], '=') + 1
	at += len(s.text[at:]) - len(bytes.TrimLeft(s.text[at:], " \t"))
	s.items = append(s.items, item{path: path, start: start, value: at, end: int(n.Raw.Offset + n.Raw.Length)})
	if n.Value().Kind != unstable.InlineTable {
		return
	}
	for it := n.Value().Children(); it.Next(); {
		if it.Node().Kind == unstable.KeyValue {
			s.item(path, it.Node())
		}
	}
}

func (s *sheet) lineStart(at int) int { return bytes.LastIndexByte(s.text[:at], '\n') + 1 }

// lineEnd is where the line after at begins.
func (s *sheet) lineEnd(at int) int {
	if i := bytes.IndexByte(s.text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(s.text)
}

// newline is how lines of the file end.
func (s *sheet) newline() string {
	if i := bytes.IndexByte(s.text, '\n'); i > 0 && s.text[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// splice puts lines, which end in \n, in the place of text[from:to] and reads
// the sheet again.
func (s *sheet) splice(from, to int, put string) {
	put = strings.ReplaceAll(put, "\n", s.newline())
	*s = *newSheet(slices.Concat(s.text[:from], []byte(put), s.text[to:]))
}

func (s *sheet) find(path string) (item, bool) {
	for _, it := range s.items {
		if it.path == path {
			return it, true
		}
	}
	return item{}, false
}

func (s *sheet) findHead(path string) int {
	return slices.IndexFunc(s.heads, func(h head) bool { return h.path == path })
}

// there reports whether anything of the file stands at or below path.
func (s *sheet) there(path string) bool {
	under := func(p string) bool { return p == path || strings.HasPrefix(p, path+pathSep) }
	return slices.ContainsFunc(s.heads, func(h head) bool { return under(h.path) }) ||
		slices.ContainsFunc(s.items, func(it item) bool { return under(it.path) })
}

// children are the names right below path, each once.
func (s *sheet) children(path string) []string {
	var out []string
	add := func(p string) {
		if rest, ok := strings.CutPrefix(p, path+pathSep); ok {
			name, _, _ := strings.Cut(rest, pathSep)
			if !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	for _, h := range s.heads {
		add(h.path)
	}
	for _, it := range s.items {
		add(it.path)
	}
	return out
}

// set gives a key of a table a value, which is written as TOML already. The
// table and the key are made where they are not there.
func (s *sheet) set(table, key, value string) {
	if it, ok := s.find(inner(table, key)); ok {
		if string(s.text[it.value:it.end]) != value {
			s.splice(it.value, it.end, value)
		}
		return
	}
	if i := s.findHead(table); i >= 0 {
		s.addLines(s.heads[i].end, bareKey(key)+" = "+value+"\n")
		return
	}
	if it, ok := s.find(table); ok && s.text[it.end-1] == '}' {
		s.addInline(it, bareKey(key)+" = "+value)
		return
	}
	s.addTable(table, bareKey(key)+" = "+value+"\n", "")
}

// addLines puts whole lines at the beginning of a line, or behind a last line
// that is not ended yet.
func (s *sheet) addLines(at int, put string) {
	if at > 0 && s.text[at-1] != '\n' {
		put = "\n" + put
	}
	s.splice(at, at, put)
}

// addInline adds a key to an inline table such as { low = 8 }.
func (s *sheet) addInline(it item, pair string) {
	inside := bytes.TrimRight(s.text[it.value+1:it.end-1], " \t\r\n")
	at := it.value + 1 + len(inside)
	switch {
	case len(bytes.TrimSpace(inside)) == 0:
		s.splice(it.value+1, it.end-1, " "+pair+" ")
	case inside[len(inside)-1] == ',':
		s.splice(at, at, " "+pair)
	default:
		s.splice(at, at, ", "+pair)
	}
}

// addTable adds a [table] with lines, and before it a comment, at the end of
// what it belongs to: behind the table of the file that shares most of its
// name, else at the end.
func (s *sheet) addTable(path, lines, comment string) {
	at, most := len(s.text), 0
	for _, h := range s.heads {
		if n := common(h.path, path); n > 0 && n >= most {
			at, most = s.below(h.end), n
		}
	}
	first := slices.IndexFunc(s.heads, func(h head) bool { return strings.HasPrefix(h.path, path+pathSep) })
	if first >= 0 { // its own tables are there already, it comes before them
		at = s.above(s.heads[first].start)
	}
	s.addBlock(at, comment+"["+dotted(path)+"]\n"+lines)
}

// addElement adds a [[table]] in the same way.
func (s *sheet) addElement(path, lines, comment string) {
	at := len(s.text)
	for _, h := range s.heads {
		if common(h.path, path) > 0 {
			at = s.below(h.end)
		}
	}
	s.addBlock(at, comment+"[["+dotted(path)+"]]\n"+lines)
}

// addBlock puts a block at a line's beginning, with a blank line on each side.
func (s *sheet) addBlock(at int, block string) {
	if before := bytes.TrimRight(s.text[:at], " \t\r"); len(bytes.TrimSpace(before)) > 0 && !blankEnd(before) {
		block = "\n" + block
	}
	if rest := s.text[at:]; len(rest) > 0 && len(bytes.TrimSpace(rest[:s.lineEnd(at)-at])) > 0 {
		block += "\n"
	}
	s.addLines(at, block)
}

// blankEnd reports whether text ends with a blank line.
func blankEnd(text []byte) bool {
	body, ok := bytes.CutSuffix(text, []byte("\n"))
	return ok && bytes.HasSuffix(bytes.TrimRight(body, " \t\r"), []byte("\n"))
}

// above is where the comment begins that stands right above the line at start.
func (s *sheet) above(start int) int {
	for start > 0 {
		prev := s.lineStart(start - 1)
		if line := s.text[prev:start]; !isComment(line) || keyPutAside(line) {
			break
		}
		start = prev
	}
	return start
}

// below is where the comment ends that stands right below the line before at,
// unless it belongs to what follows it.
func (s *sheet) below(at int) int {
	end := at
	for end < len(s.text) {
		next := s.lineEnd(end)
		switch line := s.text[end:next]; {
		case keyPutAside(line):
			at = next
		case len(bytes.TrimSpace(line)) == 0:
			return end
		case !isComment(line):
			return at
		}
		end = next
	}
	return end
}

// removeTable takes out a [table] with its keys.
func (s *sheet) removeTable(path string) {
	if i := s.findHead(path); i >= 0 {
		from, to := s.heads[i].start, s.heads[i].end
		if rest := s.text[to:]; len(rest) > 0 && len(bytes.TrimSpace(rest[:s.lineEnd(to)-to])) == 0 && blankEnd(s.text[:from]) {
			to = s.lineEnd(to) // of two blank lines one goes too
		}
		s.splice(from, to, "")
	}
}

// unset takes a key out of its table.
func (s *sheet) unset(path string) {
	if it, ok := s.find(path); ok {
		s.cut(it)
	}
}

// cut takes a key out with its value: its lines, or its part of an inline table.
func (s *sheet) cut(it item) {
	within := func(o item) bool { return o.value < it.start && it.end < o.end }
	i := slices.IndexFunc(s.items, within)
	if i < 0 {
		s.splice(s.lineStart(it.start), s.lineEnd(it.end), "")
		return
	}
	from, to := it.start, it.end
	rest := bytes.TrimLeft(s.text[to:], " \t\r\n")
	before := bytes.TrimRight(s.text[:from], " \t\r\n")
	switch {
	case rest[0] == ',':
		to = len(s.text) - len(bytes.TrimLeft(rest[1:], " \t\r\n"))
	case before[len(before)-1] == ',':
		from = len(before) - 1
	}
	s.splice(from, to, "")
}
