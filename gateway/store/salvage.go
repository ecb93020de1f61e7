package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/store/sqlite"
)

const (
	salvageFor    = 15 * time.Second // what is not copied by then stays in the file that was put aside
	salvageRanges = 4096             // of keys, tried in one table
	salvageBatch  = 5000             // rows in a transaction
)

// holdings are what the database keeps, as a person would call it, by its tables,
// the dearest first.
var holdings = []struct {
	what   tongue.Text
	tables []string
}{
	{theState, []string{"core"}},
	{"", []string{"origin", "kept"}}, // which nobody misses
	{"the devices that take pushed alarms", []string{"subscription"}},
	{"the log and the messages", []string{"transition", "run", "outbox", "attempt"}},
	{theHistory, []string{"stream", "summed", "day", "block"}},
}

const (
	theState   tongue.Text = "the state of the alarms"
	theHistory tongue.Text = "the history of readings"
)

func allKept() (all []tongue.Text) {
	for _, k := range holdings {
		if k.what != "" {
			all = append(all, k.what)
		}
	}
	return all
}

// salvager copies what can still be read of one database into a new one.
type salvager struct {
	ctx  context.Context
	from *sql.DB
	to   *sql.DB
	put  *sql.Tx
	rows int // in put

	illegible bool // a row of the table could be read, but not its text
	deadline  time.Time
}

// salvage copies from one database into another, new one, and returns what
// could not be copied whole. Without history that is left out. The error is
// that of the new one, or ErrNewer.
func salvage(ctx context.Context, from, to *sql.DB, history bool) (lost []tongue.Text, err error) {
	var tables int
	err = from.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name IN ('core', 'transition')`).Scan(&tables)
	if err != nil || tables < 2 {
		return allKept(), nil
	}
	if done, err := migrated(ctx, from); err == nil {
		if err := known(done); err != nil {
			return nil, err
		}
	}
	v := &salvager{ctx: ctx, from: from, to: to, deadline: time.Now().Add(salvageFor)}
	if _, err := to.ExecContext(ctx, "PRAGMA foreign_keys(OFF)"); err != nil {
		return nil, err
	}
	for _, k := range holdings {
		if k.what == theHistory && !history {
			lost = append(lost, k.what)
			continue
		}
		whole := true
		for _, t := range k.tables {
			all, err := v.table(t)
			if err != nil {
				return nil, err
			}
			whole = whole && all
		}
		if !whole && k.what != "" {
			lost = append(lost, k.what)
		}
	}
	return lost, v.tidy()
}

// tidy takes out what belongs to nothing any more, and finds the days on which
// there are readings.
func (v *salvager) tidy() error {
	for _, q := range []string{
		`UPDATE outbox SET transition = NULL WHERE transition NOT IN (SELECT id FROM transition)`,
		`DELETE FROM attempt WHERE outgoing NOT IN (SELECT id FROM outbox)`,
		`DELETE FROM run WHERE seq NOT IN (SELECT seq FROM transition)`,
		`DELETE FROM block WHERE (id >> 4) & 1048575 NOT IN (SELECT id FROM stream)`,
		`DELETE FROM day WHERE id & 1048575 NOT IN (SELECT id FROM stream)`,
		`INSERT OR IGNORE INTO span (day, epoch)
			WITH RECURSIVE of (day, last, epoch) AS (
				SELECT first_ms / 86400000, last_ms / 86400000, id >> 24 FROM block
				UNION SELECT day + 1, last, epoch FROM of WHERE day < last AND last - day < 3650)
			SELECT day, epoch FROM of`,
	} {
		if _, err := v.to.ExecContext(v.ctx, q); err != nil {
			return err
		}
	}
	return nil
}

// table copies a table; whole says that all of it was there.
func (v *salvager) table(table string) (whole bool, err error) {
	cols, readable, err := v.columns(table)
	if err != nil || len(cols) == 0 {
		return readable, err // an older version did not have it
	}
	if v.put, err = v.to.BeginTx(v.ctx, nil); err != nil {
		return false, err
	}
	defer func() { _ = v.put.Rollback() }() // after Commit it does nothing
	v.illegible = false
	if table == "kept" { // which has no numbers for keys
		_, whole, err = v.copyOf("SELECT 0, name, value FROM kept", table, cols)
	} else {
		whole, err = v.ranges(table, cols)
	}
	whole = whole && !v.illegible
	if err == nil && !whole && table == "stream" { // an index has all of it too
		_, _, err = v.copyOf("SELECT id, id, probe, quantity FROM stream ORDER BY probe, quantity", table, []string{"id", "probe", "quantity"})
	}
	if err != nil {
		return false, err
	}
	return whole, v.put.Commit()
}

// columns lists those that both databases have.
func (v *salvager) columns(table string) (cols []string, readable bool, err error) {
	q := `SELECT name FROM pragma_table_info(?) ORDER BY cid`
	scan := func(r *sql.Rows, s *string) error { return r.Scan(s) }
	cols, err = sqlite.Collect(v.ctx, v.to, scan, q, table)
	if err != nil {
		return nil, false, err
	}
	old, err := sqlite.Collect(v.ctx, v.from, scan, q, table)
	if err != nil {
		return nil, false, nil
	}
	return slices.DeleteFunc(cols, func(c string) bool { return !slices.Contains(old, c) }), true, nil
}

type keys struct{ from, to int64 }

// ranges copies a table from both ends of each range of keys up to what cannot
// be read, and then the same in the halves between, until nothing is left or
// enough was tried.
func (v *salvager) ranges(table string, cols []string) (whole bool, err error) {
	ok, rest, err := v.both(table, cols, keys{math.MinInt64, math.MaxInt64})
	if ok || err != nil {
		return ok, err
	}
	var queue []keys
	for bit := range 46 { // keys grow, and damage may hide the largest
		k := keys{max(rest.from, 1<<bit>>1), min(rest.to, 1<<bit-1)}
		if k.from <= k.to {
			queue = append(queue, k)
		}
	}
	for tried := 0; len(queue) > 0 && tried < salvageRanges && time.Now().Before(v.deadline); tried++ {
		k := queue[0]
		queue = queue[1:]
		ok, rest, err := v.both(table, cols, k)
		if err != nil {
			return false, err
		}
		if !ok && rest.to > rest.from {
			mid := rest.from + (rest.to-rest.from)/2
			queue = append(queue, keys{rest.from, mid}, keys{mid + 1, rest.to})
		}
	}
	return false, nil
}

// both copies the rows of k from above and, where that ends in damage, from
// below. rest is what lies between.
func (v *salvager) both(table string, cols []string, k keys) (ok bool, rest keys, err error) {
	q := fmt.Sprintf("SELECT rowid, %s FROM %s NOT INDEXED WHERE rowid BETWEEN %d AND %d ORDER BY rowid", strings.Join(cols, ", "), table, k.from, k.to)
	last, ok, err := v.copyOf(q+" DESC", table, cols)
	if ok || err != nil {
		return ok, rest, err
	}
	rest = k
	if last != nil {
		rest.to = *last - 1
	}
	if last, _, err = v.copyOf(q, table, cols); last != nil {
		rest.from = *last + 1
	}
	return false, rest, err
}

// copyOf copies the rows of a query, whose first column is the key. last is
// the key of the last row it read; ok says that the query came to its end.
func (v *salvager) copyOf(query, table string, cols []string) (last *int64, ok bool, err error) {
	rows, err := v.from.QueryContext(v.ctx, query)
	if err != nil {
		return nil, false, nil
	}
	defer rows.Close()
	put := fmt.Sprintf("INSERT OR IGNORE INTO %s (%s) VALUES (?%s)", table, strings.Join(cols, ", "), strings.Repeat(", ?", len(cols)-1))
	var key int64
	row, into := make([]any, len(cols)), []any{&key}
	for i := range row {
		into = append(into, &row[i])
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return last, false, nil
		}
		at := key
		last = &at
		if !legible(table, cols, row) {
			v.illegible = true
			continue
		}
		if _, err := v.put.ExecContext(v.ctx, put, row...); err != nil {
			if !sqlite.NoSpace(err) && !sqlite.Broken(err) {
				continue // a row that its table would not have taken
			}
			return last, false, err
		}
		if v.rows++; v.rows%salvageBatch == 0 {
			if time.Now().After(v.deadline) {
				return last, false, nil
			}
			if err := errors.Join(v.put.Commit(), v.begin()); err != nil {
				return last, false, err
			}
		}
	}
	return last, rows.Err() == nil, nil
}

// legible reports whether a row says something: where a page is gone there may
// be zeros in the place of its text.
func legible(table string, cols []string, row []any) bool {
	bytesOf := func(col string) []byte {
		b, _ := row[slices.Index(cols, col)].([]byte)
		return b
	}
	switch table {
	case "transition":
		return json.Valid(bytesOf("body"))
	case "outbox":
		return !bytes.Contains(bytesOf("body"), []byte{0})
	case "block":
		n, _ := row[slices.Index(cols, "n")].(int64)
		return unpack(bytesOf("data"), int(n), func(point) {}) == nil
	}
	return true
}

func (v *salvager) begin() (err error) {
	v.put, err = v.to.BeginTx(v.ctx, nil)
	return err
}
