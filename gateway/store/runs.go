package store

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"telltale/alarms"
)

// Run is one run of a drive, as the log of switchings has it. An end that was
// not seen is the zero time.
type Run struct {
	Drive    alarms.DriveID
	Due      time.Time // when the log had it whole
	From, To time.Time
	Inferred bool // from temperatures alone
}

// putRun keeps the run that a line of the log of switchings tells of.
func putRun(ctx context.Context, tx *sql.Tx, seq int64, t alarms.Transition) error {
	s := t.Reason.Switched
	if s == nil || s.Missed || t.Reason.Rule != alarms.RuleSwitching {
		return nil
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO run (seq, house, drive, due, began, ended, inferred) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		seq, t.Reason.House, t.Reason.Drive, t.Due.UnixNano(), nanosOf(s.Ran), nanosOf(s.Stopped), s.Inferred)
	return err
}

func scanRun(r *sql.Rows, run *Run) error {
	var due, began, ended int64
	if err := r.Scan(&run.Drive, &due, &began, &ended, &run.Inferred); err != nil {
		return err
	}
	run.Due, run.From, run.To = timeOf(due), timeOrNone(began), timeOrNone(ended)
	return nil
}

func timeOrNone(nanos int64) time.Time {
	if nanos == 0 {
		return time.Time{}
	}
	return timeOf(nanos)
}

// Runs returns the runs of one drive that touch from..to, oldest first; of the
// runs of one drive at most one goes on at a time.
func (s *Store) Runs(ctx context.Context, h alarms.HouseID, d alarms.DriveID, from, to time.Time) ([]Run, error) {
	const columns = `SELECT drive, due, began, ended, inferred FROM run WHERE house = ?1 AND drive = ?2 AND `
	runs, err := collect(ctx, s.db.read, scanRun, columns+`due >= ?3 AND due < ?4 ORDER BY due`, h, d, from.UnixNano(), to.UnixNano())
	if err != nil {
		return nil, err
	}
	later, err := collect(ctx, s.db.read, scanRun, columns+`due >= ?3 ORDER BY due LIMIT 1`, h, d, to.UnixNano())
	if len(later) > 0 && later[0].touches(from, to) {
		runs = append(runs, later[0])
	}
	return runs, err
}

// touches reports whether any of r may be in from..to.
func (r *Run) touches(from, to time.Time) bool {
	return r.From.Before(to) && (r.To.IsZero() || r.To.After(from))
}

// RunSum is how long a drive ran, and how often it was started, in one cell.
type RunSum struct {
	Ran      time.Duration
	Starts   int
	Inferred time.Duration // part of Ran that is known from temperatures alone
}

// RunSums adds up the runs of one drive over cells that begin at cuts and end
// at the next; the last cut ends the last cell. A run of which one end was not
// seen is left out.
func (s *Store) RunSums(ctx context.Context, h alarms.HouseID, d alarms.DriveID, cuts []time.Time) ([]RunSum, error) {
	if len(cuts) < 2 {
		return nil, nil
	}
	sums := make([]RunSum, len(cuts)-1)
	for _, even := range evenCuts(cuts) {
		if err := s.evenSums(ctx, h, d, cuts, even, sums); err != nil {
			return nil, err
		}
	}
	return sums, nil
}

// evenSums adds up the cells of cuts that even names, which are all of one
// width: what is within one of them in the database, what crosses from one to
// another here.
func (s *Store) evenSums(ctx context.Context, h alarms.HouseID, d alarms.DriveID, cuts []time.Time, even evenCells, sums []RunSum) error {
	lo, hi := cuts[even.first].UnixNano(), cuts[even.end].UnixNano()
	type row struct {
		within, cell, starts, ran, inferred int64
		Run
	}
	// A line of the log is whole within an hour of the run's end.
	rows, err := collect(ctx, s.db.read, func(r *sql.Rows, x *row) error {
		var began, ended int64
		err := r.Scan(&x.within, &x.cell, &x.starts, &x.ran, &x.inferred, &began, &ended)
		x.From, x.To, x.Inferred = timeOrNone(began), timeOrNone(ended), x.inferred > 0
		return err
	}, `SELECT began >= ?3 AND ended < ?4 AND (began - ?3) / ?5 = (ended - ?3) / ?5 AS within, (ended - ?3) / ?5 AS cell,
			count(*), sum(ended - began), sum(inferred * (ended - began)), min(began), max(ended)
		FROM run WHERE house = ?1 AND drive = ?2 AND due >= ?3 AND due < ?6 AND began > 0 AND ended > ?3 AND began < ?4
		GROUP BY within, CASE WHEN began >= ?3 AND ended < ?4 AND (began - ?3) / ?5 = (ended - ?3) / ?5 THEN cell ELSE began END`,
		h, d, lo, hi, even.width, hi+int64(time.Hour))
	if err != nil {
		return err
	}
	later, err := collect(ctx, s.db.read, func(r *sql.Rows, x *row) error { return scanRun(r, &x.Run) },
		`SELECT drive, due, began, ended, inferred FROM run
		WHERE house = ?1 AND drive = ?2 AND due >= ?3 ORDER BY due LIMIT 1`, h, d, hi+int64(time.Hour))
	if err != nil {
		return err
	}
	for _, x := range append(rows, later...) {
		if x.within != 0 {
			c := &sums[even.first+int(x.cell)]
			c.Starts += int(x.starts)
			c.Ran += time.Duration(x.ran)
			c.Inferred += time.Duration(x.inferred)
		} else if !x.From.IsZero() && !x.To.IsZero() && x.touches(cuts[even.first], cuts[even.end]) {
			x.spread(cuts[even.first:even.end+1], sums[even.first:even.end])
		}
	}
	return nil
}

// spread adds r to the cells that it touches.
func (r *Run) spread(cuts []time.Time, sums []RunSum) {
	first, _ := slices.BinarySearchFunc(cuts, r.From, time.Time.Compare)
	for i := max(first-1, 0); i < len(sums) && cuts[i].Before(r.To.Add(1)); i++ {
		from, to := cuts[i], cuts[i+1]
		if !r.From.Before(from) && r.From.Before(to) {
			sums[i].Starts++
		}
		if from.Before(r.From) {
			from = r.From
		}
		if to.After(r.To) {
			to = r.To
		}
		if ran := to.Sub(from); ran > 0 {
			sums[i].Ran += ran
			if r.Inferred {
				sums[i].Inferred += ran
			}
		}
	}
}

// evenCells are cells of one width, from first to before end.
type evenCells struct {
	first, end int
	width      int64 // ns
}

// evenCuts divides cells into stretches of one width: days on the calendar are
// of 23, 24 or 25 hours.
func evenCuts(cuts []time.Time) []evenCells {
	var out []evenCells
	for i := 0; i+1 < len(cuts); i++ {
		width := cuts[i+1].Sub(cuts[i]).Nanoseconds()
		if n := len(out); n > 0 && out[n-1].width == width {
			out[n-1].end = i + 1
			continue
		}
		out = append(out, evenCells{i, i + 1, width})
	}
	return out
}
