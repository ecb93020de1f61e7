package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Keep keeps a small value by name, in the place of what was kept by it. It may
// be called by anybody. The error is a *DiskError.
func (s *Store) Keep(ctx context.Context, name, value string) error {
	return s.diskError("save "+name, s.inTx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO kept (name, value) VALUES (?, ?)
			ON CONFLICT (name) DO UPDATE SET value = excluded.value`, name, value)
		return err
	}))
}

// Kept returns what Keep kept last by name, "" for nothing.
func (s *Store) Kept(ctx context.Context, name string) (value string, err error) {
	value, err = one[string](ctx, s.db().read, `SELECT value FROM kept WHERE name = ?`, name)
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
// letters and digits by chance. It is made with the store, and anew where the
// database is a copy, because the transitions that come after it repeat IDs that
// the store it was copied from has given. Where it cannot be kept it comes with
// the error, and holds for this run.
func (s *Store) Garden(ctx context.Context) (id string, err error) {
	birth := birthOf(filepath.Join(s.dir, "telltale.db"))
	id, err = s.Kept(ctx, gardenKept)
	was, err2 := s.Kept(ctx, birthKept)
	if err = errors.Join(err, err2); err == nil && id != "" && was == birth {
		return id, nil
	}
	id = RandomID()
	return id, errors.Join(err, s.Keep(ctx, clientKept, ""), s.SetGarden(ctx, id))
}

// ClientPart returns 12 letters and digits by chance, by which this watch is told
// from every other one at a broker. They are kept, and made anew in a copy of
// the store. Where they cannot be kept they come with the error, and hold for
// this run. Garden is to be asked before.
func (s *Store) ClientPart(ctx context.Context) (part string, err error) {
	if part, err = s.Kept(ctx, clientKept); err == nil && part != "" {
		return part, nil
	}
	part = RandomID()[:12]
	return part, errors.Join(err, s.Keep(ctx, clientKept, part))
}

// SetGarden gives the store the ID of another one, for who watches the same
// garden.
func (s *Store) SetGarden(ctx context.Context, id string) error {
	err := s.inTx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO kept (name, value) VALUES (?, ?), (?, ?)`,
			gardenKept, id, birthKept, birthOf(filepath.Join(s.dir, "telltale.db")))
		return err
	})
	return s.diskError("save the garden's ID", err)
}

// RandomID makes 16 letters and digits by chance, of 80 bits.
func RandomID() string { return strings.ToLower(rand.Text()[:16]) }

// nameKept is the name under which the store keeps its own.
const nameKept = "name of the store"

// identify holds the store's name against the one outside its directory.
func (s *Store) identify(ctx context.Context, db *database, fresh bool) error {
	path := s.opt.IDFile
	outside, _ := os.ReadFile(path)
	there := strings.TrimSpace(string(outside))
	var name string
	err := db.write.QueryRowContext(ctx, `SELECT value FROM kept WHERE name = ?`, nameKept).Scan(&name)
	if errors.Is(err, sql.ErrNoRows) {
		if fresh && there != "" && len(s.replay) == 0 {
			s.lose(fmt.Sprintf("the store was empty or gone, although %s says that there was one; log, history, devices and messages that waited are gone with it", path))
			s.forget()
		}
		name = RandomID()
		_, err = db.write.ExecContext(ctx, `INSERT INTO kept (name, value) VALUES (?, ?)`, nameKept, name)
	}
	if err != nil || name == there {
		return err
	}
	if err := os.WriteFile(path, []byte(name+"\n"), 0o640); err != nil {
		s.opt.Log.Warn().Err(err).Msg("the store's name cannot be kept outside its directory: if the whole store goes, nobody is told")
	}
	return nil
}

// Origin is where the core's time of a run of the watch comes from: it was At
// when the machine was started. Within one start the next run can tell by it
// how long the watch was away.
type Origin struct {
	Boot string // names the start of the machine; "" where that is not known
	At   time.Time
}

// SetOrigin keeps o in the place of that of the run before. The error is a
// *DiskError.
func (s *Store) SetOrigin(ctx context.Context, o Origin) error {
	return s.diskError("save when this run began", s.inTx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO origin (id, boot, at) VALUES (1, ?, ?)
			ON CONFLICT (id) DO UPDATE SET boot = excluded.boot, at = excluded.at`, o.Boot, o.At.UnixNano())
		return err
	}))
}

// Origin returns what SetOrigin kept last, the zero Origin for nothing.
func (s *Store) Origin(ctx context.Context) (o Origin, err error) {
	var at int64
	err = s.db().read.QueryRowContext(ctx, `SELECT boot, at FROM origin`).Scan(&o.Boot, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return Origin{}, nil
	}
	o.At = timeOf(at)
	return o, err
}
