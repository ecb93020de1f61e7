package tongue

import (
	"errors"
	"testing"
)

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

// What is filled in is said in the language of the whole, however deep it is.
func TestSaying(t *testing.T) {
	const test Tongue = "x-test"
	tables[test] = []map[Text]string{{"got %s": "da ist %s", "a list": "eine Liste", "%s or %s": "%s oder %s", "none|of it": "keine"}}
	defer delete(tables, test)
	for _, c := range []struct {
		says          Saying
		english, test string
	}{
		{Put("got %s", Text("a list")), "got a list", "da ist eine Liste"},
		{Put("got %s", Put("%s or %s", Bare("a|b"), Text("none|of it"))), "got a|b or none", "da ist a|b oder keine"},
		{Saying{Args: []any{"high: ", Put("got %s", "7.5")}}, "high: got 7.5", "high: da ist 7.5"},
		{Bare("100 %d"), "100 %d", "100 %d"},
		{Saying{}, "", ""},
	} {
		if got := c.says.Error(); got != c.english {
			t.Errorf("%+v: got %q, want %q", c.says, got, c.english)
		}
		if got := c.says.In(test); got != c.test {
			t.Errorf("%+v: got %q, want %q", c.says, got, c.test)
		}
	}
	why := errors.New("it failed")
	err := Put("got %s", "it").Of(why)
	if said, ok := errors.AsType[Saying](err); !ok || said.In(test) != "da ist it" || !errors.Is(err, why) || err.Error() != "got it" {
		t.Errorf("got %v: %v, %v", err, said, ok)
	}
}
