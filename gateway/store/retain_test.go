package store

import (
	"context"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store/sqlite"
)

// upkeep calls Retain until nothing is left to do.
func upkeep(t testing.TB, s *Store, now time.Time) {
	t.Helper()
	for range 10_000 {
		more, err := s.Retain(context.Background(), now)
		ok(t, err)
		if !more {
			return
		}
	}
	t.Fatal("Retain finds no end")
}

func tables(t testing.TB, s *Store) (blocks, days int) {
	t.Helper()
	ok(t, s.disk.db().Write.QueryRow(`SELECT (SELECT count(*) FROM block), (SELECT count(*) FROM day)`).Scan(&blocks, &days))
	return blocks, days
}

// sameSums compares with what rounding the 10-minute means allows.
func sameSums(t testing.TB, what string, got, want []Bucket) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d buckets, want %d", what, len(got), len(want))
	}
	for i, g := range got {
		w := want[i]
		if math.Abs(g.Mean-w.Mean) > 6e-4+1e-9*max(math.Abs(w.Min), math.Abs(w.Max)) {
			t.Fatalf("%s: bucket %d: mean %v, want %v", what, i, g.Mean, w.Mean)
		}
		g.Mean = w.Mean
		same(t, fmt.Sprintf("%s: bucket %d", what, i), g, w)
	}
}

func TestRetentionAgainstNaive(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	r := rand.New(rand.NewPCG(seed, 1))
	what := fmt.Sprintf("seed %d", seed)
	n := naive{}
	s := fresh(t, Options{RawFor: 12 * day, SumFor: 30 * day})
	begin := start.Truncate(day)
	at := begin
	for range 50 {
		for range 2 {
			feed(s, n, r, at, at.Add(day/2), 6*time.Minute)
			at = at.Add(day / 2)
			ok(t, s.Checkpoint(nil))
		}
		upkeep(t, s, at)
	}
	ctx := context.Background()
	rawFrom, sumFrom := at.Add(-12*day), at.Add(-30*day).Add(day)
	for _, p := range []string{"bench-1", "ridge", "low-1"} {
		probe := alarms.ProbeID(p)
		got, err := s.History.Readings(ctx, probe, alarms.Temperature, rawFrom, at, 0)
		ok(t, err)
		same(t, what, got, n.readings(p, rawFrom, at))
		for _, points := range []int{8, 40, 200, 900, 4500} {
			width := bucketWidth(sumFrom, at, points)
			got, err := s.History.Buckets(ctx, probe, alarms.Temperature, sumFrom, at, points)
			ok(t, err)
			want := n.buckets(p, sumFrom, at, width)
			if width > day { // the first bucket reaches beyond what is kept
				got, want = got[1:], want[1:]
			}
			sameSums(t, what+" "+width.String(), got, want)
		}
		// Finer than is kept: 10-minute values where raw readings are gone.
		old := begin.Add(30 * day)
		fine, err := s.History.Buckets(ctx, probe, alarms.Temperature, old, old.Add(time.Hour), 1000)
		ok(t, err)
		tens := n.buckets(p, old, old.Add(time.Hour), 10*time.Minute)
		for i := range tens {
			tens[i].Width = 5 * time.Second
		}
		sameSums(t, what+" fine", fine, tens)
	}
	// A reading that came late stays as long as those it came with.
	if got, err := s.History.Readings(ctx, "ridge", alarms.Temperature, begin.Add(-10*day), rawFrom.Add(-9*day), 0); err != nil || len(got) != 0 {
		t.Fatalf("%d raw readings are left from before (%v)", len(got), err)
	}
	blocks, days := tables(t, s)
	if blocks == 0 || blocks > 3*2*(12+8) || days == 0 || days > 3*31 {
		t.Fatalf("%d blocks and %d days are left", blocks, days)
	}
	size := func() (pages int) { ok(t, s.disk.db().Write.QueryRow(`PRAGMA page_count`).Scan(&pages)); return pages }
	before := size()
	for range 10 { // freed pages are used again
		feed(s, n, r, at, at.Add(day), 6*time.Minute)
		at = at.Add(day)
		ok(t, s.Checkpoint(nil))
		upkeep(t, s, at)
	}
	if after := size(); after > before+before/5 {
		t.Fatalf("the file grew from %d to %d pages though as much is removed as comes", before, after)
	}
}

func TestAWrongClockDoesNotSpoilTheSums(t *testing.T) {
	n := naive{}
	s := fresh(t, Options{})
	put := func(at time.Time, v float64) {
		in := reading(at, "bench-1", v)
		s.Append(in)
		n.add(in)
	}
	put(time.Unix(100, 0).UTC(), 1) // a board without a clock starts in 1970
	for i := range 100 {
		put(start.Add(time.Duration(i)*time.Minute), float64(i))
	}
	put(start.Add(4000*day), 2) // and far ahead for a moment
	ok(t, s.Checkpoint(nil))
	upkeep(t, s, start.Add(20*day)) // sums up the day, early as it turns out
	for i := range 100 {
		put(start.Add(time.Duration(100+i)*time.Minute), float64(i)/4)
	}
	for round := range 3 {
		if round == 1 {
			ok(t, s.Checkpoint(nil))
		}
		got, err := s.History.Buckets(context.Background(), "bench-1", alarms.Temperature, start, start.Add(6*time.Hour), 50)
		ok(t, err)
		sameSums(t, "buckets", got, n.buckets("bench-1", start, start.Add(6*time.Hour), 10*time.Minute))
		upkeep(t, s, start.Add(20*day))
	}
}

func TestADayIsNotSummedUpWhileMemoryHoldsSomeOfIt(t *testing.T) {
	s := fresh(t, Options{})
	s.Append(reading(start, "bench-1", 1))
	ok(t, s.Checkpoint(nil))
	s.Append(reading(start.Add(time.Hour), "bench-1", 2))
	upkeep(t, s, start.Add(30*day))
	if _, days := tables(t, s); days != 0 {
		t.Fatal("summed up without what is in memory")
	}
	ok(t, s.Checkpoint(nil))
	upkeep(t, s, start.Add(30*day))
	got, err := s.History.Buckets(context.Background(), "bench-1", alarms.Temperature, start, start.Add(5*day), 5)
	ok(t, err)
	same(t, "day", got, []Bucket{{Start: start.Truncate(2 * day), Width: 2 * day, N: 2, Min: 1, Mean: 1.5, Max: 2}})
}

func TestManyStreamsAreSummedUpInPieces(t *testing.T) {
	s := fresh(t, Options{})
	const many = 2*streamsPerCall + 1
	for i := range many {
		s.Append(reading(start.Add(time.Duration(i)*time.Second), fmt.Sprintf("bench-%d", i), float64(i)))
	}
	ok(t, s.Checkpoint(nil))
	calls, more := 0, true
	for more {
		var err error
		_, before := tables(t, s)
		more, err = s.Retain(context.Background(), start.Add(20*day))
		ok(t, err)
		if _, after := tables(t, s); after-before > streamsPerCall {
			t.Fatalf("%d streams in one call", after-before)
		}
		// Half done or done, the answer is the same.
		got, err := s.History.Buckets(context.Background(), "bench-150", alarms.Temperature, start, start.Add(day), 3)
		ok(t, err)
		if len(got) != 1 || got[0].N != 1 || got[0].Mean != 150 {
			t.Fatalf("after %d calls: %+v", calls, got)
		}
		calls++
	}
	_, days := tables(t, s)
	same(t, "days", days, many)
}

func TestOldTransitionsGoWithWhatWasToldOfThem(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	old, young := raise(1, start), raise(2, start.Add(100*day))
	ok(t, s.Save([]alarms.Transition{old, young}, []reach.Outgoing{telling(old, "robin", 0), telling(young, "robin", 0),
		{ID: "test/1", NotBefore: start}}))
	for _, id := range []string{old.ID + "/robin", young.ID + "/robin", "test/1"} {
		ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: id, At: start, Outcome: Told, Next: time.Time{}}))
	}
	upkeep(t, s, start.Add(5*365*day+time.Hour))
	all, err := s.Log.Transitions(ctx, LogQuery{})
	ok(t, err)
	same(t, "log", all, []alarms.Transition{young})
	if left := attempts(t, s); len(left) != 1 || left[0].Outgoing != young.ID+"/robin" {
		t.Fatalf("attempts left: %+v", left)
	}
	same(t, "outbox", counts(t, s), OutboxCounts{Told: 1})
}

func TestSlotsComeBack(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 300 {
		d := daySum{start: 20_000 * dayMillis}
		for range r.IntN(400) {
			v := math.Round(r.NormFloat64()*1e3) / []float64{1, 10, 100, 64}[r.IntN(4)]
			if r.IntN(50) == 0 {
				v = []float64{1e300, -1e300, 1.4e14, 1e-6, math.Copysign(0, -1), r.Float64()}[r.IntN(6)]
			}
			d.add(point{d.start + r.Int64N(dayMillis), v})
		}
		whole, data := d.pack()
		slots, err := unpackSlots(data, 20_000)
		ok(t, err)
		total, i := extent{}, 0
		for number, want := range d.slots {
			if want.n == 0 {
				continue
			}
			got := slots[i]
			i++
			if got.number != number || got.n != want.n || got.min != want.min || got.max != want.max ||
				math.Abs(got.mean()-want.mean()) > 6e-4+1e-9*max(math.Abs(want.min), math.Abs(want.max)) {
				t.Fatalf("slot %d: got %+v, want %+v", number, got, want)
			}
			total.join(want)
		}
		if i != len(slots) || whole.n != total.n || whole.min != total.min || whole.max != total.max {
			t.Fatalf("whole day %+v, want %+v", whole, total)
		}
	}
}

func TestMigrationsRunOnceInOrderAndNeverHalf(t *testing.T) {
	db, err := sqlite.Open(filepath.Join(t.TempDir(), "x.db"), 1, nil)
	ok(t, err)
	defer db.Close()
	ctx := context.Background()
	file := func(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }
	dir := fstest.MapFS{
		"migration/0002_b.sql": file("ALTER TABLE a ADD COLUMN y INTEGER; INSERT INTO a VALUES (1, 2);"),
		"migration/0001_a.sql": file("CREATE TABLE a (x INTEGER);"),
	}
	for range 2 {
		ok(t, migrate(ctx, db.Write, dir))
	}
	rows := func() (n int) { ok(t, db.Write.QueryRow("SELECT count(*) FROM a").Scan(&n)); return n }
	same(t, "rows", rows(), 1)

	dir["migration/0003_c.sql"] = file("INSERT INTO a VALUES (3, 4); INSERT INTO nowhere VALUES (1);")
	if err := migrate(ctx, db.Write, dir); err == nil || !strings.Contains(err.Error(), "0003_c.sql") {
		t.Fatalf("got %v, want an error that names the step", err)
	}
	same(t, "rows after a failed step", rows(), 1)
	dir["migration/0003_c.sql"] = file("INSERT INTO a VALUES (3, 4);")
	ok(t, migrate(ctx, db.Write, dir))
	same(t, "rows", rows(), 2)
	var fsys fs.FS = fstest.MapFS{"migration/0001_a.sql": dir["migration/0001_a.sql"]}
	if err := migrate(ctx, db.Write, fsys); err == nil || !strings.Contains(err.Error(), `"0002_b.sql"`) {
		t.Fatalf("an older program went on: %v", err)
	}
}
