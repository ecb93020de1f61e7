package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"path/filepath"
	"strings"
	"time"

	"telltale/gateway/store/sqlite"
)

// Notes are small things that one run keeps for the next. All of it may be called
// by anybody.
type Notes struct{ disk *disk }

// Keep keeps a small value by name, in the place of what was kept by it. The error
// is a *DiskError.
func (n *Notes) Keep(ctx context.Context, name, value string) error {
	_, err := n.disk.changed(ctx, "save "+name, `INSERT INTO kept (name, value) VALUES (?, ?)
		ON CONFLICT (name) DO UPDATE SET value = excluded.value`, name, value)
	return err
}

// Kept returns what Keep kept last by name, "" for nothing.
func (n *Notes) Kept(ctx context.Context, name string) (value string, err error) {
	value, err = sqlite.One[string](ctx, n.disk.db().Read, `SELECT value FROM kept WHERE name = ?`, name)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return value, err
}

const (
	gardenKept = "garden"
	birthKept  = "birth of the database"
	clientKept = "client"
)

// Garden returns the ID that stands in all messages about this garden: 16
// letters and digits by chance. It is made with the store, and again where the
// database is a copy, because the transitions that come after it repeat IDs that
// the store it was copied from has given. Where it cannot be kept it comes with
// the error, and holds for this run.
func (n *Notes) Garden(ctx context.Context) (id string, err error) {
	birth := sqlite.BirthOf(filepath.Join(n.disk.dir, dbName))
	id, err = n.Kept(ctx, gardenKept)
	was, err2 := n.Kept(ctx, birthKept)
	if err = errors.Join(err, err2); err == nil && id != "" && was == birth {
		return id, nil
	}
	id = randomID()
	return id, errors.Join(err, n.Keep(ctx, clientKept, ""), n.setGarden(ctx, id))
}

// ClientPart returns 12 letters and digits by chance, by which this watch is told
// from every other one at a broker. They are kept, and made again in a copy of
// the store. Where they cannot be kept they come with the error, and hold for
// this run. Garden is to be asked before.
func (n *Notes) ClientPart(ctx context.Context) (part string, err error) {
	if part, err = n.Kept(ctx, clientKept); err == nil && part != "" {
		return part, nil
	}
	part = randomID()[:12]
	return part, errors.Join(err, n.Keep(ctx, clientKept, part))
}

func (n *Notes) setGarden(ctx context.Context, id string) error {
	_, err := n.disk.changed(ctx, "save the garden's ID", `INSERT OR REPLACE INTO kept (name, value) VALUES (?, ?), (?, ?)`,
		gardenKept, id, birthKept, sqlite.BirthOf(filepath.Join(n.disk.dir, dbName)))
	return err
}

// randomID makes 16 letters and digits by chance, of 80 bits.
func randomID() string { return strings.ToLower(rand.Text()[:16]) }

// Origin is where the core's time of a run of the watch comes from: it was At
// when the machine was started. Within one start the next run can tell by it
// how long the watch was away.
type Origin struct {
	Boot string // names the start of the machine; "" where that is not known
	At   time.Time
}

// SetOrigin keeps o in the place of that of the run before. The error is a
// *DiskError.
func (n *Notes) SetOrigin(ctx context.Context, o Origin) error {
	_, err := n.disk.changed(ctx, "save when this run began", `INSERT INTO origin (id, boot, at) VALUES (1, ?, ?)
		ON CONFLICT (id) DO UPDATE SET boot = excluded.boot, at = excluded.at`, o.Boot, o.At.UnixNano())
	return err
}

// Origin returns what SetOrigin kept last, the zero Origin for nothing.
func (n *Notes) Origin(ctx context.Context) (o Origin, err error) {
	var at int64
	err = n.disk.db().Read.QueryRowContext(ctx, `SELECT boot, at FROM origin`).Scan(&o.Boot, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return Origin{}, nil
	}
	o.At = timeOf(at)
	return o, err
}
