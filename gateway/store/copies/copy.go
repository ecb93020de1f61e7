package copies

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Copy is a copy that has its name.
type Copy struct {
	Path string `json:"-"`

	Form    int       `json:"form"`            // of this list; 1
	Version string    `json:"version"`         // of the program that made it
	Store   string    `json:"store,omitempty"` // the name of the store, by chance
	Made    time.Time `json:"made"`
	Last    time.Time `json:"last_input"` // of what is in it, by the wall clock
	Bytes   int64     `json:"bytes"`      // of all files
	Files   []File    `json:"files"`
}

// File is one file of a copy.
type File struct {
	Path   string `json:"path"`           // in the copy
	As     string `json:"as,omitempty"`   // what the config calls it
	Mode   uint32 `json:"mode,omitempty"` // who could read it, of what the config names and of the config
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

const (
	form     = 1
	listName = "copy.json"
	sumName  = "copy.sum"
	inStore  = "store"       // the folder with the files of the store
	inFiles  = "files"       // that with what the config names
	config   = "config.toml" // the config, whatever it was called
)

// errBad is what Open says of something that is no good copy.
var errBad = errors.New("not a good copy")

var namePattern = regexp.MustCompile(`^telltale-(\d{6,})-\d{8}-\d{6}Z$`)

func nameOf(number int, made time.Time) string {
	return fmt.Sprintf("telltale-%06d-%s", number, made.UTC().Format("20060102-150405Z"))
}

// numberOf is the number in a copy's name; 0: it is none.
func numberOf(path string) int {
	m := namePattern.FindStringSubmatch(filepath.Base(path))
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1])
	return n
}

// list lists the copies in dir by their numbers, the newest last: those whose
// list of files can be read. Whether the files are as it says, Open knows.
func list(dir string) ([]Copy, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var all []Copy
	for _, e := range entries {
		if numberOf(e.Name()) == 0 {
			continue
		}
		if c, err := readList(filepath.Join(dir, e.Name())); err == nil {
			all = append(all, c)
		}
	}
	slices.SortFunc(all, func(a, b Copy) int { return numberOf(a.Path) - numberOf(b.Path) })
	return all, nil
}

// readList reads what a copy says of itself.
func readList(path string) (c Copy, err error) {
	text, err := os.ReadFile(filepath.Join(path, listName))
	if err != nil {
		return c, err
	}
	sum, err := os.ReadFile(filepath.Join(path, sumName))
	if err != nil {
		return c, err
	}
	if string(sum) != sumLine(text) {
		return c, fmt.Errorf("%s is not what %s says of it", filepath.Join(path, listName), sumName)
	}
	if err := json.Unmarshal(text, &c); err != nil {
		return c, err
	}
	if c.Form != form {
		return c, fmt.Errorf("its form is %d, known here is %d: a newer version made it", c.Form, form)
	}
	c.Path = path
	return c, nil
}

func sumLine(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]) + "\n"
}

// Open reads all of a copy, and says what is wrong with it.
func Open(ctx context.Context, path string) (Copy, error) {
	c, err := readList(filepath.Clean(path))
	if errors.Is(err, fs.ErrNotExist) {
		return c, fmt.Errorf("%s is %w: %s%w", path, errBad, newestIn(path), err)
	}
	if err == nil {
		err = c.check(ctx)
	}
	if err != nil {
		return c, fmt.Errorf("%s is %w: %w", path, errBad, err)
	}
	return c, nil
}

// newestIn helps who names the directory of copies in the place of a copy.
func newestIn(dir string) string {
	if all, err := list(dir); err == nil && len(all) > 0 {
		return fmt.Sprintf("it holds copies, the newest is %s; ", all[len(all)-1].Path)
	}
	return ""
}

// check reads every file and holds it against the list.
func (c Copy) check(ctx context.Context) error {
	for _, f := range c.Files {
		if !filepath.IsLocal(f.Path) {
			return fmt.Errorf("it names %q, which is outside of it", f.Path)
		}
		got, err := sumOf(ctx, c.at(f))
		switch {
		case err != nil:
			return err
		case got.Bytes != f.Bytes || got.SHA256 != f.SHA256:
			return fmt.Errorf("%s is damaged: it is not as it was when it was copied", c.at(f))
		}
	}
	return nil
}

// at is where a file of the copy lies.
func (c Copy) at(f File) string { return filepath.Join(c.Path, f.Path) }

// stored are the files of its store.
func (c Copy) stored() []File {
	return slices.DeleteFunc(slices.Clone(c.Files), func(f File) bool { return filepath.Dir(f.Path) != inStore })
}

// Named are the files that the config names, in order.
func (c Copy) Named() []File {
	return slices.DeleteFunc(slices.Clone(c.Files), func(f File) bool { return f.As == "" || f.Path == config })
}

// Config is the config in it.
func (c Copy) Config() ([]byte, error) { return os.ReadFile(filepath.Join(c.Path, config)) }

func sumOf(ctx context.Context, path string) (f File, err error) {
	file, err := os.Open(path)
	if err != nil {
		return f, err
	}
	defer file.Close()
	h := sha256.New()
	f.Bytes, err = io.Copy(h, reader{ctx, file})
	f.SHA256 = hex.EncodeToString(h.Sum(nil))
	return f, err
}

// reader ends with its context.
type reader struct {
	ctx context.Context
	io.Reader
}

func (r reader) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.Reader.Read(p)
}

// copyFile copies one file into a new one that its owner alone can read.
func copyFile(ctx context.Context, from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, reader{ctx, in})
	if err == nil {
		err = out.Sync()
	}
	return errors.Join(err, out.Close())
}

// within reports whether path is dir or below it, links followed.
func within(path, dir string) bool {
	rel, err := filepath.Rel(real(dir), real(path))
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}

// real is path without links, as far as it is there.
func real(path string) string {
	path, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	if r, err := filepath.EvalSymlinks(path); err == nil {
		return r
	}
	if dir := filepath.Dir(path); dir != path {
		return filepath.Join(real(dir), filepath.Base(path))
	}
	return path
}
