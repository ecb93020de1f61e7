package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// MaxSubscriptions is how many devices one person may have.
const MaxSubscriptions = 20

// ErrSubscriptions: a person has as many devices as are kept.
var ErrSubscriptions = errors.New("this person has as many devices as are kept; remove one first")

// Subscription is a device that takes pushed alarms for one person.
type Subscription struct {
	ID       int64
	Person   string
	Label    string // what people call the device
	Endpoint string // empty: gone
	P256DH   []byte // public key of the device
	Auth     []byte // secret that it shared
	Made     time.Time
	Told     time.Time // when its push service last took a message; zero: never
	Failed   time.Time // when it last did not
	Error    string    // why; empty: it took one since
	Gone     time.Time // when the push service no longer knew it; zero: it does
}

// Subscribe keeps a device and returns its ID. A device is known by its
// endpoint: one that comes again keeps its ID, and what is new about it counts.
// ErrSubscriptions: the person has MaxSubscriptions already; of devices that
// are gone the oldest makes room.
func (s *Store) Subscribe(ctx context.Context, d Subscription) (id int64, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		if err := makeRoom(ctx, tx, d); err != nil {
			return err
		}
		return tx.QueryRowContext(ctx, `INSERT INTO subscription (person, label, endpoint, p256dh, auth, made) VALUES (?, ?, ?, ?, ?, ?)
			ON CONFLICT (endpoint) DO UPDATE SET person = excluded.person, label = excluded.label, p256dh = excluded.p256dh,
			auth = excluded.auth, made = excluded.made, failed = 0, error = '' RETURNING id`,
			d.Person, d.Label, d.Endpoint, d.P256DH, d.Auth, nanosOf(d.Made)).Scan(&id)
	})
	if errors.Is(err, ErrSubscriptions) {
		return 0, err
	}
	if err = s.diskError("save a device", err); err != nil {
		return 0, err
	}
	return id, nil
}

// makeRoom sees to it that the person of d may have one more.
func makeRoom(ctx context.Context, tx *sql.Tx, d Subscription) error {
	var others int
	err := tx.QueryRowContext(ctx, `SELECT count(*) FROM subscription WHERE person = ? AND endpoint IS NOT ?`, d.Person, d.Endpoint).Scan(&others)
	if err != nil || others < MaxSubscriptions {
		return err
	}
	res, err := tx.ExecContext(ctx, `DELETE FROM subscription WHERE id =
		(SELECT id FROM subscription WHERE person = ? AND endpoint IS NULL ORDER BY gone, id LIMIT 1)`, d.Person)
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); n > 0 || err != nil {
		return err
	}
	return ErrSubscriptions
}

// Resubscribe gives the device at the endpoint old a new endpoint and keys; ok
// is false when there is none.
func (s *Store) Resubscribe(ctx context.Context, old string, d Subscription) (ok bool, err error) {
	return s.changed(ctx, "save a device", `UPDATE OR REPLACE subscription SET endpoint = ?, p256dh = ?, auth = ?, failed = 0, error = ''
		WHERE endpoint = ?`, d.Endpoint, d.P256DH, d.Auth, old)
}

// Subscriptions returns the devices of one person, or of all for "", in the
// order in which they came.
func (s *Store) Subscriptions(ctx context.Context, person string) ([]Subscription, error) {
	return collect(ctx, s.db().read, scanSubscription, `SELECT id, person, label, coalesce(endpoint, ''), p256dh, auth, made, told, failed, error, gone
		FROM subscription WHERE ?1 = '' OR person = ?1 ORDER BY id`, person)
}

func scanSubscription(r *sql.Rows, d *Subscription) error {
	var made, told, failed, gone int64
	err := r.Scan(&d.ID, &d.Person, &d.Label, &d.Endpoint, &d.P256DH, &d.Auth, &made, &told, &failed, &d.Error, &gone)
	for _, t := range []struct {
		to   *time.Time
		from int64
	}{{&d.Made, made}, {&d.Told, told}, {&d.Failed, failed}, {&d.Gone, gone}} {
		if t.from != 0 {
			*t.to = timeOf(t.from)
		}
	}
	return err
}

// Unsubscribe forgets a device; ok is false when there is none.
func (s *Store) Unsubscribe(ctx context.Context, id int64) (ok bool, err error) {
	return s.changed(ctx, "forget a device", `DELETE FROM subscription WHERE id = ?`, id)
}

// SubscriptionTold notes that a push service took a message for a device. This
// and the two below do nothing for a device that has another endpoint by now.
func (s *Store) SubscriptionTold(ctx context.Context, id int64, endpoint string, at time.Time) error {
	_, err := s.changed(ctx, "save that a device was told", `UPDATE subscription SET told = ?, error = '' WHERE id = ? AND endpoint = ?`,
		nanosOf(at), id, endpoint)
	return err
}

// SubscriptionFailed notes that it did not, and why.
func (s *Store) SubscriptionFailed(ctx context.Context, id int64, endpoint string, at time.Time, why string) error {
	_, err := s.changed(ctx, "save that a device was not told", `UPDATE subscription SET failed = ?, error = ? WHERE id = ? AND endpoint = ?`,
		nanosOf(at), why, id, endpoint)
	return err
}

// SubscriptionGone forgets the address and the keys of a device that its push
// service no longer knows.
func (s *Store) SubscriptionGone(ctx context.Context, id int64, endpoint string, at time.Time, why string) error {
	_, err := s.changed(ctx, "forget a device", `UPDATE subscription SET endpoint = NULL, p256dh = NULL, auth = NULL, gone = ?, error = ?
		WHERE id = ? AND endpoint = ?`, nanosOf(at), why, id, endpoint)
	return err
}

// changed runs one statement and reports whether it changed a row.
func (s *Store) changed(ctx context.Context, doing, statement string, args ...any) (ok bool, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, statement, args...)
		if err != nil {
			return err
		}
		n, err := res.RowsAffected()
		ok = n > 0
		return err
	})
	return err == nil && ok, s.diskError(doing, err)
}
