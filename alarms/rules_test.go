package alarms_test

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

const module = "telltale"

// pure lists what the core and its sub-packages may import. All of it is
// computing alone. A new entry must neither read a clock nor reach anything
// outside of the process.
var pure = map[string]bool{
	"bytes": true, "cmp": true, "container/heap": true, "encoding/binary": true, "encoding/json": true, "errors": true, "fmt": true, "hash/fnv": true,
	"iter": true, "maps": true, "math": true, "math/bits": true, "slices": true, "sort": true, "strconv": true, "strings": true,
	"time": true, "unicode": true, "unicode/utf8": true,
}

// impure says why the likeliest of the others are wrong here.
var impure = map[string]string{
	"context":       "what never waits needs no cancelling",
	"crypto/rand":   "the same inputs must give the same transitions",
	"database/sql":  "saving is the gateway's work, before it tells anybody",
	"io/fs":         "the caller reads files and hands over text",
	"log":           "what is worth telling is a transition",
	"log/slog":      "what is worth telling is a transition",
	"math/rand":     "the same inputs must give the same transitions",
	"math/rand/v2":  "the same inputs must give the same transitions",
	"net":           "the core talks to nobody",
	"net/http":      "the core talks to nobody",
	"os":            "the core knows no machine",
	"path/filepath": "the core knows no machine",
	"reflect":       "rules are written out",
	"runtime":       "the core knows no machine",
	"sync":          "one goroutine owns the core",
	"sync/atomic":   "one goroutine owns the core",
	"unsafe":        "nothing here is worth it",
}

// inside says which of the project's own packages each package of the core
// may import. Never sideways, never back.
var inside = map[string][]string{
	"alarms":            {"alarms/control", "alarms/infer", "alarms/sun", "alarms/exposure", "alarms/ground", "alarms/localtime", "alarms/outlook", "alarms/tongue", "alarms/walk"},
	"alarms/engine":     {"alarms", "alarms/ahead", "alarms/air", "alarms/control", "alarms/exposure", "alarms/ground", "alarms/leave", "alarms/lifecycle", "alarms/localtime", "alarms/loop", "alarms/thermostat", "alarms/timing"},
	"alarms/thermostat": {"alarms", "alarms/control", "alarms/infer", "alarms/lifecycle", "alarms/localtime", "alarms/timing", "alarms/walk"},
	"alarms/ahead":      {"alarms", "alarms/dayahead", "alarms/drift", "alarms/lifecycle", "alarms/outlook", "alarms/tape", "alarms/thermal", "alarms/timing"},
	"alarms/loop":       {"alarms", "alarms/ground", "alarms/lifecycle", "alarms/timing"},
	"alarms/leave":      {"alarms", "alarms/lifecycle", "alarms/timing", "alarms/walk"},
	"alarms/lifecycle":  {"alarms", "alarms/timing"},
	"alarms/timing":     nil,
	"alarms/localtime":  nil,
	"alarms/air":        nil,
	"alarms/sun":        nil,
	"alarms/crop":       {"alarms/tongue"},
	"alarms/exposure":   nil,
	"alarms/ground":     {"alarms/air"},
	"alarms/control":    {"alarms/timing"},
	"alarms/infer":      {"alarms/control"},
	"alarms/outlook":    {"alarms/sun", "alarms/tape"},
	"alarms/tape":       nil,
	"alarms/drift":      {"alarms/tape"},
	"alarms/thermal":    {"alarms/sun", "alarms/tape"},
	"alarms/dayahead":   {"alarms/localtime", "alarms/sun", "alarms/tape"},
	"alarms/report":     {"alarms", "alarms/ground", "alarms/walk"},
	"alarms/companion":  {"alarms"},
	"alarms/score":      {"alarms", "alarms/dayahead", "alarms/infer", "alarms/localtime", "alarms/outlook"},
	"alarms/say":        {"alarms", "alarms/control", "alarms/infer", "alarms/ground", "alarms/outlook", "alarms/tongue", "alarms/walk"},
	"alarms/scenario":   {"alarms", "alarms/engine", "alarms/say", "alarms/walk"},
	"alarms/tongue":     nil,
	"alarms/walk":       nil,
}

func TestImportsArePure(t *testing.T) {
	for dir, files := range core(t) {
		allowed, known := inside[dir]
		if !known {
			t.Errorf("%s: say in the table above which of our packages it may import", dir)
		}
		own, used := map[string]bool{}, map[string]bool{}
		for _, a := range allowed {
			own[module+"/"+a] = true
		}
		for name, f := range files {
			for _, imp := range f.Imports {
				path, _ := strconv.Unquote(imp.Path.Value)
				used[path] = true
				switch why, bad := impure[path]; {
				case pure[path], own[path]:
				case bad:
					t.Errorf("%s imports %q: %s", name, path, why)
				case strings.HasPrefix(path, module+"/"):
					t.Errorf("%s imports %q: want only %v of our own, so that arrows point one way", name, path, allowed)
				default:
					t.Errorf("%s imports %q, which is not on the list of pure packages", name, path)
				}
			}
		}
		for path := range own {
			if !used[path] {
				t.Errorf("%s does not import %s any more: take it off the table", dir, path)
			}
		}
	}
	for dir := range inside {
		if core(t)[dir] == nil {
			t.Errorf("%s is not there any more: take it off the table", dir)
		}
	}
}

// calls that read a clock, wait, or reach the outside through a pure package.
var calls = map[string]string{
	"time.Now":          "time comes in with each input",
	"time.Since":        "time comes in with each input",
	"time.Until":        "time comes in with each input",
	"time.Sleep":        "the core never waits",
	"time.After":        "the core never waits",
	"time.AfterFunc":    "the core never waits",
	"time.Tick":         "ticks come in as inputs",
	"time.NewTimer":     "deadlines are data",
	"time.NewTicker":    "deadlines are data",
	"time.LoadLocation": "it reads files; the plan brings its zones",
	"time.Local":        "the machine's zone is not the house's",
	"fmt.Print":         "the core returns what it has to say",
	"fmt.Printf":        "the core returns what it has to say",
	"fmt.Println":       "the core returns what it has to say",
	"fmt.Scan":          "the core reads nothing",
	"fmt.Scanln":        "the core reads nothing",
	"fmt.Scanf":         "the core reads nothing",
}

func TestNoClockNoGoroutines(t *testing.T) {
	for _, files := range core(t) {
		for _, f := range files {
			ast.Inspect(f, func(n ast.Node) bool {
				if what := impurity(n); what != "" {
					t.Errorf("%s: %s", fset.Position(n.Pos()), what)
				}
				return true
			})
		}
	}
}

// impurity says what is wrong with n, or nothing.
func impurity(n ast.Node) string {
	switch n := n.(type) {
	case *ast.GoStmt:
		return "starts a goroutine: one goroutine owns the core"
	case *ast.SelectStmt:
		return "selects: the core never waits"
	case *ast.ChanType, *ast.SendStmt:
		return "uses a channel: results are returned"
	case *ast.UnaryExpr:
		if n.Op == token.ARROW {
			return "receives from a channel: inputs come through Step"
		}
	case *ast.FuncDecl:
		if n.Name.Name == "init" && n.Recv == nil {
			return "has an init function: nothing happens before it is asked for"
		}
	case *ast.SelectorExpr:
		if pkg, ok := n.X.(*ast.Ident); ok {
			if why, bad := calls[pkg.Name+"."+n.Sel.Name]; bad {
				return fmt.Sprintf("uses %s.%s: %s", pkg.Name, n.Sel.Name, why)
			}
		}
	case *ast.RangeStmt:
		if call, ok := n.X.(*ast.CallExpr); ok {
			if sel, ok := call.Fun.(*ast.SelectorExpr); ok {
				if pkg, ok := sel.X.(*ast.Ident); ok && pkg.Name == "maps" {
					return "ranges over maps." + sel.Sel.Name + " in the order of the map: sort first"
				}
			}
		}
	}
	return ""
}

// TestNoMapOrder finds every range over a map, whose order differs from run to
// run, unless each round only assigns. Types from outside the project are left unknown, which does no harm.
func TestNoMapOrder(t *testing.T) {
	files := core(t)
	checked := map[string]*types.Package{}
	for dir := range files {
		info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}
		if _, err := typeCheck(dir, files, checked, info); err != nil {
			t.Fatal(err)
		}
		found := 0
		for _, f := range files[dir] {
			ast.Inspect(f, func(n ast.Node) bool {
				loop, ok := n.(*ast.RangeStmt)
				if !ok {
					return true
				}
				of := info.Types[loop.X].Type
				if of == nil {
					return true
				}
				found++
				if _, bad := of.Underlying().(*types.Map); bad && !copies(loop) {
					t.Errorf("%s: ranges over a map: go over a slice, or sort its keys", fset.Position(n.Pos()))
				}
				return true
			})
		}
		if dir == "alarms/engine" && found < 20 {
			t.Errorf("%s: only %d loops with a known type: this test sees nothing", dir, found)
		}
	}
}

// copies reports whether each round of a loop only assigns, so that the order
// of the rounds does not matter.
func copies(loop *ast.RangeStmt) bool {
	plain := true
	for _, st := range loop.Body.List {
		assign, ok := st.(*ast.AssignStmt)
		plain = plain && ok && assign.Tok == token.ASSIGN
	}
	ast.Inspect(loop.Body, func(n ast.Node) bool {
		_, call := n.(*ast.CallExpr)
		plain = plain && !call
		return plain
	})
	return plain
}

// typeCheck checks dir with what it imports of the core; info may be nil.
func typeCheck(dir string, all map[string]map[string]*ast.File, done map[string]*types.Package, info *types.Info) (*types.Package, error) {
	if p := done[dir]; p != nil && info == nil {
		return p, nil
	}
	conf := types.Config{
		Error: func(error) {}, // of what was left unknown
		Importer: importer(func(path string) (*types.Package, error) {
			if own := strings.TrimPrefix(path, module+"/"); all[own] != nil {
				return typeCheck(own, all, done, nil)
			}
			return nil, errors.New("left unknown")
		}),
	}
	var files []*ast.File
	for _, f := range all[dir] {
		files = append(files, f)
	}
	p, err := conf.Check(module+"/"+dir, fset, files, info)
	if p == nil {
		return nil, err
	}
	done[dir] = p
	return p, nil
}

type importer func(string) (*types.Package, error)

func (f importer) Import(path string) (*types.Package, error) { return f(path) }

var fset = token.NewFileSet()

// core reads the source of this package and of those below it, without
// tests, by directory and file.
func core(t *testing.T) map[string]map[string]*ast.File {
	t.Helper()
	all := map[string]map[string]*ast.File{}
	err := filepath.WalkDir(".", func(path string, d os.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && d.Name() == "testdata":
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		f, err := parser.ParseFile(fset, path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		dir := filepath.ToSlash(filepath.Join("alarms", filepath.Dir(path)))
		if all[dir] == nil {
			all[dir] = map[string]*ast.File{}
		}
		all[dir][path] = f
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all["alarms"]) < 5 || len(all) < 4 {
		t.Fatalf("found too little source to judge: %d packages", len(all))
	}
	return all
}
