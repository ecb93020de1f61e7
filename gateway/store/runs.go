package store

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
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

// Runs returns the runs of one drive that touch from..to, oldest first; of the
// runs of one drive at most one goes on at a time.
func (l *Log) Runs(ctx context.Context, h alarms.HouseID, d alarms.DriveID, from, to time.Time) ([]Run, error) {
	const columns = `SELECT drive, due, began, ended, inferred FROM run WHERE house = ?1 AND drive = ?2 AND `
	runs, err := sqlite.Collect(ctx, l.disk.db().Read, scanRun, columns+`due >= ?3 AND due < ?4 ORDER BY due`, h, d, from.UnixNano(), to.UnixNano())
	if err != nil {
		return nil, err
	}
	later, err := sqlite.Collect(ctx, l.disk.db().Read, scanRun, columns+`due >= ?3 ORDER BY due LIMIT 1`, h, d, to.UnixNano())
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
// at the next; the last cut ends the last cell. Runs of which one end was not
// seen are not in the sums; half are those, oldest first, at most halfMost.
func (l *Log) RunSums(ctx context.Context, h alarms.HouseID, d alarms.DriveID, cuts []time.Time) (sums []RunSum, half []Run, err error) {
	if len(cuts) < 2 {
		return nil, nil, nil
	}
	type all struct {
		sums []RunSum
		half []Run
	}
	found, err := sqlite.Within(ctx, func() (all, error) {
		sums, half, err := l.runSums(ctx, h, d, cuts)
		return all{sums, half}, err
	})
	return found.sums, found.half, err
}

func (l *Log) runSums(ctx context.Context, h alarms.HouseID, d alarms.DriveID, cuts []time.Time) (sums []RunSum, half []Run, err error) {
	edges := make([]int64, len(cuts))
	for i, c := range cuts {
		edges[i] = c.UnixNano()
	}
	sums = make([]RunSum, len(cuts)-1)
	lo, hi := edges[0], edges[len(edges)-1]
	const columns = `SELECT due, began, ended, inferred FROM run WHERE house = ? AND drive = ? AND due >= ?`
	for _, q := range []struct {
		text string
		args []any
	}{
		{columns + ` AND due < ?`, []any{h, d, lo, hi}},
		{columns + ` ORDER BY due LIMIT 1`, []any{h, d, hi}}, // it may have begun before hi
	} {
		rows, err := l.disk.db().Read.QueryContext(ctx, q.text, q.args...)
		if err != nil {
			return nil, nil, err
		}
		more, err := spread(rows, edges, sums)
		if err != nil {
			return nil, nil, err
		}
		half = append(half, more...)
	}
	for i := range half {
		half[i].Drive = d
	}
	return sums, half[:min(len(half), halfMost)], nil
}

// halfMost bounds what is looked for one by one.
const halfMost = 50

// spread adds every run to the cells that it touches, and returns those of
// which one end was not seen.
func spread(rows *sql.Rows, edges []int64, sums []RunSum) (half []Run, err error) {
	defer rows.Close()
	for rows.Next() {
		var due, began, ended int64
		var inferred bool
		if err := rows.Scan(&due, &began, &ended, &inferred); err != nil {
			return nil, err
		}
		if began == 0 || ended == 0 {
			half = append(half, Run{Due: timeOf(due), From: timeOrNone(began), To: timeOrNone(ended), Inferred: inferred})
			continue
		}
		if ended < edges[0] {
			continue
		}
		first, found := slices.BinarySearch(edges, began)
		if !found {
			first--
		}
		for i := max(first, 0); i < len(sums) && edges[i] <= ended; i++ {
			if i == first {
				sums[i].Starts++
			}
			ran := time.Duration(max(0, min(ended, edges[i+1])-max(began, edges[i])))
			sums[i].Ran += ran
			if inferred {
				sums[i].Inferred += ran
			}
		}
	}
	return half, rows.Err()
}
