package deploy

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
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

var rewrite = flag.Bool("rewrite", false, "write the notices anew; read the difference before keeping it")

const noticesHead = `Telltale is put together from its own code, under the licence that comes with
it, and from what is named below, for Linux on arm, arm64 and amd64. Each stands
under its own licence, given here word for word. The source of a module is what
"go mod download NAME@VERSION" brings.
`

// others are notices that stand in no licence file, by module: a file that
// tells of more, and a word of ours.
var others = map[string]struct{ file, word string }{
	"github.com/ncruces/go-sqlite3-wasm/v6": {"README.md",
		"SQLite itself, which this module holds in translation, was put into the public\ndomain by its authors. The module's own words on what it holds:"},
}

// licenceFile are the names under which licences and notices are kept.
var licenceFile = regexp.MustCompile(`(?i)^(un)?(licen[cs]e|copying|copyright|notice|patents)(\.(txt|md))?$`)

// linked is a package that is part of the program.
type linked struct {
	Dir    string
	Module *struct {
		Path, Version, Dir string
		Main               bool
	}
}

// linkedFor lists what is linked into the program for one board. It needs no
// network where the modules are downloaded.
func linkedFor(t *testing.T, arch string) []linked {
	t.Helper()
	cmd := exec.Command("go", "list", "-deps", "-json=Dir,Module", "./cmd/telltale")
	cmd.Dir = ".."
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH="+arch, "GOARM=6", "GOPROXY=off")
	var complaint strings.Builder
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("what is linked for linux/%s cannot be listed: %v (is it downloaded? go mod download does that)\n%s", arch, err, complaint.String())
	}
	var all []linked
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p linked
		switch err := d.Decode(&p); {
		case errors.Is(err, io.EOF):
			return all
		case err != nil:
			t.Fatal(err)
		case p.Module != nil && !p.Module.Main: // the standard library is in no module
			all = append(all, p)
		}
	}
}

// texts adds to those of a module the licences that hold for what is in dir:
// they stand there or above it.
func (p linked) texts(t *testing.T, texts map[string]string) {
	t.Helper()
	for dir := p.Dir; ; dir = filepath.Dir(dir) {
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if !e.IsDir() && licenceFile.MatchString(e.Name()) {
				path := filepath.Join(dir, e.Name())
				name, err := filepath.Rel(p.Module.Dir, path)
				if err != nil {
					t.Fatal(err)
				}
				texts[filepath.ToSlash(name)] = plain(read(t, path))
			}
		}
		if dir == p.Module.Dir {
			return
		}
	}
}

// plain is a text with the ends of lines of ours.
func plain(text string) string {
	return strings.Trim(strings.ReplaceAll(text, "\r\n", "\n"), "\n") + "\n"
}

// notices makes the notices of what is linked now.
func notices(t *testing.T) string {
	t.Helper()
	modules := map[string]map[string]string{} // "path version" to the texts by file
	told := map[string]bool{}
	for _, arch := range []string{"arm", "arm64", "amd64"} {
		for _, p := range linkedFor(t, arch) {
			name := p.Module.Path + " " + p.Module.Version
			if modules[name] == nil {
				modules[name] = map[string]string{}
			}
			p.texts(t, modules[name])
			if o, ok := others[p.Module.Path]; ok {
				modules[name][o.file] = o.word + "\n\n" + plain(read(t, filepath.Join(p.Module.Dir, o.file)))
				told[p.Module.Path] = true
			}
		}
	}
	for path := range others {
		if !told[path] {
			t.Errorf("%s is not linked any more: take it off the list of others", path)
		}
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	// Without its version: every Go that builds the program makes the same notices.
	std := map[string]string{}
	for _, file := range []string{"LICENSE", "PATENTS"} {
		std[file] = plain(read(t, filepath.Join(strings.TrimSpace(string(root)), file)))
	}
	modules["The Go standard library"] = std
	return written(t, modules)
}

// written is what is known of modules as one text, sorted by name and file.
func written(t *testing.T, modules map[string]map[string]string) string {
	t.Helper()
	var b strings.Builder
	b.WriteString(noticesHead)
	for _, name := range slices.Sorted(maps.Keys(modules)) {
		fmt.Fprintf(&b, "\n%s\n%s\n", strings.Repeat("=", 80), name)
		if len(modules[name]) == 0 {
			t.Errorf("%s carries no licence that is known by its file's name: may it be shipped?", name)
		}
		for _, file := range slices.Sorted(maps.Keys(modules[name])) {
			fmt.Fprintf(&b, "\n-- %s\n\n%s", file, modules[name][file])
		}
	}
	return b.String()
}

// TestNotices: the notices are those of what is linked today. -rewrite makes
// them anew.
func TestNotices(t *testing.T) {
	want := notices(t)
	if *rewrite && !t.Failed() {
		if err := os.WriteFile("notices.txt", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, wanted := strings.Split(read(t, "notices.txt"), "\n"), strings.Split(want, "\n")
	for i := range max(len(got), len(wanted)) {
		if i >= len(got) || i >= len(wanted) || got[i] != wanted[i] {
			t.Fatalf("notices.txt:%d: not what is linked today (%q): make it anew with\n"+
				"go test ./deploy -run TestNotices -rewrite\nand read the difference", i+1, strings.Join(wanted[min(i, len(wanted)):min(i+1, len(wanted))], ""))
		}
	}
}
