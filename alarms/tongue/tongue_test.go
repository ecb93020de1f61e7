package tongue

import "testing"

func TestSay(t *testing.T) {
	const test Tongue = "x-test"
	tables[test] = []map[Text]string{{"%s since %s": "seit %[2]s: %[1]s"}, {"at|a time": "um", "at|a place": "an", "100 %": "hundert %"}}
	defer delete(tables, test)
	for _, c := range []struct {
		in   Tongue
		text Text
		args []any
		want string
	}{
		{English, "%s since %s", []any{"hot", "14:02"}, "hot since 14:02"},
		{test, "%s since %s", []any{"hot", "14:02"}, "seit 14:02: hot"},
		{English, "at|a time", nil, "at"},
		{test, "at|a time", nil, "um"},
		{test, "at|a place", nil, "an"},
		{test, "100 %", nil, "hundert %"},
		{test, "not in it", nil, "not in it"},
		{"fr", "%s since %s", []any{"hot", "14:02"}, "hot since 14:02"},
	} {
		if got := c.in.Say(c.text, c.args...); got != c.want {
			t.Errorf("%q in %q: got %q, want %q", c.text, c.in, got, c.want)
		}
	}
}
