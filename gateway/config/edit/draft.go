package edit

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"telltale/alarms/tongue"
	"telltale/gateway/config"
)

// Draft is a file as it would be after some edits. Everything that no edit
// touches stays byte for byte: comments, order, blank lines. Nothing is
// written before Save.
type Draft struct {
	file   string // as it is named to people
	target string // what is written: symbolic links are followed
	env    func(string) (string, bool)
	was    fs.FileInfo // mode and owner are kept
	before []byte
	sheet  *sheet
	fresh  map[string]string // new secrets by the path of their file, not yet there
}

const secretsFolder = "secrets"

// keepSecret keeps a secret for a new file, which Save makes, and returns what
// the file is called in the configuration.
func (d *Draft) keepSecret(name, text string) string {
	if d.fresh == nil {
		d.fresh = map[string]string{}
	}
	path := filepath.Join(secretsFolder, name)
	for n := 2; ; n++ {
		_, err := os.Lstat(filepath.Join(filepath.Dir(d.file), path))
		if _, taken := d.fresh[path]; !taken && errors.Is(err, fs.ErrNotExist) {
			break
		}
		path = filepath.Join(secretsFolder, fmt.Sprintf("%s-%d", name, n))
	}
	d.fresh[path] = text
	return path
}

// saveSecrets writes the new ones, each into a file that was not there.
func (d *Draft) saveSecrets() error {
	dir := filepath.Dir(d.file)
	for _, path := range slices.Sorted(maps.Keys(d.fresh)) {
		if err := os.Mkdir(filepath.Join(dir, secretsFolder), 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
		f, err := os.OpenFile(filepath.Join(dir, path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return err
		}
		_, err = f.WriteString(d.fresh[path] + "\n")
		keepOwner(f, d.was)
		if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
			return errors.Join(err, os.Remove(f.Name()))
		}
	}
	d.fresh = nil
	return nil
}

// Errors of Save.
var (
	// ErrChanged: somebody else has written the file since it was read.
	ErrChanged = errors.New("the file was changed meanwhile by somebody else; nothing was written")
	// ErrWrite: the file cannot be written where it is. Why is a tongue.Saying.
	ErrWrite = errors.New("the file cannot be written")
)

// unwritten is an ErrWrite that says why.
func unwritten(x tongue.Text, args ...any) error { return tongue.Put(x, args...).Of(ErrWrite) }

// OpenDraft reads the file at path for edits. The draft is nil when it cannot
// be read or is no TOML.
func OpenDraft(path string, env func(string) (string, bool)) (*Draft, config.Problems) {
	bad := func(x tongue.Text, args ...any) (*Draft, config.Problems) {
		return nil, config.Problems{{File: path, Says: tongue.Put(x, args...)}}
	}
	target, err := filepath.EvalSymlinks(path)
	if err != nil {
		return bad("cannot be read: %s", config.Reason(err))
	}
	info, err := os.Stat(target)
	if err != nil {
		return bad("cannot be read: %s", config.Reason(err))
	}
	if !info.Mode().IsRegular() || info.Size() > config.MaxFile {
		return bad("must be a plain file of at most %d bytes", config.MaxFile)
	}
	data, err := os.ReadFile(target)
	if err != nil {
		return bad("cannot be read: %s", config.Reason(err))
	}
	d, problems := newDraft(path, data, env)
	if d != nil {
		d.target, d.was = target, info
	}
	return d, problems
}

// newDraft is OpenDraft for a text in memory, which cannot be saved.
func newDraft(name string, text []byte, env func(string) (string, bool)) (*Draft, config.Problems) {
	if wrong := config.Syntax(name, text); wrong != nil {
		return nil, wrong
	}
	return &Draft{file: name, env: env, before: text, sheet: newSheet(slices.Clone(text))}, nil
}

// Text is the file as it would be.
func (d *Draft) Text() string { return string(d.sheet.text) }

// Config reads the file as it would be. It is nil when the watch could not run
// with it.
func (d *Draft) Config() (*config.Config, config.Problems) {
	return config.ParseEdited(d.file, d.sheet.text, d.env, d.fresh)
}

// Mark tells one text of the file from another: that which was read.
func (d *Draft) Mark() string { return mark(d.before) }

func mark(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// NewHouseID makes a name for a house of the file.
func (d *Draft) NewHouseID(name string) string {
	return NewID(name, "house", d.sheet.children("house"), "watch")
}

// named are the tables of a house that alarms are named after.
var named = []string{"circuit", "place", "control", "drive", "selector", "opening"}

// NewPlaceID makes a name for a place of a house.
func (d *Draft) NewPlaceID(house, name string) string {
	var taken []string
	for _, what := range named {
		taken = append(taken, d.sheet.children(inner("house", house, what))...)
	}
	return NewID(name, "place", taken, "season")
}

// NewProbeID makes a name for a probe of the file.
func (d *Draft) NewProbeID(name string) string {
	return NewID(name, "probe", d.sheet.children("probe"))
}

// NewPersonID makes a name for a person of the file.
func (d *Draft) NewPersonID(name string) string {
	return NewID(name, "person", d.sheet.children("person"))
}

// NewAccountID makes a name for an account of the file.
func (d *Draft) NewAccountID(name string) string {
	return NewID(name, "account", d.sheet.children("account"))
}

// NewBrokerUser makes a name for a user of the watch's own broker, who is not the
// watch.
func (d *Draft) NewBrokerUser(name string) string {
	return NewID(name, "probe", d.sheet.children(inner("own-broker", "account")), config.WatchUser)
}

// NewChannel makes a name for a channel of the file.
func (d *Draft) NewChannel(name string) string {
	return NewID(name, "channel", d.sheet.children("channel"))
}

// Crop is the crop that the file names for a place; empty: none.
func (d *Draft) Crop(house, place string) string {
	name, _ := d.Value("house", house, "place", place, "crop").(string)
	return name
}

// Save writes the draft. It writes nothing that the watch could not run with:
// the error is then Problems. The old file is kept beside the new one under
// its name with a ~, and a crash leaves either of the two whole.
func (d *Draft) Save() error {
	if _, problems := d.Config(); problems.Err() != nil {
		return problems.Err()
	}
	if d.target == "" {
		return unwritten("the file cannot be written: this draft has no file")
	}
	now, err := os.ReadFile(d.target)
	if err != nil {
		return unwritten("the file cannot be written: %s (%s)", config.Reason(err), d.target)
	}
	if !bytes.Equal(now, d.before) {
		return ErrChanged
	}
	if err := d.saveSecrets(); err != nil {
		return unwritten("the file cannot be written: %s, in its folder %s", config.Reason(err), secretsFolder)
	}
	if err := replaceFile(d.target+"~", d.before, d.was); err != nil {
		return unwritten("the file cannot be written: %s (%s~)", config.Reason(err), d.target)
	}
	if err := replaceFile(d.target, d.sheet.text, d.was); err != nil {
		return unwritten("the file cannot be written: %s (%s)", config.Reason(err), d.target)
	}
	d.before = slices.Clone(d.sheet.text)
	return nil
}

// replaceFile puts text into the place of the file at path in one step.
func replaceFile(path string, text []byte, was fs.FileInfo) (err error) {
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	_, err = f.Write(text)
	keepOwner(f, was)
	err = errors.Join(err, f.Chmod(was.Mode().Perm()), f.Sync(), f.Close())
	if err != nil {
		return err
	}
	if err = os.Rename(f.Name(), path); err != nil {
		return err
	}
	return syncDir(dir)
}

// syncDir makes a rename outlast a power cut. Where folders cannot be synced
// that is no failure: the file itself is written.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return nil //nolint:nilerr // it may be written to but not read
	}
	_ = d.Sync()
	return d.Close()
}
