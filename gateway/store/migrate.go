package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"telltale/gateway/store/sqlite"
)

//go:embed migration/*.sql
var migrations embed.FS

// migrate brings the schema up to date: the files of dir in the order of their
// names, each in a transaction of its own that also records the name. A
// recorded name that dir does not have means a newer program was here.
func migrate(ctx context.Context, db *sql.DB, dir fs.FS) error {
	names, err := fs.Glob(dir, "migration/*.sql")
	if err != nil {
		return err
	}
	slices.Sort(names)
	done, err := migrated(ctx, db)
	if err != nil {
		return err
	}
	if err := knownIn(names, done); err != nil {
		return err
	}
	for _, n := range names {
		short := strings.TrimPrefix(n, "migration/")
		if slices.Contains(done, short) {
			continue
		}
		if err := step(ctx, db, dir, n, short); err != nil {
			return fmt.Errorf("schema step %s: %w", short, err)
		}
	}
	return nil
}

// known refuses the steps of a newer program.
func known(done []string) error {
	names, err := fs.Glob(migrations, "migration/*.sql")
	if err != nil {
		return err
	}
	slices.Sort(names)
	return knownIn(names, done)
}

func knownIn(names, done []string) error {
	for _, d := range done {
		if !slices.Contains(names, "migration/"+d) {
			return fmt.Errorf("%w: it has the schema step %q, the last one known here is %q; run the newer program, or restore a copy made before it",
				ErrNewer, d, strings.TrimPrefix(names[len(names)-1], "migration/"))
		}
	}
	return nil
}

// migrated lists the recorded steps; none for a new database.
func migrated(ctx context.Context, db *sql.DB) ([]string, error) {
	var there int
	err := db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'migration'`).Scan(&there)
	if err != nil || there == 0 {
		return nil, err
	}
	return sqlite.Collect(ctx, db, func(r *sql.Rows, s *string) error { return r.Scan(s) },
		`SELECT name FROM migration ORDER BY name`)
}

func step(ctx context.Context, db *sql.DB, dir fs.FS, path, name string) error {
	text, err := fs.ReadFile(dir, path)
	if err != nil {
		return err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
	for _, q := range []string{`CREATE TABLE IF NOT EXISTS migration (name TEXT PRIMARY KEY)`, string(text)} {
		if _, err := tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO migration (name) VALUES (?)`, name); err != nil {
		return err
	}
	return tx.Commit()
}
