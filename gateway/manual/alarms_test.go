package manual

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/control"
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
	return regexp.MustCompile("(?m)^\\| `" + string(q) + "` \\| [^|]*\\|[^|]*\\| yes \\|").MatchString(source("config"))
}

// The topic has a heading for every alarm, and a word for every rule.
func TestEveryAlarmHasItsPlace(t *testing.T) {
	text := source("alarms")
	var heads strings.Builder
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "###") {
			heads.WriteString(line)
		}
	}
	headed, named := known(t)
	for _, mark := range headed {
		if !strings.Contains(heads.String(), "`"+mark+"`") {
			t.Errorf("alarms.md has no heading with `%s`", mark)
		}
	}
	for _, mark := range named {
		if !strings.Contains(text, "`"+mark+"`") && !(strings.HasSuffix(mark, "/") && strings.Contains(heads.String(), "`"+mark)) {
			t.Errorf("alarms.md says nothing of `%s`", mark)
		}
	}
	if len(headed) < 40 {
		t.Errorf("found %d kinds of alarm: too few to judge", len(headed))
	}
	known := strings.Join(headed, " ") + " "
	for _, m := range regexp.MustCompile("`\\.\\.\\./([a-z-]+)`").FindAllStringSubmatch(heads.String(), -1) {
		if !strings.Contains(known, ".../"+m[1]+" ") && m[1] != "unwatched" {
			t.Errorf("alarms.md has a heading of `.../%s`, which no alarm is called", m[1])
		}
	}
}

// examples are the sentences of a topic, each in a block of its own.
func examples(topic string) []string {
	var out []string
	for _, m := range regexp.MustCompile("(?s)```text\n(.*?)```").FindAllStringSubmatch(source(topic), -1) {
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
	all := examples("alarms")
	for _, s := range all {
		if !strings.Contains(told.String(), s) {
			t.Errorf("no scenario tells: %s", s)
		}
	}
	if len(all) < 50 {
		t.Errorf("found %d examples only", len(all))
	}
}
