package decode

import (
	"fmt"
	"strconv"
	"strings"
)

// pointer is an RFC 6901 JSON pointer, split into unescaped tokens.
type pointer []string

// parsePointer reads s by RFC 6901, sections 3 and 4.
func parsePointer(s string) (pointer, error) {
	if s == "" {
		return nil, nil
	}
	if s[0] != '/' {
		return nil, fmt.Errorf("pointer %q must be empty or start with a slash, as in \"/%s\"", s, s)
	}
	tokens := strings.Split(s[1:], "/")
	for i, t := range tokens {
		if strings.Contains(strings.NewReplacer("~0", "", "~1", "").Replace(t), "~") {
			return nil, fmt.Errorf("pointer %q: a tilde must be written ~0 and a slash within a name ~1", s)
		}
		if t == "-" {
			return nil, fmt.Errorf("pointer %q: \"-\" is the element after the last one, which never exists", s)
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
	leaves   []int  // what ends here
	run      uint64 // the last scan that came by
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
