package manual

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/tongue"
)

// constants returns the values of the text constants of a type of the core.
func constants(t *testing.T, file, typ string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), filepath.Join("../../alarms", file), nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	ast.Inspect(f, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if name, ok := v.Type.(*ast.Ident); ok && name.Name == typ && len(v.Values) == 1 {
			if lit, ok := v.Values[0].(*ast.BasicLit); ok {
				s, _ := strconv.Unquote(lit.Value)
				out = append(out, s)
			}
		}
		return true
	})
	if len(out) < 5 {
		t.Fatalf("found %d constants of %s in %s: too few to judge", len(out), typ, file)
	}
	return out
}

// known are the kinds of alarm that the core knows, by the mark that each must
// have in the topic.
func known(t *testing.T) (headed, named []string) {
	t.Helper()
	for _, id := range alarms.Troubles {
		headed = append(headed, string(id))
	}
	for k := range control.Kinds {
		headed = append(headed, ".../"+strings.ReplaceAll(k.String(), " ", "-"))
	}
	for _, f := range constants(t, "transition.go", "Fault") {
		if f != string(alarms.FaultStep) { // doubts one reading, and has no alarm
			headed = append(headed, ".../"+f)
		}
	}
	for _, one := range []alarms.LoopWhat{alarms.NoFlow, alarms.WetPipe, alarms.Declining} {
		headed = append(headed, ".../"+string(one))
	}
	headed = append(headed, "watch/broker/silent", "watch/restart")
	named = append(constants(t, "transition.go", "Rule"), string(alarms.FaultStep), string(alarms.LoopDepth), string(alarms.LoopSums))
	for _, q := range alarms.Quantities {
		if limited(q) {
			named = append(named, ".../"+string(q)+"/")
		}
	}
	return headed, named
}

// limited reports whether the topic of the config says that q takes limits.
func limited(q alarms.Quantity) bool {
	return regexp.MustCompile("(?m)^\\| `" + string(q) + "` \\| [^|]*\\|[^|]*\\| yes \\|").MatchString(English.source("config"))
}

// The topic has a heading for every alarm, and a word for every rule, in every language.
func TestEveryAlarmHasItsPlace(t *testing.T) {
	headed, named := known(t)
	if len(headed) < 40 {
		t.Errorf("found %d kinds of alarm: too few to judge", len(headed))
	}
	known := strings.Join(headed, " ") + " "
	for _, in := range tongue.Tongues() {
		text, heads := In(in).source("alarms"), strings.Join(headings(In(in)), "\n")
		for _, mark := range headed {
			if !strings.Contains(heads, "`"+mark+"`") {
				t.Errorf("alarms.md in %s has no heading with `%s`", in.Name(), mark)
			}
		}
		for _, mark := range named {
			if !strings.Contains(text, "`"+mark+"`") && !(strings.HasSuffix(mark, "/") && strings.Contains(heads, "`"+mark)) {
				t.Errorf("alarms.md in %s says nothing of `%s`", in.Name(), mark)
			}
		}
		for _, m := range regexp.MustCompile("`\\.\\.\\./([a-z-]+)`").FindAllStringSubmatch(heads, -1) {
			if !strings.Contains(known, ".../"+m[1]+" ") && m[1] != "unwatched" {
				t.Errorf("alarms.md in %s has a heading of `.../%s`, which no alarm is called", in.Name(), m[1])
			}
		}
	}
}

// headings are those of the topic that name alarms.
func headings(in In) (all []string) {
	for line := range strings.Lines(in.source("alarms")) {
		if strings.HasPrefix(line, "###") {
			all = append(all, line)
		}
	}
	return all
}

// In every language the topic is the same: each heading has the same alarms, each part as
// many paragraphs, points and examples, and each says the same keys of the config.
func TestTheTopicIsWholeInEveryLanguage(t *testing.T) {
	quoted := regexp.MustCompile("`[^`]+`")
	shape := func(in In) (all []string) {
		for _, part := range strings.Split(in.source("alarms"), "\n#")[1:] {
			head, rest, _ := strings.Cut(part, "\n")
			level, _, _ := strings.Cut(head, " ")
			said := quoted.FindAllString(strings.ReplaceAll(part, "```", ""), -1)
			slices.Sort(said)
			all = append(all, fmt.Sprintf("%s %q, %d points, %d examples, %d rows, %q", level, quoted.FindAllString(head, -1), strings.Count(rest, "\n- "),
				strings.Count(rest, "```text"), strings.Count(rest, "\n| "), slices.Compact(said)))
		}
		return all
	}
	want := shape(English)
	for _, in := range tongue.Tongues() {
		if In(in) != English && In(in).source("alarms") == English.source("alarms") {
			t.Errorf("there is no alarms.md in %s", in.Name())
		}
		got := shape(In(in))
		if len(got) != len(want) {
			t.Errorf("%s: %d parts, want %d", in.Name(), len(got), len(want))
		}
		for i := range min(len(got), len(want)) {
			if got[i] != want[i] {
				t.Errorf("%s:\ngot  %s\nwant %s", in.Name(), got[i], want[i])
			}
		}
	}
}

// examples are the sentences of a topic, each in a block of its own.
func examples(in In, topic string) []string {
	var out []string
	for _, m := range regexp.MustCompile("(?s)```text\n(.*?)```").FindAllStringSubmatch(in.source(topic), -1) {
		out = append(out, strings.Join(strings.Fields(m[1]), " "))
	}
	return out
}

// Each example is told, word for word, in a scenario.
func TestExamplesAreTold(t *testing.T) {
	var told strings.Builder
	names, err := fs.Glob(os.DirFS("../../testdata/scenario"), "*.txt")
	if err != nil || len(names) < 25 {
		t.Fatalf("found %d scenarios (%v)", len(names), err)
	}
	for _, n := range names {
		b, err := os.ReadFile(filepath.Join("../../testdata/scenario", n))
		if err != nil {
			t.Fatal(err)
		}
		told.WriteString(strings.ReplaceAll(string(b), `\"`, `"`))
	}
	all := examples(English, "alarms")
	for _, s := range all {
		if !strings.Contains(told.String(), s) {
			t.Errorf("no scenario tells: %s", s)
		}
	}
	if len(all) < 50 {
		t.Errorf("found %d examples only", len(all))
	}
}
