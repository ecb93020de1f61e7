package decode

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"

	"telltale/alarms/tongue"
)

// pointer is an RFC 6901 JSON pointer, split into unescaped tokens.
type pointer []string

// parsePointer reads s by RFC 6901, sections 3 and 4. An error goes on from the name
// of what held s, as those of Read.Check do.
func parsePointer(s string) (pointer, error) {
	if s == "" {
		return nil, nil
	}
	if s[0] != '/' {
		return nil, tongue.Put("must be a JSON pointer (RFC 6901): empty, or starting with a slash, such as \"/air/temperature\" (got %q)", s)
	}
	tokens := strings.Split(s[1:], "/")
	for i, t := range tokens {
		if strings.Contains(strings.NewReplacer("~0", "", "~1", "").Replace(t), "~") {
			return nil, tongue.Put("must write ~ as ~0 and / as ~1 inside a part of a JSON pointer, RFC 6901 (got %q)", s)
		}
		if t == "-" {
			return nil, tongue.Put("must not go by \"-\", which in a JSON pointer is the element after the last one of a list and so never exists (got %q)", s)
		}
		// ~1 first, so that ~01 becomes ~1 and not a slash (section 4).
		tokens[i] = strings.ReplaceAll(strings.ReplaceAll(t, "~1", "/"), "~0", "~")
	}
	return tokens, nil
}

// arrayIndex reads a token as the index of an array element: digits without
// leading zeros (RFC 6901, section 4).
func arrayIndex(token string) (int, bool) {
	if token == "" || (len(token) > 1 && token[0] == '0') {
		return 0, false
	}
	for i := range len(token) {
		if token[i] < '0' || token[i] > '9' {
			return 0, false
		}
	}
	n, err := strconv.Atoi(token)
	return n, err == nil
}

// node is one step of a tree of pointers.
type node struct {
	children []child
	leaves   []int // what ends here
}

type child struct {
	key   string
	index int // as an array index; -1 if it is none
	*node
}

// add puts a pointer that ends in leaf into the tree.
func (n *node) add(p pointer, leaf int) {
	if len(p) == 0 {
		n.leaves = append(n.leaves, leaf)
		return
	}
	for _, c := range n.children {
		if c.key == p[0] {
			c.add(p[1:], leaf)
			return
		}
	}
	c := child{key: p[0], index: -1, node: &node{}}
	if i, ok := arrayIndex(p[0]); ok {
		c.index = i
	}
	n.children = append(n.children, c)
	c.add(p[1:], leaf)
}

// finder looks up many pointers; what is on the way of several is read once.
type finder struct {
	tree  node
	found []json.RawMessage // nil: it is not there
}

// scan finds every pointer in text, which must be JSON. Of keys that occur twice the
// last one counts, whole, as with encoding/json.
func (f *finder) scan(text []byte) {
	clear(f.found)
	f.value(bytes.TrimSpace(text), &f.tree)
}

func (f *finder) value(v json.RawMessage, n *node) {
	for _, leaf := range n.leaves {
		f.found[leaf] = v
	}
	var object map[string]json.RawMessage
	var list []json.RawMessage
	switch {
	case len(n.children) == 0:
		return
	case v[0] == '{':
		_ = json.Unmarshal(v, &object) // the text is valid
	case v[0] == '[':
		_ = json.Unmarshal(v, &list)
	}
	for _, c := range n.children {
		in := object[c.key]
		if c.index >= 0 && c.index < len(list) {
			in = list[c.index]
		}
		if in != nil {
			f.value(in, c.node)
		}
	}
}

// unquote returns the text of a JSON string; broken UTF-8 becomes U+FFFD.
func unquote(raw json.RawMessage) []byte {
	var s string
	_ = json.Unmarshal(raw, &s) // it is a string
	return []byte(s)
}
