package export

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func mustOpen(t *testing.T, dir string, max int64) (*spool, int64) {
	t.Helper()
	s, torn, err := openSpool(dir, max)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.close() })
	return s, torn
}

func mustAppend(t *testing.T, s *spool, b batch) position {
	t.Helper()
	end, _, err := s.append(b)
	if err != nil {
		t.Fatal(err)
	}
	return end
}

// drain reads everything in pieces of about most bytes.
func drain(t *testing.T, s *spool, most int) []int {
	t.Helper()
	var got []int
	for !s.empty() {
		b, end, err := s.next(most)
		if err != nil || b.lines == 0 {
			t.Fatalf("got %v, %v", b, err)
		}
		n := numbers(t, b.text)
		if len(n) != b.lines {
			t.Fatalf("says %d lines, has %d", b.lines, len(n))
		}
		got = append(got, n...)
		if err := s.done(end); err != nil {
			t.Fatal(err)
		}
	}
	return got
}

func TestSpoolKeepsOrderOverManySegments(t *testing.T) {
	for _, most := range []int{1, 1000, 1 << 20} {
		s, _ := mustOpen(t, t.TempDir(), 1<<20)
		s.perFile = 2000
		for i := range 100 {
			mustAppend(t, s, numberedBatch(i*5, i*5+5))
		}
		if len(s.segments) < 10 || s.lines() != 500 {
			t.Fatalf("got %d segments, %d lines", len(s.segments), s.lines())
		}
		if got := drain(t, s, most); !slices.Equal(got, countTo(500)) {
			t.Errorf("in pieces of %d: got %v", most, got)
		}
		if left, _ := filepath.Glob(filepath.Join(s.dir, "*.lines")); len(left) != 0 || s.size() != 0 {
			t.Errorf("left over: %v, %d bytes", left, s.size())
		}
	}
}

// Every batch is sent once over a restart at any point, but for the one that
// was sent and not yet noted.
func TestSpoolSurvivesRestarts(t *testing.T) {
	dir := t.TempDir()
	var got []int
	next := 0
	for range 20 {
		s, torn := mustOpen(t, dir, 1<<20)
		s.perFile = 700
		if torn != 0 {
			t.Fatalf("cut off %d bytes of a spool that was closed well", torn)
		}
		for range 3 {
			mustAppend(t, s, numberedBatch(next, next+2))
			next += 2
		}
		b, end, err := s.next(1)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, numbers(t, b.text)...)
		if err := s.done(end); err != nil {
			t.Fatal(err)
		}
		s.close()
	}
	s, _ := mustOpen(t, dir, 1<<20)
	if want := next - len(got); s.lines() != want {
		t.Errorf("says %d lines wait, want %d", s.lines(), want)
	}
	got = append(got, drain(t, s, 1000)...)
	if !slices.Equal(got, countTo(next)) {
		t.Errorf("got %v, want 0 to %d", got, next-1)
	}
}

// Without the noted position everything that is left is sent again.
func TestSpoolWithoutPositionSendsAgain(t *testing.T) {
	for _, text := range []string{"", "rubbish", "7"} {
		dir := t.TempDir()
		s, _ := mustOpen(t, dir, 1<<20)
		mustAppend(t, s, numberedBatch(0, 5))
		end := mustAppend(t, s, numberedBatch(5, 6))
		mustAppend(t, s, numberedBatch(6, 10))
		s.done(end)
		s.close()
		if err := os.WriteFile(filepath.Join(dir, positionFile), []byte(text), 0o640); err != nil {
			t.Fatal(err)
		}
		s, _ = mustOpen(t, dir, 1<<20)
		if got := drain(t, s, 1<<20); !slices.Equal(got, countTo(10)) {
			t.Errorf("%q: got %v", text, got)
		}
	}
}

// A crash may leave any part of the last frame: whatever it is, the frames
// before it stay and later ones are read.
func TestSpoolCutsTornTail(t *testing.T) {
	whole := t.TempDir()
	s, _ := mustOpen(t, whole, 1<<20)
	before := mustAppend(t, s, numberedBatch(0, 3))
	end := mustAppend(t, s, numberedBatch(3, 4))
	s.close()
	data, err := os.ReadFile(s.path(1))
	if err != nil {
		t.Fatal(err)
	}
	try := func(what string, left []byte, wantTorn int64) {
		dir := t.TempDir()
		s := &spool{dir: dir}
		if err := os.WriteFile(s.path(1), left, 0o640); err != nil {
			t.Fatal(err)
		}
		s, torn := mustOpen(t, dir, 1<<20)
		if torn != wantTorn {
			t.Errorf("%s: cut off %d, want %d", what, torn, wantTorn)
		}
		mustAppend(t, s, numberedBatch(3, 6))
		if got := drain(t, s, 1<<20); !slices.Equal(got, countTo(6)) {
			t.Errorf("%s: got %v", what, got)
		}
	}
	for cut := before.off; cut < end.off; cut++ {
		try(fmt.Sprintf("cut at %d", cut), data[:cut], cut-before.off)
	}
	zeros := append(slices.Clone(data[:before.off]), make([]byte, 4096)...)
	try("zeros after a power cut", zeros, 4096)
	flipped := slices.Clone(data)
	flipped[end.off-2] ^= 1
	try("a flipped bit", flipped, end.off-before.off)
}

func TestFullSpoolGivesUpTheOldest(t *testing.T) {
	const max = 20_000
	s, _ := mustOpen(t, t.TempDir(), max)
	dropped := 0
	for i := range 1000 {
		_, n, err := s.append(numberedBatch(i, i+1))
		if err != nil {
			t.Fatal(err)
		}
		dropped += n
		if s.size() > max {
			t.Fatalf("is %d bytes, at most %d", s.size(), max)
		}
	}
	waiting := s.lines()
	got := drain(t, s, 3000)
	if dropped == 0 || dropped+len(got) != 1000 || waiting != len(got) || !slices.Equal(got, countTo(1000)[dropped:]) {
		t.Errorf("dropped %d, said %d wait, got %d from %d", dropped, waiting, len(got), got[0])
	}
	if s.size() != 0 {
		t.Errorf("%d bytes left", s.size())
	}
	if _, n, err := s.append(batch{text: make([]byte, max+1), lines: 7}); err != nil || n != 7 {
		t.Errorf("a batch larger than the buffer: got %d, %v", n, err)
	}
}

// What is in flight when its segment is given up must not take others along.
func TestDoneOfADroppedSegmentIsHarmless(t *testing.T) {
	s, _ := mustOpen(t, t.TempDir(), 1<<20)
	s.perFile = 1
	mustAppend(t, s, numberedBatch(0, 1))
	mustAppend(t, s, numberedBatch(1, 2))
	_, end, err := s.next(1)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := s.dropOldest(); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	if err := s.done(end); err != nil {
		t.Fatal(err)
	}
	if got := drain(t, s, 1); !slices.Equal(got, []int{1}) {
		t.Errorf("got %v, want 1 alone", got)
	}
}

func TestSpoolLeavesOtherFilesAlone(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"notes.txt", "1.lines", "00000000000000zz.lines"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("mine"), 0o640); err != nil {
			t.Fatal(err)
		}
	}
	s, torn := mustOpen(t, dir, 1<<20)
	if torn != 0 || !s.empty() {
		t.Errorf("took foreign files for its own: %d bytes cut", torn)
	}
	if data, _ := os.ReadFile(filepath.Join(dir, "1.lines")); string(data) != "mine" {
		t.Errorf("changed a foreign file: %q", data)
	}
}
