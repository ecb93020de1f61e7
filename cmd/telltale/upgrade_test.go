package main

import (
	"archive/tar"
	"compress/gzip"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"telltale/alarms"
	"telltale/gateway/store"
)

// unpacked puts a store of an earlier version into a new directory.
func unpacked(t *testing.T, file string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	f, err := os.Open(file)
	ok(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	ok(t, err)
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return dir
		}
		ok(t, err)
		if !filepath.IsLocal(h.Name) {
			t.Fatalf("%s holds %s", file, h.Name)
		}
		to := filepath.Join(dir, h.Name)
		if h.Typeflag == tar.TypeDir {
			ok(t, os.MkdirAll(to, 0o700))
			continue
		}
		text, err := io.ReadAll(r)
		ok(t, err)
		ok(t, os.WriteFile(to, text, 0o600))
	}
}

// earlier is what is in a store of an earlier version.
type earlier struct {
	Schema   []string
	Readings int
	Log      []string
	Waiting  int
	Devices  int
}

// Every store that an earlier version left opens, has what it had, and goes on; and
// so does a copy of it that was made before.
func TestStoresOfEarlierVersionsGoOn(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../../testdata/store/schema-*.tar.gz")
	ok(t, err)
	if len(files) < 7 {
		t.Fatalf("only %v", files)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			t.Parallel()
			dir := unpacked(t, file)
			config := filepath.Join(dir, "garden.toml")
			text, err := os.ReadFile(config)
			ok(t, err)
			for _, at := range []string{"127.0.0.1:18471", "127.0.0.1:18831"} {
				text = []byte(strings.Replace(string(text), at, "127.0.0.1:0", 1))
			}
			ok(t, os.WriteFile(config, text, 0o600))
			var e earlier
			text, err = os.ReadFile(filepath.Join(dir, "expect.json"))
			ok(t, err)
			ok(t, json.Unmarshal(text, &e))

			was := treeOf(t, filepath.Join(dir, "store"))
			look, code := start(t, "store", config), 0
			if code = look.exit(); code != exitStopped || len(e.Schema) < 7 && !strings.Contains(look.stdout(), "an older program wrote it") {
				t.Errorf("a look at it ends with %d and says\n%s%s", code, look.stdout(), look.stderr())
			}
			into := t.TempDir()
			ends(t, exitStopped, []string{"backup", config, into})
			if is := treeOf(t, filepath.Join(dir, "store")); is != was {
				t.Errorf("to look and to copy changed\n%s\nto\n%s", was, is)
			}
			goesOn(t, config, e, e.Waiting)

			put := filepath.Join(t.TempDir(), "garden.toml")
			ends(t, exitStopped, []string{"restore", onlyCopy(t, into), put})
			goesOn(t, put, e, 0)
		})
	}
}

// goesOn runs the watch on the store for a while, and demands what was in it.
func goesOn(t *testing.T, config string, e earlier, waiting int) {
	t.Helper()
	s, closeIt, err := store.OpenToRead(filepath.Join(filepath.Dir(config), "store"), store.Options{})
	if err == nil { // it is up to date already, and no watch has been here yet
		sums, err := s.Outbox.Counts(t.Context())
		ok(t, errors.Join(err, closeIt()))
		if sums.Waiting != waiting {
			t.Errorf("%d messages wait, want %d", sums.Waiting, waiting)
		}
	}
	p := start(t, "watch", config)
	at := p.line("watching", 1)
	got, err := picture(t, at["page"].(string))
	ok(t, err)
	if s := alarmState(got, high); s != alarms.Unacknowledged {
		t.Errorf("the alarm that was on is %v", s)
	}
	c := probe(t, at["broker"].(string), "bench-1")
	until(t, c, at["page"].(string), "25.0", high, alarms.ReturnedUnack, alarms.Normal)
	p.stop(syscall.SIGTERM)

	s, closeIt, err = store.OpenToRead(filepath.Join(filepath.Dir(config), "store"), store.Options{})
	ok(t, err)
	defer closeIt() //nolint:errcheck // it was read
	log, err := s.Log.Transitions(t.Context(), store.LogQuery{Limit: 1000})
	ok(t, err)
	for _, id := range e.Log {
		if !slices.ContainsFunc(log, func(l alarms.Transition) bool { return l.ID == id }) {
			t.Errorf("the log has lost %s", id)
		}
	}
	if len(log) <= len(e.Log) {
		t.Error("nothing was logged since")
	}
	first, last := log[len(log)-1].Due.AddDate(0, 0, -1), log[0].Due.AddDate(0, 0, 1)
	rs, err := s.History.Readings(t.Context(), "bench-1", alarms.Temperature, first, last, 0)
	ok(t, err)
	if len(rs) <= e.Readings {
		t.Errorf("%d readings, want the %d that were there and those since", len(rs), e.Readings)
	}
	devices, err := s.Devices.Of(t.Context(), "")
	ok(t, err)
	if len(devices) != e.Devices {
		t.Errorf("%d devices, want %d", len(devices), e.Devices)
	}
}
