package gateway_test

import (
	"go/ast"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// unused is how many exported names of each package nobody outside of it uses yet. A
// figure here may only fall, and goes when there is none.
var unused = map[string]int{}

// called are methods that libraries call, or the standard library, by interfaces of
// theirs.
var called = map[string]string{
	"Error": "error", "Is": "errors", "As": "errors", "Unwrap": "errors", "String": "fmt", "Format": "fmt", "GoString": "fmt",
	"MarshalJSON": "encoding/json", "UnmarshalJSON": "encoding/json", "MarshalText": "encoding", "UnmarshalText": "encoding",
	"MarshalZerologObject": "zerolog", "Read": "io", "Write": "io", "Close": "io", "ServeHTTP": "net/http",
	"Len": "sort", "Less": "sort", "Swap": "sort",
}

// exports are what one package exports, by name; a method by type and name.
type exports struct {
	decls map[string]ast.Node // what stands behind a name
	of    map[string]string   // a constant's type
}

// exportsOf collects what files without tests export, by folder.
func exportsOf(files []source) map[string]*exports {
	all := map[string]*exports{}
	for _, s := range files {
		if s.test || s.file.Name.Name == "main" {
			continue
		}
		e := all[s.dir]
		if e == nil {
			e = &exports{map[string]ast.Node{}, map[string]string{}}
			all[s.dir] = e
		}
		for _, d := range s.file.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				switch on := receiver(d); {
				case !d.Name.IsExported():
				case on == "":
					e.decls[d.Name.Name] = d.Type
				case ast.IsExported(on):
					e.decls[on+"."+d.Name.Name] = d.Type
				}
			case *ast.GenDecl:
				e.general(d)
			}
		}
	}
	return all
}

// general adds types, variables and constants.
func (e *exports) general(d *ast.GenDecl) {
	var typed ast.Expr // goes on for constants without a value of their own
	for _, spec := range d.Specs {
		switch spec := spec.(type) {
		case *ast.TypeSpec:
			if spec.Name.IsExported() {
				e.decls[spec.Name.Name] = spec.Type
			}
		case *ast.ValueSpec:
			if spec.Type != nil || len(spec.Values) > 0 {
				typed = spec.Type
			}
			for _, n := range spec.Names {
				if !n.IsExported() {
					continue
				}
				e.decls[n.Name] = spec
				if id, ok := typed.(*ast.Ident); ok {
					e.of[n.Name] = id.Name
				}
			}
		}
	}
}

// receiver is the name of the type on which a method hangs; empty for a function.
func receiver(f *ast.FuncDecl) string {
	if f.Recv == nil {
		return ""
	}
	on := f.Recv.List[0].Type
	if star, ok := on.(*ast.StarExpr); ok {
		on = star.X
	}
	if generic, ok := on.(*ast.IndexExpr); ok {
		on = generic.X
	}
	return on.(*ast.Ident).Name
}

// uses are who names what: by folder, "_test" behind it for tests beside a package.
type uses struct {
	names   map[string]bool            // "folder.Name", from outside
	members map[string]map[string]bool // of whatever is behind a dot, by whom
	asked   map[string]bool            // methods of interfaces
}

func usesOf(files []source) uses {
	u := uses{map[string]bool{}, map[string]map[string]bool{}, map[string]bool{}}
	for _, s := range files {
		imported := map[string]string{}
		for _, i := range s.file.Imports {
			path := strings.Trim(i.Path.Value, `"`)
			name := path[strings.LastIndexByte(path, '/')+1:]
			if i.Name != nil {
				name = i.Name.Name
			}
			if own, ok := strings.CutPrefix(path, module+"/"); ok {
				imported[name] = own
			}
		}
		who := s.dir
		if strings.HasSuffix(s.file.Name.Name, "_test") {
			who += "_test"
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				if pkg, ok := n.X.(*ast.Ident); ok && imported[pkg.Name] != "" {
					u.names[imported[pkg.Name]+"."+n.Sel.Name] = true
				}
				u.member(n.Sel.Name, who)
			case *ast.InterfaceType:
				for _, m := range n.Methods.List {
					for _, name := range m.Names {
						u.asked[name.Name] = true
					}
				}
			}
			return true
		})
	}
	return u
}

func (u *uses) member(name, who string) {
	if u.members[name] == nil {
		u.members[name] = map[string]bool{}
	}
	u.members[name][who] = true
}

// outside reports whether somebody but dir has name behind a dot.
func (u *uses) outside(dir, name string) bool {
	for who := range u.members[name] {
		if who != dir {
			return true
		}
	}
	return false
}

// needed reports whether name of dir is used outside by its name, or is a method that
// is, or that an interface asks for.
func (u *uses) needed(dir, name string) bool {
	if _, method, ok := strings.Cut(name, "."); ok {
		return u.asked[method] || called[method] != "" || u.outside(dir, method)
	}
	return u.names[dir+"."+name]
}

// unusedOf are the names that nobody outside needs. What stands in the signature of
// something needed, or among its exported fields, is needed with it, and so are the
// constants of a type.
func unusedOf(dir string, e *exports, u *uses) (out []string) {
	needed, todo := map[string]bool{}, []string{}
	need := func(name string) {
		if e.decls[name] != nil && !needed[name] {
			needed[name] = true
			todo = append(todo, name)
		}
	}
	for name := range e.decls {
		if u.needed(dir, name) {
			need(name)
		}
	}
	for len(todo) > 0 {
		name := todo[0]
		todo = todo[1:]
		ast.Inspect(e.decls[name], func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.Field: // of a struct: only what is seen outside
				if len(n.Names) > 0 && !slices.ContainsFunc(n.Names, (*ast.Ident).IsExported) && isStruct(e.decls[name]) {
					return false
				}
			case *ast.Ident:
				need(n.Name)
			}
			return true
		})
	}
	for name := range e.decls {
		if of := e.of[name]; !needed[name] && !(of != "" && needed[of]) {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

func isStruct(n ast.Node) bool { _, ok := n.(*ast.StructType); return ok }

// TestExportedNamesAreUsed: what a package exports is a promise; one that nobody
// outside wants is to be taken back. Tests of other packages want things too, and so
// do templates. A method is taken as wanted where any other package has its name
// behind a dot: that of another type lets one too many pass, never one too few.
func TestExportedNamesAreUsed(t *testing.T) {
	files := everyFile(t)
	u := usesOf(files)
	dot := regexp.MustCompile(`\.([A-Z]\w*)`)
	for _, pattern := range []string{"../gateway/*/templates/*", "../gateway/*/*/templates/*"} {
		pages, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, page := range pages {
			text, err := os.ReadFile(page)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range dot.FindAllSubmatch(text, -1) {
				u.member(string(m[1]), page)
			}
		}
	}
	seen := map[string]bool{}
	for dir, e := range exportsOf(files) {
		out := unusedOf(dir, e, &u)
		seen[dir] = true
		switch n, known := len(out), unused[dir]; {
		case n > known:
			t.Errorf("%s exports %d names that nobody outside uses, want at most %d; unexport what is new of %v", dir, n, known, out)
		case n < known:
			t.Errorf("%s exports %d names that nobody outside uses: write that in place of %d, or take it off the list", dir, n, known)
		}
	}
	for dir := range unused {
		if !seen[dir] {
			t.Errorf("%s is not there any more: take it off the list", dir)
		}
	}
}
