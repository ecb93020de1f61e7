package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/rs/zerolog"

	"telltale/alarms/say"
	"telltale/gateway/store/sqlite"
)

// losses are what was kept and is gone, as tongue.Keep has it, until somebody takes them.
// They are kept in the database until a checkpoint after that, which has what
// was made of them.
type losses struct {
	log zerolog.Logger

	mu   sync.Mutex
	new  []string
	told []string
	kept bool

	knows  atomic.Bool // the core has the state that is on the disk
	forgot atomic.Bool // the state of the alarms was lost
}

func (l *losses) lose(words string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if slices.Contains(l.told, words) {
		return
	}
	l.told = append(l.told, words)
	l.new = append(l.new, words)
	l.log.Error().Msg(say.English(words))
}

// forget notes that the state of the alarms is lost, if the core has it not.
func (l *losses) forget() {
	if !l.knows.Load() {
		l.forgot.Store(true)
	}
}

// take returns what was lost since it was last asked.
func (l *losses) take() []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	all := l.new
	l.new = nil
	return all
}

// taken reports whether somebody has taken what is kept of losses.
func (l *losses) taken() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.kept && len(l.new) == 0
}

const lossesKept = "losses"

// lost is what is kept of losses.
type lost struct {
	Words  []string
	Forgot bool // the state of the alarms is among them
}

// keep keeps what is not taken yet, with what an earlier run left so.
func (l *losses) keep(ctx context.Context, db *sqlite.Database) error {
	var text string
	err := db.Write.QueryRowContext(ctx, `SELECT value FROM kept WHERE name = ?`, lossesKept).Scan(&text)
	if err == nil {
		var before lost
		if err := json.Unmarshal([]byte(text), &before); err != nil {
			return err
		}
		for _, words := range before.Words {
			l.lose(words)
		}
		if before.Forgot {
			l.forget()
		}
	} else if !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.kept = len(l.new) > 0; !l.kept {
		return nil
	}
	value, err := json.Marshal(lost{l.new, l.forgot.Load()})
	if err == nil {
		_, err = db.Write.ExecContext(ctx, `INSERT OR REPLACE INTO kept (name, value) VALUES (?, ?)`, lossesKept, value)
	}
	return err
}

// clear takes what is kept out of the database, within a checkpoint; done is for
// when that has succeeded.
func (l *losses) clear(ctx context.Context, tx *sql.Tx) (done func(), err error) {
	if !l.taken() {
		return func() {}, nil
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM kept WHERE name = ?`, lossesKept)
	return func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.kept = false
	}, err
}
