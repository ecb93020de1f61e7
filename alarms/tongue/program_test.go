package tongue_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/constant"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// spoken are the packages whose words people read in their own language: what they
// say is a tongue.Text. Left in English is what is said to whoever looks after the
// program: errors that no page shows, the log, the command line.
var spoken = map[string]bool{
	"alarms/say":             true,
	"gateway/config":         true,
	"gateway/config/forms":   true,
	"gateway":                true,
	"gateway/drill":          true,
	"gateway/entry":          true,
	"gateway/page":           true,
	"gateway/page/answer":    true,
	"gateway/page/door":      true,
	"gateway/page/draw":      true,
	"gateway/page/lookback":  true,
	"gateway/page/passwords": true,
	"gateway/page/reports":   true,
	"gateway/page/service":   true,
	"gateway/page/words":     true,
	"gateway/reach":          true,
	"gateway/topic":          true,
}

// untold are strings with words, of the packages above, that are nothing that is
// said; each with why.
var untold = map[string]string{
	"what is behind a cover at mains is for a licensed electrician": "the end of several of what to check first, which are whole in the tables",
	"stood still":                           "a note of the core that is compared with",
	"nobody was named when this was set up": "stands in the config",
	"\n[nobody-told]\nbecause = \"it is only read\"\n[house.house]\nday-from = \"06:00\"\nday-to = \"18:00\"\n[house.house.place.place]\ncrop = %q\n[probe.probe]\nplace = \"house/place\"\ntopic = \"probe\"\nform = \"json\"\ntemperature = { from = \"/t\" }\nhumidity = { from = \"/h\" }\n": "a config",
	"first watch": "a key", "companion heard": "a key",
	"the service manager could not be told": inTheLog,
	"by text message":                       "is kept, and said by package say",
	"somebody at the page":                  "is kept, and said by package say",

	"the message was delivered":                                                    inTheLog,
	"the message was rehearsed and not sent":                                       inTheLog,
	"the message was refused and is not tried again":                               inTheLog,
	"the message could not be delivered and is given up":                           inTheLog,
	"the message waits: too many came at once":                                     inTheLog,
	"the message was cut short, because the watch stops":                           inTheLog,
	"the message was not delivered and is tried again":                             inTheLog,
	"The half hour for it is over.":                                                inTheLog,
	"Five wrong codes were given.":                                                 inTheLog,
	"record attempts in":                                                           inTheLog,
	"; it said %q":                                                                 anError,
	"given up after trying for %s (%d times): %v":                                  anError,
	"refused %d times, and nothing ever arrived there: %s":                         anError,
	"held for another %s: %s":                                                      anError,
	"several messages went to ":                                                    anError,
	" just now; what is new will come together in one":                             anError,
	"the webhook at %s answered %d %s":                                             anError,
	"the push service at %s answered %d %s":                                        anError,
	" and asked to wait":                                                           anError,
	"the watch was stopped before an answer came; it is told after the next start": anError,
	"worked out from ":                                                             ofPlan, " (from memory)": ofPlan, "set in the configuration": ofPlan,
	"set in the configuration, outside the crop's band: ": ofPlan, "changed in the configuration; before that, ": ofPlan,
	"not known": stateName, "the season": stateName, "not called": stateName,
	"days, nights and seasons": inTheLog, "the drives": inTheLog, "where the history begins": inTheLog, "the alarms": inTheLog,
	"the page has a certificate from two sides":                                 ofConfig,
	"the page has no watch to show":                                             ofConfig,
	"the page's certificate and key files must be given both or not at all":     ofConfig,
	"the page's host names must be plain names like garden.example.org, got %q": ofConfig,
	"%q has neither a password nor a token":                                     ofConfig,
	"%q has both a password and a password hash: give one of them":              ofConfig,
	"%q may %q; it must be %q, %q or %q":                                        ofConfig,
	"%q is there twice":                                                         ofConfig,
	"its name must be small letters without colon and space, got %q":            ofConfig,
	"there are accounts and one password for everybody: keep one of the two":    ofConfig,
	"the configuration was not written":                                         anError,
	"the watch stands still\n":                                                  "a supervisor reads it",
	"no account:":                                                               "a key",
	"Basic realm=\"telltale\", charset=\"UTF-8\"":                               "a header of HTTP",
	"Bearer realm=\"telltale\"":                                                 "a header of HTTP",
	"public, max-age=31536000, immutable":                                       "a header of HTTP",
	"\"use strict\";\nconst words = %s;\n%s":                                    "a script",
}

const (
	inTheLog  = "stands in the log"
	anError   = "is part of an error"
	stateName = "the name of a state"
	ofConfig  = "an error of the configuration"
	ofPlan    = "says where a figure of the plan comes from, as citations do"
)

// forPrograms are files that write what programs read, in English everywhere.
var forPrograms = []string{"reports/report_csv.go", "reports/download_form.go"}

// said is what the program says, by where it is said.
type said struct {
	texts  map[string]token.Position            // every Text outside of the tables
	tables map[string]map[string]token.Position // by the name of the variable: English
	other  map[string]string                    // English to the other language, of all tables
	plain  map[string]token.Position            // strings with words in what is spoken, that are no Text
}

// TestEverySentenceIsInEveryLanguage holds the tables of package tongue to what the
// program says. With one language besides English, every table is of that one.
func TestEverySentenceIsInEveryLanguage(t *testing.T) {
	s := sayings(t)
	where := map[string]string{}
	for table, keys := range s.tables {
		for text, at := range keys {
			if first := where[text]; first != "" {
				t.Errorf("%s: %q is in %s too: want it in one table", at, text, first)
			}
			where[text] = table
			if _, used := s.texts[text]; !used {
				t.Errorf("%s: nobody says %q any more: take it out", at, text)
			}
			if got, want := verbs(s.other[text]), verbs(text); !slices.Equal(got, want) {
				t.Errorf("%s: %q has the verbs %q, and in English %q: want the same", at, s.other[text], got, want)
			}
		}
	}
	for text, at := range s.texts {
		if where[text] == "" && text != "" {
			t.Errorf("%s: %q is in no table of package tongue", at, text)
		}
	}
	for text, at := range s.plain {
		if untold[text] == "" {
			t.Errorf("%s: %q reads as if somebody were told it: make it a tongue.Text, or say above why not", at, text)
		}
	}
	for text := range untold {
		if _, there := s.plain[text]; !there {
			t.Errorf("%q is not there any more: take it off the list", text)
		}
	}
}

var verb = regexp.MustCompile(`%[-+#0]*(\[\d+\])?[\d.*]*([a-zA-Z%])`)

// verbs are those of a format, by the number of what is filled in: "1s", "2.1f".
func verbs(format string) (all []string) {
	n := 0
	for _, m := range verb.FindAllStringSubmatch(format, -1) {
		switch {
		case m[2] == "%":
			continue
		case m[1] != "":
			n = int(m[1][1] - '0')
		default:
			n++
		}
		all = append(all, string(rune('0'+n))+m[2])
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// listed is what `go list` says of a package.
type listed struct {
	ImportPath, Dir, Export string
	GoFiles                 []string
	Standard                bool
}

func sayings(t *testing.T) said {
	t.Helper()
	list := exec.Command("go", "list", "-export", "-deps", "-json=ImportPath,Dir,Export,GoFiles,Standard", "telltale/...")
	out, err := list.Output()
	if err != nil {
		t.Fatalf("%v: %v", list, err)
	}
	exports, own := map[string]string{}, []listed{}
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		exports[p.ImportPath] = p.Export
		if strings.HasPrefix(p.ImportPath, "telltale/") {
			own = append(own, p)
		}
	}
	fset := token.NewFileSet()
	from := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })
	s := said{map[string]token.Position{}, map[string]map[string]token.Position{}, map[string]string{}, map[string]token.Position{}}
	for _, p := range own {
		s.read(t, fset, from, p)
	}
	s.readTemplates(t)
	return s
}

// read takes what a package says.
func (s *said) read(t *testing.T, fset *token.FileSet, from types.Importer, p listed) {
	t.Helper()
	var files []*ast.File
	for _, name := range p.GoFiles {
		f, err := parser.ParseFile(fset, filepath.Join(p.Dir, name), nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}
	conf := types.Config{Importer: from}
	if _, err := conf.Check(p.ImportPath, fset, files, info); err != nil {
		t.Fatal(err)
	}
	v := sayer{said: s, fset: fset, info: info, spoken: spoken[strings.TrimPrefix(p.ImportPath, "telltale/")]}
	for _, f := range files {
		ast.Inspect(f, v.look)
	}
}

type sayer struct {
	*said
	fset   *token.FileSet
	info   *types.Info
	spoken bool
}

var sounds = regexp.MustCompile(`[A-Za-z]{2,},? [a-z]{2,}`)

// look takes one thing of a file; it does not look into what it has taken whole.
func (v sayer) look(n ast.Node) bool {
	switch x := n.(type) {
	case *ast.ValueSpec:
		for i, value := range x.Values {
			if lit, ok := value.(*ast.CompositeLit); ok && v.isTable(lit) {
				v.table(x.Names[i].Name, lit)
				return false
			}
		}
	case *ast.ImportSpec, *ast.StructType:
		return false
	case *ast.CallExpr:
		return !technical(x)
	case ast.Expr:
		tv := v.info.Types[x]
		if tv.Value == nil || tv.Value.Kind() != constant.String {
			return true
		}
		text, at := constant.StringVal(tv.Value), v.fset.Position(x.Pos())
		switch {
		case isText(tv.Type):
			v.texts[text] = at
		case v.spoken && sounds.MatchString(text) && !slices.ContainsFunc(forPrograms, func(f string) bool { return strings.HasSuffix(at.Filename, f) }):
			v.plain[text] = at
		}
		return false
	}
	return true
}

// technical is whether a call makes an error or a line of the log.
func technical(call *ast.CallExpr) bool {
	f, ok := call.Fun.(*ast.SelectorExpr)
	if !ok {
		id, ok := call.Fun.(*ast.Ident)
		return ok && (id.Name == "panic" || id.Name == "Errorf" || id.Name == "refuse" || id.Name == "deny") // the latter make errors of telling
	}
	of, _ := f.X.(*ast.Ident)
	switch f.Sel.Name {
	case "Msg", "Msgf", "MustCompile":
		return true
	case "Errorf":
		return of != nil && (of.Name == "fmt" || of.Name == "answer") // of package answer it is for programs
	case "New":
		return of != nil && of.Name == "errors"
	}
	return false
}

func isText(t types.Type) bool {
	named, ok := t.(*types.Named)
	return ok && named.Obj().Name() == "Text" && named.Obj().Pkg() != nil && named.Obj().Pkg().Path() == "telltale/alarms/tongue"
}

func (v sayer) isTable(lit *ast.CompositeLit) bool {
	m, ok := v.info.Types[lit].Type.(*types.Map)
	if !ok || !isText(m.Key()) {
		return false
	}
	b, ok := m.Elem().(*types.Basic)
	return ok && b.Kind() == types.String
}

func (v sayer) table(name string, lit *ast.CompositeLit) {
	keys := map[string]token.Position{}
	for _, e := range lit.Elts {
		pair := e.(*ast.KeyValueExpr)
		english := constant.StringVal(v.info.Types[pair.Key].Value)
		keys[english] = v.fset.Position(pair.Pos())
		v.other[english] = constant.StringVal(v.info.Types[pair.Value].Value)
	}
	v.tables[name] = maps.Clone(keys)
}
