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

// source is one Go file of the project.
type source struct {
	path  string // from the top of the checkout
	dir   string
	file  *ast.File
	lines int
	test  bool
}

// tree reads every Go file of the project that is no test.
func tree(t *testing.T) []source {
	t.Helper()
	return slices.DeleteFunc(everyFile(t), func(s source) bool { return s.test })
}

// everyFile reads every Go file of the project.
func everyFile(t *testing.T) []source {
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
		case d.IsDir() || !strings.HasSuffix(name, ".go"):
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
		all = append(all, source{path: path, dir: filepath.ToSlash(filepath.Dir(path)), file: f, lines: bytes.Count(text, []byte("\n")), test: strings.HasSuffix(path, "_test.go")})
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

// sideways are the only arrows from one part of the gateway, or one room of a
// part, to another, with the reason.
var sideways = map[string]string{
	"gateway/store/copies gateway/store": "it is a part of the store, and copies it as only the store knows how",

	"gateway/store gateway/reach":       "what is to be told is plain data, and kept as it was made",
	"gateway/past gateway/page/service": "it answers what the page asks of the watch",
	"gateway/past gateway/store":        "the past is what the store holds",

	"gateway/config gateway/topic":              "topic is a leaf, the rules of MQTT and nothing else: what config calls a filter the broker takes",
	"gateway/decode gateway/topic":              "topic is a leaf: a payload goes to whom the broker's own rules of matching send it",
	"gateway/companion gateway/topic":           "topic is a leaf: which topics are a watch's own is said there",
	"gateway/link gateway/topic":                "topic is a leaf: rights and subscriptions go by the same rules as the config",
	"gateway/reach gateway/topic":               "topic is a leaf: what may begin the topics of followers is said there, for config to ask too",
	"gateway/config gateway/page/service":       "the form of a house is plain data: what the file says is what the page draws",
	"gateway/config/edit gateway/config":        "it is a part of the config, and asks whether the watch could run with what it wrote",
	"gateway/config/edit gateway/decode":        "how a probe is read is plain data",
	"gateway/config/forms gateway/config":       "it is a part of the config: what is wrong is said by the config's own check",
	"gateway/config/forms gateway/config/edit":  "likewise: it changes the file as edit does",
	"gateway/config/forms gateway/manual":       "a leaf: what a key says is said there, once",
	"gateway/page gateway/config/forms":         "a form is plain data: what it asks is shown as it says",
	"gateway/config gateway/page/passwords":     "passwords is a leaf: what the page takes for a password or a hash is said there, for config to ask too",
	"gateway/config gateway/decode":             "decode is pure, without clock, file or network: what it can read is what config calls good, in its words",
	"gateway/config/forms gateway/page/service": "likewise: how a house would be drawn with what a form says",

	"gateway/config gateway/loopback": "loopback is a leaf: what the parts take for this machine, config takes for it too",
	"gateway/link gateway/loopback":   "loopback is a leaf, and says it once",
	"gateway/page gateway/loopback":   "loopback is a leaf, and says it once",
	"gateway/reach gateway/loopback":  "loopback is a leaf, and says it once",

	"gateway/page gateway/decode":      "decode is pure: how a payload may be read is offered as decode says it",
	"gateway/entry gateway/page/words": "the language of a visitor is found in one way",
	"gateway/metrics gateway/modem":    "how the modem is is plain data, and counted as it is",
	"gateway/page gateway/modem":       "how the modem is is plain data, and shown as it is",
	"gateway/page gateway/manual":      "a leaf: the texts of Help are the same as on the terminal",

	"gateway/page/draw gateway/page/words":       "a drawing has words in it, and says in words what it shows",
	"gateway/page/draw gateway/page/service":     "what is drawn of the past has the shape in which the watch gives it",
	"gateway/page/scenes gateway/page/service":   "the garden of the tests has forms of houses",
	"gateway/page/reports gateway/page/words":    "a report is in the words of the page",
	"gateway/page/reports gateway/page/draw":     "its drawings know how wide a text is",
	"gateway/page/reports gateway/page/service":  "it asks the watch like the page does",
	"gateway/page/api gateway/page/answer":       "what goes wrong is told in the form of every answer",
	"gateway/page/api gateway/page/door":         "the door knows whose request it is",
	"gateway/page/api gateway/page/service":      "it asks the watch like the page does",
	"gateway/page/api gateway/page/words":        "sentences in °C are chosen where all are",
	"gateway/page/lookback gateway/page/draw":    "it puts its strips together of what is drawn there",
	"gateway/page/lookback gateway/page/service": "it asks the watch like the page does",
	"gateway/page/lookback gateway/page/words":   "it says in words what it shows",
	"gateway/page/door gateway/loopback":         "loopback is a leaf, and says it once",
	"gateway/page/door gateway/page/answer":      "who is kept out is told why in the form of every answer",
	"gateway/page/door gateway/page/passwords":   "what a password must be is said there",
}

// offline ties parts together beside package gateway, for commands.
const offline = "gateway/offline"

// TestArrows holds the layout: cmd on top, then gateway, and gateway/offline beside
// it, which tie the parts below together and do not know each other; parts know the
// core and the rooms of their own but not one another, and rooms know neither each
// other nor their part; the core knows none of them.
func TestArrows(t *testing.T) {
	used := map[string]bool{}
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
			case from == "gateway" && (own == offline || own == "gateway"):
				t.Errorf("%s imports %s: only commands start what ties the parts together", s.path, path)
			case s.dir == offline:
			case sideways[s.dir+" "+own] != "":
				used[s.dir+" "+own] = true
			case strings.HasPrefix(own, s.dir+"/"): // a room of its own
			case from == "gateway" && s.dir != "gateway" && layer != "alarms":
				t.Errorf("%s imports %s: a part of the gateway knows the core alone; "+
					"declare the small interface it needs and let package gateway tie them together", s.path, path)
			}
		}
	}
	for arrow, why := range sideways {
		if !used[arrow] {
			t.Errorf("there is no arrow %q (%s) any more: take it off the list", arrow, why)
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

// large is what is still beyond the bounds of TestPackagesAndReceiversAreSmall.
// A figure here may only fall, and goes when it is within them.
var large = map[string]int{}

// TestPackagesAndReceiversAreSmall: a package is read as a whole, and so is what
// hangs on one receiver.
func TestPackagesAndReceiversAreSmall(t *testing.T) {
	const mostFiles, mostMethods = 40, 60
	files, methods := map[string]int{}, map[string]int{}
	for _, s := range tree(t) {
		files[s.dir]++
		for _, d := range s.file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && f.Recv != nil {
				methods[s.dir+"."+receiver(f)]++
			}
		}
	}
	seen := map[string]bool{}
	judge := func(what string, n, most int, unit string) {
		seen[what] = true
		switch known := large[what]; {
		case n > max(most, known):
			t.Errorf("%s has %d %s, want at most %d: give the second idea in it a home of its own", what, n, unit, max(most, known))
		case known > 0 && n <= most:
			t.Errorf("%s has %d %s, which is small: take it off the list", what, n, unit)
		case n < known:
			t.Errorf("%s has %d %s: write that in place of %d", what, n, unit, known)
		}
	}
	for dir, n := range files {
		judge(dir, n, mostFiles, "files")
	}
	for on, n := range methods {
		judge(on, n, mostMethods, "methods")
	}
	for what := range large {
		if !seen[what] {
			t.Errorf("%s is not there any more: take it off the list", what)
		}
	}
}

// TestOnlyThePageTurnsSwitches: where a switch stands changes what is right, so nobody
// may say it whose name could be forged: no text message, no link in a mail, no topic
// of the broker. The page asks for a signed-in visitor who may act.
func TestOnlyThePageTurnsSwitches(t *testing.T) {
	allowed := map[string]string{"gateway/page/control.go": "a form of a visitor who may act"}
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
	if err != nil || !bytes.Contains(routes, []byte(`rt.act("POST /selector", acts{s}.setSelector)`)) {
		t.Errorf("the form is not registered as one that acts: %v", err)
	}
}

// TestNamedTestsExist: these texts say by which tests a promise is tried.
func TestNamedTestsExist(t *testing.T) {
	var text []byte
	for _, name := range []string{"../DEVELOPERS.md", "threats.md", "trials/results.md"} {
		part, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		text = append(text, part...)
	}
	there := map[string]bool{}
	define := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz|Benchmark)\w+)\(`)
	err := filepath.WalkDir("..", func(path string, _ fs.DirEntry, err error) error {
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
		t.Errorf("they name %d tests: too few to judge", len(named))
	}
	for _, name := range named {
		if !there[name] {
			t.Errorf("a test that is named, %s, is nowhere", name)
		}
	}
}
