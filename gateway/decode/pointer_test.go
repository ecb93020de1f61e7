package decode

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// The document and the pointers of RFC 6901, section 5.
const rfc6901Document = `{
	"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4,
	"i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8
}`

func TestPointersOfTheRFC(t *testing.T) {
	tests := []struct{ pointer, want string }{
		{``, rfc6901Document}, {`/foo`, `["bar", "baz"]`}, {`/foo/0`, `"bar"`}, {`/`, `0`}, {`/a~1b`, `1`},
		{`/c%d`, `2`}, {`/e^f`, `3`}, {`/g|h`, `4`}, {`/i\j`, `5`}, {`/k"l`, `6`}, {`/ `, `7`}, {`/m~0n`, `8`},
	}
	var all finder
	for i, tt := range tests {
		p, err := parsePointer(tt.pointer)
		if err != nil {
			t.Fatal(err)
		}
		all.tree.add(p, i)
	}
	all.found = make([]json.RawMessage, len(tests))
	all.scan([]byte(rfc6901Document))
	for i, tt := range tests {
		if got := string(all.found[i]); got != tt.want {
			t.Errorf("%q: got %s, want %s", tt.pointer, got, tt.want)
		}
	}
}

// Section 4: ~01 is ~1 and not a slash. Section 3: a tilde stands only before
// 0 or 1, a pointer starts with a slash.
func TestParsePointer(t *testing.T) {
	for _, tt := range []struct {
		in   string
		want pointer
	}{{"/~01", pointer{"~1"}}, {"/~10", pointer{"/0"}}, {"/a//b", pointer{"a", "", "b"}}, {"/é/0", pointer{"é", "0"}}} {
		if got, err := parsePointer(tt.in); err != nil || !slices.Equal(got, tt.want) {
			t.Errorf("%q: got %q, %v, want %q", tt.in, got, err, tt.want)
		}
	}
	for in, says := range map[string]string{
		"temperature": "starting with a slash", "/~": "~ as ~0", "/a~2": "~ as ~0", "/list/-": "never exists",
	} {
		if _, err := parsePointer(in); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: got %v, want an error with %q", in, err, says)
		}
	}
}

// Section 4: an index has no leading zeros and is not a name of an element
// otherwise; on an object the same token is a name.
func TestPointerIndices(t *testing.T) {
	tests := []struct{ doc, pointer, want string }{
		{`[10,11,12]`, "/1", "11"}, {`[10,11,12]`, "/01", ""}, {`[10,11,12]`, "/3", ""}, {`[10,11,12]`, "/+1", ""},
		{`{"01":5,"1":6}`, "/01", "5"}, {`{"01":5,"1":6}`, "/1", "6"}, {`[[1,2],[3,4]]`, "/1/0", "3"},
		{`[{"t":1},{"t":2}]`, "/1/t", "2"}, {`21.5`, "/0", ""}, {`21.5`, "", "21.5"}, {`"0"`, "/0", ""}, {`[]`, "/0", ""},
		{`[1,2]`, "/99999999999999999999", ""},
	}
	for _, tt := range tests {
		p, err := parsePointer(tt.pointer)
		if err != nil {
			t.Fatal(err)
		}
		f := finder{found: make([]json.RawMessage, 1)}
		f.tree.add(p, 0)
		f.scan([]byte(tt.doc))
		if got := string(f.found[0]); got != tt.want {
			t.Errorf("%s at %q: got %q, want %q", tt.doc, tt.pointer, got, tt.want)
		}
	}
}

// Of doubled keys the last one counts, whole: what an earlier one had below it
// is gone, as with encoding/json.
func TestLastOfDoubledKeysCounts(t *testing.T) {
	f := finder{found: make([]json.RawMessage, 2)}
	f.tree.add(pointer{"a", "b"}, 0)
	f.tree.add(pointer{"a"}, 1)
	for doc, want := range map[string][2]string{
		`{"a":{"b":1},"a":{"b":2}}`:           {"2", `{"b":2}`},
		`{"a":{"b":1},"a":{"c":2}}`:           {"", `{"c":2}`},
		`{"a":{"b":1,"b":3},"x":0}`:           {"3", `{"b":1,"b":3}`},
		`{"a":{"b":1},"a":7}`:                 {"", "7"},
		`{"a":{"b":1},"\u0061":{"\u0062":8}}`: {"8", `{"\u0062":8}`},
		`{}`:                                  {"", ""},
	} {
		if !json.Valid([]byte(doc)) {
			t.Fatalf("%s is not JSON", doc)
		}
		f.scan([]byte(doc))
		got := [2]string{string(f.found[0]), string(f.found[1])}
		if got != want {
			t.Errorf("%s: got %q, want %q", doc, got, want)
		}
	}
}
