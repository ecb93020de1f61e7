package decode

import (
	"encoding/json"
	"strings"
)

// The functions here walk text that json.Valid has accepted, so they need not
// check the grammar again.

// span is where a JSON value stands; an empty one was not found.
type span struct{ from, to int }

// finder looks up many pointers in one pass, without building values.
type finder struct {
	tree  node
	found []span
	run   uint64
	text  []byte
}

// scan finds every pointer in text. Of keys that occur twice the last one
// counts, as with encoding/json.
func (f *finder) scan(text []byte) {
	f.run++
	f.text = text
	clear(f.found)
	f.value(skipBlanks(text, 0), &f.tree)
}

// value passes over the value at i and returns where it ends.
func (f *finder) value(i int, n *node) int {
	if n.run == f.run {
		f.forget(n)
	}
	n.run = f.run
	end := 0
	switch {
	case f.text[i] == '{' && len(n.children) > 0:
		end = f.object(i, n)
	case f.text[i] == '[' && len(n.children) > 0:
		end = f.array(i, n)
	default:
		end = skipValue(f.text, i)
	}
	for _, leaf := range n.leaves {
		f.found[leaf] = span{i, end}
	}
	return end
}

// forget drops what was found below n: its key has come again.
func (f *finder) forget(n *node) {
	for _, leaf := range n.leaves {
		f.found[leaf] = span{}
	}
	for _, c := range n.children {
		f.forget(c.node)
	}
}

func (f *finder) object(i int, n *node) int {
	for i = skipBlanks(f.text, i+1); f.text[i] != '}'; i = nextItem(f.text, i) {
		end := skipString(f.text, i)
		key := unquote(f.text[i:end])
		i = skipBlanks(f.text, skipBlanks(f.text, end)+1) // over the colon
		if c := n.named(key); c != nil {
			i = f.value(i, c)
		} else {
			i = skipValue(f.text, i)
		}
	}
	return i + 1
}

func (n *node) named(key []byte) *node {
	for i := range n.children {
		if n.children[i].key == string(key) {
			return n.children[i].node
		}
	}
	return nil
}

func (f *finder) array(i int, n *node) int {
	at := 0
	for i = skipBlanks(f.text, i+1); f.text[i] != ']'; i = nextItem(f.text, i) {
		next := -1
		for _, c := range n.children {
			if c.index == at {
				next = f.value(i, c.node)
			}
		}
		if next < 0 {
			next = skipValue(f.text, i)
		}
		i = next
		at++
	}
	return i + 1
}

// nextItem goes over blanks and a comma to the next member or element, or to
// the closing bracket.
func nextItem(b []byte, i int) int {
	i = skipBlanks(b, i)
	if b[i] == ',' {
		i = skipBlanks(b, i+1)
	}
	return i
}

func skipBlanks(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\t' || b[i] == '\n' || b[i] == '\r') {
		i++
	}
	return i
}

// skipString returns the end of the string that starts at i.
func skipString(b []byte, i int) int {
	for i++; b[i] != '"'; i++ {
		if b[i] == '\\' {
			i++
		}
	}
	return i + 1
}

// skipValue returns the end of the value that starts at i. It does not
// recurse, so depth costs nothing.
func skipValue(b []byte, i int) int {
	depth := 0
	for i < len(b) {
		switch b[i] {
		case '"':
			i = skipString(b, i)
		case '{', '[':
			depth++
			i++
			continue
		case '}', ']':
			depth--
			i++
		case ',', ':', ' ', '\t', '\n', '\r':
			i++
			continue
		default:
			i = skipWord(b, i)
		}
		if depth == 0 {
			return i
		}
	}
	return i
}

// skipWord returns the end of a number, true, false or null.
func skipWord(b []byte, i int) int {
	for i < len(b) && strings.IndexByte(",:]} \t\n\r", b[i]) < 0 {
		i++
	}
	return i
}

// unquote returns the text of a JSON string. It copies only where the string
// has escapes or is not plain ASCII; broken UTF-8 becomes U+FFFD.
func unquote(b []byte) []byte {
	inner := b[1 : len(b)-1]
	for _, c := range inner {
		if c == '\\' || c >= 0x80 {
			var s string
			if err := json.Unmarshal(b, &s); err != nil {
				return inner // cannot be: the text is valid
			}
			return []byte(s)
		}
	}
	return inner
}
