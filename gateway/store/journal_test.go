package store

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// write makes a journal of flushes and returns its one segment and where each
// flush ends.
func write(t testing.TB, flushes [][]alarms.Input) (path string, ends []int64) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "store")
	s := open(t, dir, Options{})
	for _, f := range flushes {
		for _, in := range f {
			s.Append(in)
		}
		ok(t, s.Sync())
		ends = append(ends, s.journal.off)
	}
	ok(t, s.Close())
	return filepath.Join(dir, segmentName(1)), ends
}

// plain makes flushes of n readings each.
func plain(flushes, n int) [][]alarms.Input {
	all := make([][]alarms.Input, flushes)
	for i := range all {
		for k := range n {
			all[i] = append(all[i], reading(start.Add(time.Duration(i)*time.Second), []string{"bench-1", "ridge", "low-1"}[k%3], float64(i*n+k)/4))
		}
	}
	return all
}

func join(flushes [][]alarms.Input) (all []alarms.Input) {
	for _, f := range flushes {
		all = append(all, f...)
	}
	return all
}

func TestATornTailIsCutWhereverItTears(t *testing.T) {
	flushes := plain(12, 7)
	path, ends := write(t, flushes)
	whole, err := os.ReadFile(path)
	ok(t, err)
	last := len(ends) - 1
	for cut := ends[last-1] + 1; cut < ends[last]; cut++ {
		for what, b := range map[string][]byte{
			"short":   whole[:cut],
			"zeros":   append(bytes.Clone(whole[:cut]), make([]byte, len(whole)-int(cut))...),
			"garbage": append(bytes.Clone(whole[:cut]), bytes.Repeat([]byte{0xa5}, 5000)...),
		} {
			if bytes.Equal(bytes.TrimRight(b, "\x00"), bytes.TrimRight(whole, "\x00")) {
				continue // the frame ended in zeros: nothing is missing
			}
			dir := filepath.Dir(path)
			ok(t, os.WriteFile(path, b, 0o600))
			s := open(t, dir, Options{})
			_, got := recovered(t, s)
			same(t, what, got, join(flushes[:last]))
			if s.Stats().CutTails != 1 {
				t.Fatalf("%s at %d: %d torn tails counted", what, cut, s.Stats().CutTails)
			}
			ok(t, s.Close())
			s = open(t, dir, Options{})
			if s.Stats().CutTails != 0 {
				t.Fatalf("%s: the tail was not cut", what)
			}
			ok(t, s.Close())
			if t.Failed() {
				return
			}
		}
	}
}

func TestGoodFramesAfterADamagedPageAreUsed(t *testing.T) {
	flushes := plain(400, 30) // several pages
	path, ends := write(t, flushes)
	whole, err := os.ReadFile(path)
	ok(t, err)
	copy(whole[pageSize:], bytes.Repeat([]byte{0xff}, pageSize))
	ok(t, os.WriteFile(path, whole, 0o600))
	var want []alarms.Input
	for i, f := range flushes {
		begin := int64(segmentHead)
		if i > 0 {
			begin = ends[i-1]
		}
		if ends[i] <= pageSize || begin >= 2*pageSize-200 {
			want = append(want, f...)
		}
	}
	s := open(t, filepath.Dir(path), Options{})
	defer s.Close()
	_, got := recovered(t, s)
	if len(want) == 0 || len(got) < len(want) || len(got) >= len(join(flushes)) {
		t.Fatalf("%d inputs of %d, at least %d were readable", len(got), len(join(flushes)), len(want))
	}
	same(t, "the last input", got[len(got)-1], flushes[399][29])
	if st := s.Stats(); st.Damaged != 1 || st.CutTails != 0 {
		t.Fatalf("%+v: want one damaged place", st)
	}
}

func TestFramesStayWithinAPage(t *testing.T) {
	path, ends := write(t, plain(300, 33))
	b, err := os.ReadFile(path)
	ok(t, err)
	if len(b)%fillAhead != 0 {
		t.Fatalf("size %d is not filled ahead", len(b))
	}
	inPage := 0
	for i := 1; i < len(ends); i++ {
		if (ends[i]-1)/pageSize == ends[i-1]/pageSize || ends[i-1]%pageSize == 0 {
			inPage++
		}
		if ends[i]-ends[i-1] > 2*pageSize {
			t.Fatal("a hole between frames")
		}
	}
	found, _ := readSegment(b, 1, func(alarms.Input) bool { return true })
	same(t, "frames", found, scan{frames: 300, inputs: 300 * 33, end: ends[299]})
}

func TestSegmentsRotateAndAreAllRead(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	var want []alarms.Input
	note := strings.Repeat("x", 100_000)
	for i := range 60 {
		in := alarms.Input{At: start.Add(time.Duration(i) * time.Second), Kind: alarms.GarbledIn, Probe: "ridge", Note: note}
		want = append(want, in)
		s.Append(in)
		ok(t, s.Sync())
	}
	ok(t, s.Close())
	files, err := segments(dir)
	ok(t, err)
	if len(files) != 2 {
		t.Fatalf("segments %v, want two", files)
	}
	s = open(t, dir, Options{})
	defer s.Close()
	_, got := recovered(t, s)
	same(t, "inputs", got, want)
	ok(t, s.Checkpoint(nil))
	if files, err = segments(dir); err != nil || len(files) != 1 {
		t.Fatalf("segments %v after a checkpoint (%v), want the next alone", files, err)
	}
}

func TestStaleFramesAreNotTaken(t *testing.T) {
	path, _ := write(t, plain(3, 3))
	b, err := os.ReadFile(path)
	ok(t, err)
	// The same bytes under the next number, as old disk blocks would hold them.
	copy(b, appendSegmentHead(nil, 2))
	found, _ := readSegment(b, 2, func(alarms.Input) bool { return true })
	if found.frames != 0 || !found.torn {
		t.Fatalf("%+v: frames of another segment were taken", found)
	}
}

func TestTimesFarAwayComeBack(t *testing.T) {
	var in []alarms.Input
	for _, at := range []time.Time{{}, time.Unix(0, 0), time.Unix(-1, 999_999_999), time.Date(9999, 12, 31, 23, 59, 59, 999_999_999, time.UTC),
		start.Add(1), start.Add(999_999)} {
		r := reading(at.UTC(), "bench-1", 1)
		r.Measured = start.Add(5)
		in = append(in, r, alarms.Input{At: at.UTC(), Kind: alarms.Shelve, Until: start.Add(123_456_789), Alarm: "a", By: "b"})
	}
	path, _ := write(t, [][]alarms.Input{in})
	s := open(t, filepath.Dir(path), Options{})
	defer s.Close()
	_, got := recovered(t, s)
	same(t, "inputs", got, in)
}

func TestValuesComeBackBitByBit(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	values := []float64{0, math.Copysign(0, -1), math.NaN(), math.Inf(1), math.MaxFloat64, math.SmallestNonzeroFloat64, 0.1, -127, 85, 1e-6, 1e-7, 1 << 53}
	for range 2000 {
		values = append(values, math.Float64frombits(r.Uint64()), math.Round(r.NormFloat64()*1e4)/100, r.NormFloat64())
	}
	var b []byte
	var d decoder
	d.streams = []name{{"p", "q"}}
	prev, guess := int64(0), 0
	b = appendZigzag(b, 0)
	for _, v := range values {
		b, guess = appendReading(b, alarms.Input{At: time.UnixMilli(0), Kind: alarms.ReadingIn, Value: v}, 0, prev, min(guess, maxExp))
	}
	i := 0
	_, _, err := d.frame(b, func(in alarms.Input) bool {
		if math.Float64bits(in.Value) != math.Float64bits(values[i]) {
			t.Fatalf("got %v, want %v", in.Value, values[i])
		}
		i++
		return true
	})
	ok(t, err)
	same(t, "values", i, len(values))

	var p packer
	for i, v := range values {
		p.add(point{int64(i * i), v})
	}
	i = 0
	ok(t, unpack(p.data, p.n, func(pt point) {
		if pt.ms != int64(i*i) || math.Float64bits(pt.value) != math.Float64bits(values[i]) {
			t.Fatalf("got %v, want %v", pt, values[i])
		}
		i++
	}))
}

func TestACommonReadingIsSmall(t *testing.T) {
	flushes := plain(100, 33)
	_, ends := write(t, flushes)
	per := float64(ends[99]) / 3300
	if per > 12 {
		t.Fatalf("%.1f bytes a reading in the journal, at most 12 are aimed at", per)
	}
	var p packer
	for i := range 120 {
		p.add(point{start.UnixMilli() + int64(i*30_000+i%7), 20 + float64(i%9)/100})
	}
	if per := float64(len(p.data)) / 120; per > 4 {
		t.Fatalf("%.1f bytes a reading in a block, at most 4 are aimed at", per)
	}
}

// A frame that ends just before its page does leaves no room for another one, and
// what is read there is no damage.
func TestAFrameMayEndAnywhereInItsPage(t *testing.T) {
	said := func(n int, note string) alarms.Input {
		return alarms.Input{At: start.Add(time.Duration(n) * time.Second), Kind: alarms.Acknowledge, Alarm: "a", Note: note}
	}
	flush := func(j *journal, in alarms.Input) {
		j.add(in, nil)
		ok(t, j.flush())
	}
	probe := newJournal(t.TempDir(), 1, 1<<20, nil)
	flush(probe, said(0, strings.Repeat("x", 1000)))
	around := int(probe.off) - 1000 // the note, in the first page
	ok(t, probe.rotate())
	for rest := range 12 {
		j := newJournal(t.TempDir(), 1, 1<<20, nil)
		flush(j, said(0, strings.Repeat("x", pageSize-rest-around)))
		same(t, "end of the first frame", j.off, int64(pageSize-rest))
		for n := range 3 {
			flush(j, said(n+1, "y"))
		}
		b, err := os.ReadFile(j.file.Name())
		ok(t, err)
		if found, _ := readSegment(b, 1, func(alarms.Input) bool { return true }); found.frames != 4 || found.damaged != 0 || found.torn || wrecked(b, found.end) {
			t.Errorf("with %d bytes left: %+v", rest, found)
		}
		cut := b[:pageSize+frameHead] // the second frame was cut short
		if found, _ := readSegment(cut, 1, func(alarms.Input) bool { return true }); found.frames != 1 || found.damaged != 0 || wrecked(cut, found.end) {
			t.Errorf("with %d bytes left, cut short: %+v", rest, found)
		}
		ok(t, j.rotate())
	}
}
