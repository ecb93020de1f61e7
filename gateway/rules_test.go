package gateway_test

import (
	"bytes"
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
)

const module = "telltale"

// source is one file of the project that is no test.
type source struct {
	path  string // from the top of the checkout
	dir   string
	file  *ast.File
	lines int
}

// tree reads every Go file of the project that is no test.
func tree(t *testing.T) []source {
	t.Helper()
	var all []source
	fset := token.NewFileSet()
	top := os.DirFS("..")
	err := fs.WalkDir(top, ".", func(path string, d fs.DirEntry, err error) error {
		switch name := d.Name(); {
		case err != nil:
			return err
		case d.IsDir() && path != "." && (name == "testdata" || strings.HasPrefix(name, ".") || strings.HasPrefix(name, "_")):
			return fs.SkipDir
		case d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		text, err := fs.ReadFile(top, path)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(fset, path, text, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		all = append(all, source{path: path, dir: filepath.ToSlash(filepath.Dir(path)), file: f, lines: bytes.Count(text, []byte("\n"))})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 20 {
		t.Fatalf("found only %d files: too little to judge", len(all))
	}
	return all
}

func imports(f *ast.File) []string {
	var all []string
	for _, i := range f.Imports {
		path, _ := strconv.Unquote(i.Path.Value)
		all = append(all, path)
	}
	return all
}

// TestArrows holds the layout: cmd on top, then gateway, which ties the parts
// below it together; those know the core but not one another; the core knows
// none of them.
func TestArrows(t *testing.T) {
	for _, s := range tree(t) {
		for _, path := range imports(s.file) {
			own, isOwn := strings.CutPrefix(path, module+"/")
			if !isOwn {
				continue
			}
			layer, _, _ := strings.Cut(own, "/")
			switch from, _, _ := strings.Cut(s.dir, "/"); {
			case layer == "cmd":
				t.Errorf("%s imports %s: nothing imports a command", s.path, path)
			case from == "alarms" && layer != "alarms":
				t.Errorf("%s imports %s: the core knows nothing above it", s.path, path)
			case from == "gateway" && s.dir != "gateway" && layer != "alarms":
				t.Errorf("%s imports %s: a part of the gateway knows the core alone; "+
					"declare the small interface it needs and let package gateway tie them together", s.path, path)
			}
		}
	}
}

// forbidden everywhere, with the reason.
var forbidden = map[string]string{
	"github.com/rs/zerolog/log":                               "that is a global logger; the logger is passed in",
	"github.com/prometheus/client_golang/prometheus/promauto": "it registers on the default registry",
	"expvar":         "it registers itself on the default mux",
	"io/ioutil":      "os and io have it",
	"math/rand":      "math/rand/v2, with a source of one's own where it must repeat",
	"net/http/pprof": "it registers itself on the default mux",
	"unsafe":         "nothing here is worth it",
}

// selected are globals that other code can change or that end the process
// behind its owner's back.
var selected = map[string]string{
	"net/http.DefaultServeMux": "make a mux of your own",
	"net/http.Handle":          "make a mux of your own",
	"net/http.HandleFunc":      "make a mux of your own",
	"net/http.DefaultClient":   "make a client with a timeout",
	"net/http.Get":             "make a client with a timeout",
	"net/http.Post":            "make a client with a timeout",
	"net/http.ListenAndServe":  "make a server that can be shut down",
	"github.com/prometheus/client_golang/prometheus.DefaultRegisterer": "make a registry of your own",
	"github.com/prometheus/client_golang/prometheus.DefaultGatherer":   "make a registry of your own",
	"github.com/prometheus/client_golang/prometheus.MustRegister":      "make a registry of your own",
	"github.com/prometheus/client_golang/prometheus.Register":          "make a registry of your own",
	"os.Setenv": "the environment is no message channel",
}

// logs may be imported to give a library the kind of logger it wants, made by
// New from the logger that was passed in; nothing else of them may be used.
var logs = map[string][]string{
	"log":      {"New", "Logger"},
	"log/slog": {"New", "Logger", "Handler", "Record", "Attr", "Level", "LevelDebug", "LevelInfo", "LevelWarn", "LevelError", "HandlerOptions", "DiscardHandler"},
}

func TestNoGlobals(t *testing.T) {
	for _, s := range tree(t) {
		named := map[string]string{} // package name in the file -> path
		for _, i := range s.file.Imports {
			path, _ := strconv.Unquote(i.Path.Value)
			if why := forbidden[path]; why != "" {
				t.Errorf("%s imports %s: %s", s.path, path, why)
			}
			name := path[strings.LastIndexByte(path, '/')+1:]
			if i.Name != nil {
				name = i.Name.Name
			}
			named[name] = path
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if f, ok := n.(*ast.FuncDecl); ok && f.Name.Name == "init" && f.Recv == nil {
				t.Errorf("%s has an init function: nothing happens before it is asked for", s.path)
			}
			if sel, ok := n.(*ast.SelectorExpr); ok {
				if pkg, ok := sel.X.(*ast.Ident); ok && named[pkg.Name] != "" {
					if why := global(s, named[pkg.Name], sel.Sel.Name); why != "" {
						t.Errorf("%s uses %s.%s: %s", s.path, pkg.Name, sel.Sel.Name, why)
					}
				}
			}
			return true
		})
	}
}

// global says why name of the package at path must not be used in s.
func global(s source, path, name string) string {
	if some, ok := logs[path]; ok && !slices.Contains(some, name) {
		return "the logger is passed in"
	}
	if path == "os" && name == "Exit" && s.file.Name.Name != "main" {
		return "only main ends the process"
	}
	return selected[path+"."+name]
}

// TestPackageDocs wants one comment for each package that says what it
// promises, in one place.
func TestPackageDocs(t *testing.T) {
	docs := map[string][]string{}
	for _, s := range tree(t) {
		if _, ok := docs[s.dir]; !ok {
			docs[s.dir] = nil
		}
		if s.file.Doc == nil {
			continue
		}
		docs[s.dir] = append(docs[s.dir], s.path)
		start := "Package " + s.file.Name.Name + " "
		if s.file.Name.Name == "main" {
			start = "Command "
		}
		if text := s.file.Doc.Text(); !strings.HasPrefix(text, start) && s.file.Name.Name != "main" {
			t.Errorf("%s: want the package comment to begin with %q, got %q", s.path, start, firstLine(text))
		}
	}
	var dirs []string
	for dir := range docs {
		dirs = append(dirs, dir)
	}
	slices.Sort(dirs)
	for _, dir := range dirs {
		if n := len(docs[dir]); n != 1 {
			t.Errorf("%s: want one package comment, got %d: %v", dir, n, docs[dir])
		}
	}
}

func firstLine(s string) string {
	first, _, _ := strings.Cut(s, "\n")
	return first
}

// TestNamesSayWhatIsInside forbids packages named for being shared.
func TestNamesSayWhatIsInside(t *testing.T) {
	for _, s := range tree(t) {
		for _, part := range strings.Split(s.dir, "/") {
			switch part {
			case "utils", "util", "common", "models", "types", "pkg", "helpers", "misc", "base", "shared":
				t.Errorf("%s: a package is named for its one idea, not %q", s.path, part)
			}
		}
	}
}

// TestFilesAreSmall keeps files to what can be read at a sitting.
func TestFilesAreSmall(t *testing.T) {
	const most = 400
	for _, s := range tree(t) {
		if s.lines > most {
			t.Errorf("%s has %d lines, want at most %d: give the second idea in it a file of its own", s.path, s.lines, most)
		}
	}
}

// TestOnlyThePageTurnsSwitches: where a switch stands changes what is right, so nobody
// may say it whose name could be forged: no text message, no link in a mail, no topic
// of the broker. The page asks for a signed-in visitor who may act.
func TestOnlyThePageTurnsSwitches(t *testing.T) {
	allowed := map[string]string{"gateway/page/works.go": "a form of a visitor who may act"}
	found := map[string]bool{}
	for _, s := range tree(t) {
		if s.dir == "alarms" || strings.HasPrefix(s.dir, "alarms/") {
			continue // the core takes it, and scenarios play it
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok && sel.Sel.Name == "SetSelector" {
				found[s.path] = true
				if allowed[s.path] == "" {
					t.Errorf("%s says where a switch stands; only these may: %v", s.path, allowed)
				}
			}
			return true
		})
	}
	for path, why := range allowed {
		if !found[path] {
			t.Errorf("%s (%s) does not say where a switch stands any more: take it off the list", path, why)
		}
	}
	routes, err := os.ReadFile("page/routes.go")
	if err != nil || !bytes.Contains(routes, []byte(`rt.act("POST /selector", s.setSelector)`)) {
		t.Errorf("the form is not registered as one that acts: %v", err)
	}
}

// TestNamedTestsExist: DEVELOPERS.md says by which tests a promise is tried.
func TestNamedTestsExist(t *testing.T) {
	text, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	define := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz|Benchmark)\w+)\(`)
	err = filepath.WalkDir("..", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		code, err := os.ReadFile(path)
		for _, m := range define.FindAllSubmatch(code, -1) {
			there[string(m[1])] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile(`\b(?:Test|Fuzz|Benchmark)[A-Z]\w+`).FindAllString(string(text), -1)
	if len(named) < 20 {
		t.Errorf("DEVELOPERS.md names %d tests: too few to judge", len(named))
	}
	for _, name := range named {
		if !there[name] {
			t.Errorf("DEVELOPERS.md names %s, which is nowhere", name)
		}
	}
}
