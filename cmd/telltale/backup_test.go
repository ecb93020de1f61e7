package main

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	_ "github.com/ncruces/go-sqlite3/driver" // another program's connection

	"telltale/alarms"
	"telltale/gateway/trials"
)

// movable is a config that can be moved: its store and its secret lie beside it.
// The neighbour is told later, so that a message waits.
func movable(t *testing.T, h *hook) (file string) {
	t.Helper()
	file = small(t, 30, h.with(t)+"[person.neighbour]\nchannels = [\"phone\"]\n[[tell]]\npeople = [\"neighbour\"]\nafter = \"40m\"\n")
	text, err := os.ReadFile(file)
	ok(t, err)
	var lines []string
	for l := range strings.Lines(string(text)) {
		switch {
		case strings.HasPrefix(l, "directory = "):
			l = "directory = \"store\"\n"
		case strings.HasPrefix(l, "secret-file = "):
			l = "secret-file = \"secrets/hook\"\n"
		}
		lines = append(lines, l)
	}
	dir := filepath.Dir(file)
	ok(t, os.WriteFile(file, []byte(strings.Join(lines, "")), 0o600))
	ok(t, os.Mkdir(filepath.Join(dir, "secrets"), 0o700))
	ok(t, os.WriteFile(filepath.Join(dir, "secrets", "hook"), []byte(hookSecret+"\n"), 0o600))
	return file
}

// onlyCopy is the one copy in a directory.
func onlyCopy(t *testing.T, dir string) string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(dir, "telltale-*"))
	ok(t, err)
	if len(all) != 1 {
		t.Fatalf("there are %v, want one copy", all)
	}
	return all[0]
}

func (h *hook) toldAll() (events map[string]string, count int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	events = map[string]string{}
	for id, text := range h.events {
		events[id] = text
	}
	return events, h.count
}

func TestACopyGoesOnOnAnotherMachine(t *testing.T) {
	t.Parallel()
	h := newHook(t)
	file := movable(t, h)
	p := start(t, "watch", file)
	at := p.line("watching", 1)
	c := probe(t, at["broker"].(string), "bench-1")
	until(t, c, at["page"].(string), "31.5", high, alarms.Unacknowledged)
	eventually(t, "the grower is told", func() bool { return len(h.told(high)) > 0 })

	into := t.TempDir()
	made := start(t, "backup", file, into)
	if code := made.exit(); code != exitStopped || !strings.Contains(made.stdout(), "It holds the config and 1 file that it names.") {
		t.Fatalf("backup ends with %d and says %q, %q", code, made.stdout(), made.stderr())
	}
	copied := onlyCopy(t, into)
	ends(t, exitStore, []string{"restore", copied, file}, "a watch is running on", "stop it first")
	ok(t, p.cmd.Process.Kill())
	p.exit()
	before, count := h.toldAll()

	elsewhere := filepath.Join(t.TempDir(), "etc", "garden.toml")
	back := start(t, "restore", copied, elsewhere)
	if code := back.exit(); code != exitStopped {
		t.Fatalf("restore ends with %d and says %q", code, back.stderr())
	}
	for _, words := range []string{elsewhere + " was missing and is put there", "secrets/hook was missing and is put there",
		"is missing; a message that waited to be sent then is old and is not sent"} {
		if !strings.Contains(back.stdout(), words) {
			t.Errorf("restore says nothing of %q, but\n%s", words, back.stdout())
		}
	}
	p = start(t, "watch", elsewhere)
	page := p.line("watching", 1)["page"].(string)
	const put alarms.AlarmID = alarms.TroubleStore
	eventually(t, "it is told that the store was put back", func() bool { return len(h.told(put)) > 0 })
	got, err := picture(t, page)
	ok(t, err)
	lost := 0
	if s := alarmState(got, high); s != alarms.Unacknowledged {
		t.Errorf("the alarm is %v", s)
		lost++
	}
	for _, a := range got.Alarms {
		if a.ID == put && !strings.Contains(a.Sentence, "this store was put back from a copy made at") {
			t.Errorf("it is told as %q", a.Sentence)
		}
	}
	now, again := h.toldAll()
	twice := again - count - (len(now) - len(before))
	if twice != 0 {
		t.Errorf("%d messages told something old again\n%v", twice, now)
	}
	trials.Report(t, "a copy of a running watch, put back on another machine", trials.Lost(lost), trials.Twice(twice))
	p.stop(syscall.SIGTERM)
	for _, g := range [][2]string{{garden(t, filepath.Join(filepath.Dir(file), "store")), garden(t, filepath.Join(filepath.Dir(elsewhere), "store"))}} {
		if g[0] == g[1] || g[1] == "" {
			t.Errorf("both gardens have the ID %q", g[1])
		}
	}

	look := start(t, "store", elsewhere)
	if code := look.exit(); code != exitStopped {
		t.Errorf("store ends with %d and says %q", code, look.stderr())
	}
	for _, words := range []string{"no watch is running on it", "Readings:", "Messages:", "Good: all of it could be read."} {
		if !strings.Contains(look.stdout(), words) {
			t.Errorf("store says nothing of %q, but\n%s", words, look.stdout())
		}
	}
}

// garden is the ID that a store gives its garden. It is read from a copy: a watch
// may have the store open.
func garden(t *testing.T, dir string) (id string) {
	t.Helper()
	copied := t.TempDir()
	for _, name := range []string{"telltale.db", "telltale.db-wal"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if !errors.Is(err, os.ErrNotExist) {
			ok(t, errors.Join(err, os.WriteFile(filepath.Join(copied, name), b, 0o600)))
		}
	}
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(copied, "telltale.db"))
	ok(t, err)
	ok(t, errors.Join(db.QueryRow(`SELECT value FROM kept WHERE name = 'garden'`).Scan(&id), db.Close()))
	return id
}

func TestCopiesThatCannotBe(t *testing.T) {
	t.Parallel()
	file := small(t, 30, "")
	dir := filepath.Dir(file)
	ends(t, exitStore, []string{"backup", file, t.TempDir()}, "no copy was made in", "there is no store in")
	ends(t, exitStore, []string{"store", file}, "there is no store in")
	p := start(t, "watch", file)
	p.line("watching", 1)
	p.stop(syscall.SIGTERM)
	ends(t, exitOther, []string{"backup", file, filepath.Join(dir, "none")}, "it is not there; is its disk plugged in and mounted?")
	ends(t, exitOther, []string{"backup", file, filepath.Join(dir, "store")}, "it lies inside the store")
	ends(t, exitConfig, []string{"backup", filepath.Join(dir, "none.toml"), dir}, "none.toml: cannot be read")
	ends(t, exitOther, []string{"restore", dir, file}, "is not a good copy")
	into := t.TempDir()
	ends(t, exitStopped, []string{"backup", file, into})
	db := filepath.Join(onlyCopy(t, into), "store", "telltale.db")
	text, err := os.ReadFile(db)
	ok(t, err)
	text[len(text)/2] ^= 1
	ok(t, os.WriteFile(db, text, 0o600))
	was := treeOf(t, dir)
	ends(t, exitOther, []string{"restore", filepath.Dir(filepath.Dir(db)), file}, "telltale.db is damaged")
	if is := treeOf(t, dir); is != was {
		t.Errorf("a damaged copy changed\n%s\nto\n%s", was, is)
	}
}

// treeOf lists the files below a directory, with sizes and times.
func treeOf(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	ok(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err == nil {
			fmt.Fprintln(&b, path, info.Size(), info.ModTime().UnixNano())
		}
		return err
	}))
	return b.String()
}

func TestADamagedStoreAndANewerOne(t *testing.T) {
	t.Parallel()
	file := small(t, 30, "")
	dir := filepath.Join(filepath.Dir(file), "store")
	p := start(t, "watch", file)
	p.line("watching", 1)
	p.stop(syscall.SIGTERM)
	path, aside := filepath.Join(dir, "telltale.db"), filepath.Join(dir, "telltale.db.damaged-20260101-000000")
	whole, err := os.ReadFile(path)
	ok(t, err)
	bad := append([]byte(nil), whole...)
	for i := range 4096 {
		bad[len(bad)/4096/2*4096+i] = 0xee
	}
	ok(t, errors.Join(os.WriteFile(path, bad, 0o600), os.WriteFile(aside, []byte("x"), 0o600)))
	was := treeOf(t, dir)
	look := start(t, "store", file)
	if code := look.exit(); code != exitOther {
		t.Errorf("of a damaged store it ends with %d", code)
	}
	for _, words := range []string{"PROBLEM:", path, "Put aside as damaged:", filepath.Base(aside)} {
		if !strings.Contains(look.stdout(), words) {
			t.Errorf("it says nothing of %q, but\n%s", words, look.stdout())
		}
	}
	if !strings.Contains(look.stderr(), "telltale: the store "+dir+" has 1 problem") && !strings.Contains(look.stderr(), " problems") {
		t.Errorf("it says %q", look.stderr())
	}
	if is := treeOf(t, dir); is != was {
		t.Errorf("a look changed\n%s\nto\n%s", was, is)
	}

	ok(t, os.WriteFile(path, whole, 0o600))
	db, err := sql.Open("sqlite3", "file:"+path)
	ok(t, err)
	_, err = db.Exec(`INSERT INTO migration (name) VALUES ('9999_from_the_future.sql')`)
	ok(t, errors.Join(err, db.Close()))
	was = treeOf(t, dir)
	for _, args := range [][]string{{"watch", file}, {"store", file}, {"backup", file, t.TempDir()}} {
		ends(t, exitStore, args, "written by a newer version", "run the newer program")
	}
	if is := treeOf(t, dir); is != was {
		t.Errorf("a newer store was changed\n%s\nto\n%s", was, is)
	}
}

func TestCheckAdvisesOfCopies(t *testing.T) {
	t.Parallel()
	file := small(t, 30, "")
	here, gone := t.TempDir(), filepath.Join(t.TempDir(), "gone")
	for extra, says := range map[string]string{
		"": "Advice: no copies are made of what the watch keeps.",
		fmt.Sprintf("[copies]\ndirectory = %q\n", gone): "Advice: " + gone + ", where copies go, is not there now",
		fmt.Sprintf("[copies]\ndirectory = %q\n", here): "Advice: copies go to the disk of the store, and die with it",
	} {
		write(t, file, 30, extra)
		p := start(t, "check", file)
		if code := p.exit(); code != exitStopped || !strings.Contains(p.stdout(), says) || !strings.HasPrefix(p.stdout(), "Good: ") {
			t.Errorf("with %q check ends with %d and says %q", extra, code, p.stdout())
		}
	}
}
