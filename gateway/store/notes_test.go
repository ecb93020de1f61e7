package store

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"telltale/gateway/store/sqlite"
)

func TestKeptValuesOutliveARun(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	for _, value := range []string{"", "one", "two"} {
		s, err := Open(dir, Options{})
		ok(t, err)
		got, err := s.Notes.Kept(ctx, "a")
		ok(t, err)
		same(t, "kept", got, map[string]string{"": "", "one": "x", "two": "one"}[value])
		ok(t, s.Notes.Keep(ctx, "a", "x"))
		ok(t, s.Notes.Keep(ctx, "b", "other"))
		ok(t, s.Notes.Keep(ctx, "a", map[bool]string{true: "x", false: value}[value == ""]))
		ok(t, s.Close())
	}
}

// TestGardenIsTheStoresOwn: the same at each start, another in another store and
// in a copy of this one, and that of another where it is given.
func TestGardenIsTheStoresOwn(t *testing.T) {
	ctx := context.Background()
	garden := func(dir string) string {
		t.Helper()
		s, err := Open(dir, Options{})
		ok(t, err)
		id, err := s.Notes.Garden(ctx)
		ok(t, err)
		again, err := s.Notes.Garden(ctx)
		ok(t, err)
		same(t, "asked again", again, id)
		ok(t, s.Close())
		return id
	}
	dir := t.TempDir()
	one := garden(dir)
	if !regexp.MustCompile(`^[a-z2-7]{16}$`).MatchString(one) {
		t.Errorf("got %q", one)
	}
	same(t, "after a restart", garden(dir), one)
	other := t.TempDir()
	if garden(other) == one {
		t.Error("another store has the same")
	}
	if sqlite.BirthOf(filepath.Join(dir, "telltale.db")) == "" {
		t.Skip("this file system does not say when a file was made")
	}
	restored := t.TempDir()
	ok(t, os.CopyFS(restored, os.DirFS(dir)))
	copied := garden(restored)
	if copied == one {
		t.Error("a copy has the same")
	}
	same(t, "the copy after a restart", garden(restored), copied)

	s, err := Open(other, Options{})
	ok(t, err)
	ok(t, s.Notes.setGarden(ctx, one))
	ok(t, s.Close())
	same(t, "given", garden(other), one)

	client := func(dir string) string {
		t.Helper()
		garden(dir)
		s, err := Open(dir, Options{})
		ok(t, err)
		defer func() { ok(t, s.Close()) }()
		part, err := s.Notes.ClientPart(ctx)
		ok(t, err)
		return part
	}
	mine := client(dir)
	if len(mine) != 12 || client(other) == mine {
		t.Errorf("at a broker it has the ID %q, and another store %q", mine, client(other))
	}
	same(t, "at a broker, after a restart", client(dir), mine)
	moved := t.TempDir()
	ok(t, os.CopyFS(moved, os.DirFS(dir)))
	if client(moved) == mine {
		t.Error("a copy takes the place of the first at the broker")
	}
}
