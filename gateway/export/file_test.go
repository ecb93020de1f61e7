package export

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

func filesIn(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func contentOf(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestFileIsAppendedAndFinishedOnStop(t *testing.T) {
	path := filepath.Join(t.TempDir(), "readings.lp")
	for start := range 3 {
		e := mustNew(t, Options{File: path, FlushEvery: time.Hour})
		stop := running(t, e)
		for i := range 10 {
			e.AddReading(numbered(start*10 + i))
		}
		stop()
		if s := e.Stats(); s.File.Lines != 10 || s.Queue != 0 || s.File.Failures != 0 {
			t.Errorf("got %+v %+v", s, s.File)
		}
	}
	if got := numbers(t, contentOf(t, path)); !slices.Equal(got, countTo(30)) {
		t.Errorf("got %v", got)
	}
}

func TestFileCutsAnUnfinishedLine(t *testing.T) {
	long := strings.Repeat("x", 200_000)
	for what, tail := range map[string]string{"half a line": "reading,house=long-ho", "nothing": "", "zeros": "\x00\x00\x00", "more than a block": long} {
		path := filepath.Join(t.TempDir(), "readings.lp")
		text := string(numberedBatch(0, 3).text)
		if err := os.WriteFile(path, []byte(text+tail), 0o640); err != nil {
			t.Fatal(err)
		}
		os.Chtimes(path, noon, noon)
		f, err := newFileSink(path, func() time.Time { return noon })
		if err != nil {
			t.Fatal(err)
		}
		if err := f.write(numberedBatch(3, 5)); err != nil {
			t.Fatal(err)
		}
		f.close()
		if got := numbers(t, contentOf(t, path)); !slices.Equal(got, countTo(5)) {
			t.Errorf("%s: got %v", what, got)
		}
	}
	path := filepath.Join(t.TempDir(), "readings.lp")
	os.WriteFile(path, []byte(long), 0o640)
	f, err := newFileSink(path, func() time.Time { return noon })
	if err != nil || f.size != 0 {
		t.Errorf("no line end at all: %v, size %d", err, f.size)
	}
	f.close()
}

func TestFileIsPutAsideBySize(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "readings.lp")
	one := len(numberedBatch(0, 10).text)
	f, err := newFileSink(path, func() time.Time { return noon })
	if err != nil {
		t.Fatal(err)
	}
	f.most = int64(one*2 + one/2)
	os.WriteFile(filepath.Join(dir, "readings-mine.lp"), nil, 0o640)
	for i := range 9 {
		if err := f.write(numberedBatch(i*10, i*10+10)); err != nil {
			t.Fatal(err)
		}
	}
	f.close()
	want := []string{"readings-20260405T120000.000.lp", "readings-20260405T120000.001.lp", "readings-20260405T120000.002.lp",
		"readings-20260405T120000.003.lp", "readings.lp", "readings-mine.lp"}
	got := filesIn(t, dir)
	slices.Sort(got)
	if !slices.Equal(got, slices.Sorted(slices.Values(want))) {
		t.Errorf("got %q, want %q", got, want)
	}
	var all []int
	for _, name := range want[:5] {
		all = append(all, numbers(t, contentOf(t, filepath.Join(dir, name)))...)
	}
	if !slices.Equal(all, countTo(90)) {
		t.Errorf("the files hold %v, want 0 to 89", all)
	}
}

func TestFileIsPutAsideByDay(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "readings.lp")
	east := time.FixedZone("east", 2*3600)
	now := time.Date(2026, 4, 5, 23, 59, 0, 0, east)
	f, err := newFileSink(path, func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	write := func(i int, want bool) {
		t.Helper()
		before := len(filesIn(t, dir))
		err := f.write(numberedBatch(i, i+1))
		if put := len(filesIn(t, dir)) > before; err != nil || put != want {
			t.Errorf("line %d: put aside %v, %v; want %v", i, put, err, want)
		}
	}
	write(0, false)
	now = now.Add(30 * time.Second)
	write(1, false)
	now = now.Add(time.Minute)
	write(2, true) // midnight where the garden is
	now = now.Add(2 * time.Hour)
	write(3, false) // midnight UTC
	f.close()
	// A file of an earlier day that a stop has left is put aside at the start.
	old := time.Date(2026, 4, 6, 12, 0, 0, 0, east)
	if err := os.Chtimes(path, old, old); err != nil {
		t.Fatal(err)
	}
	now = now.Add(24 * time.Hour)
	if f, err = newFileSink(path, f.now); err != nil {
		t.Fatal(err)
	}
	write(4, true)
	f.close()
	if got := numbers(t, contentOf(t, path)); !slices.Equal(got, []int{4}) || len(filesIn(t, dir)) != 3 {
		t.Errorf("got %v in the newest of %q", got, filesIn(t, dir))
	}
}

// A write that fails leaves no half line, is counted, and does not stop the
// next one.
func TestFailingFileIsToldAndTriedAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sub", "readings.lp")
	if _, err := New(Options{File: path}); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("a folder that is not there: got %v", err)
	}
	os.Mkdir(filepath.Dir(path), 0o750)
	e := mustNew(t, Options{File: path, FlushEvery: time.Hour})
	e.AddReading(numbered(0))
	e.flush()
	e.file.file.Close() // as if the disk had gone
	e.AddReading(numbered(99))
	e.flush()
	if s := e.Stats().File; s.Failures != 1 || s.Dropped != 1 || s.Lines != 1 || s.Last == "" {
		t.Errorf("got %+v", s)
	}
	e.AddReading(numbered(1))
	e.flush()
	e.file.close()
	if s := e.Stats().File; s.Lines != 2 {
		t.Errorf("got %+v", s)
	}
	if got := numbers(t, contentOf(t, path)); !slices.Equal(got, []int{0, 1}) {
		t.Errorf("got %v", got)
	}
}
