package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"telltale/gateway/store/sqlite"
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

// Devices are those that take pushed alarms. All of it may be called by anybody.
type Devices struct{ disk *disk }

// Subscribe keeps a device and returns its ID. A device is known by its
// endpoint: one that comes again keeps its ID, and what is new about it counts.
// ErrSubscriptions: the person has MaxSubscriptions already; of devices that
// are gone the oldest makes room.
func (ds *Devices) Subscribe(ctx context.Context, d Subscription) (id int64, err error) {
	err = ds.disk.write(ctx, "save a device", func(tx *sql.Tx) error {
		if err := makeRoom(ctx, tx, d); err != nil {
			return err
		}
		return tx.QueryRowContext(ctx, `INSERT INTO subscription (person, label, endpoint, p256dh, auth, made) VALUES (?, ?, ?, ?, ?, ?)
			ON CONFLICT (endpoint) DO UPDATE SET person = excluded.person, label = excluded.label, p256dh = excluded.p256dh,
			auth = excluded.auth, made = excluded.made, failed = 0, error = '' RETURNING id`,
			d.Person, d.Label, d.Endpoint, d.P256DH, d.Auth, nanosOf(d.Made)).Scan(&id)
	})
	if err != nil {
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
	freed, err := execute(ctx, tx, `DELETE FROM subscription WHERE id =
		(SELECT id FROM subscription WHERE person = ? AND endpoint IS NULL ORDER BY gone, id LIMIT 1)`, d.Person)
	if freed > 0 || err != nil {
		return err
	}
	return refusal{ErrSubscriptions}
}

// Resubscribe gives the device at the endpoint old a new endpoint and keys; ok
// is false when there is none.
func (ds *Devices) Resubscribe(ctx context.Context, old string, d Subscription) (ok bool, err error) {
	return ds.disk.changed(ctx, "save a device", `UPDATE OR REPLACE subscription SET endpoint = ?, p256dh = ?, auth = ?, failed = 0, error = ''
		WHERE endpoint = ?`, d.Endpoint, d.P256DH, d.Auth, old)
}

// Of returns the devices of one person, or of all for "", in the
// order in which they came.
func (ds *Devices) Of(ctx context.Context, person string) ([]Subscription, error) {
	return sqlite.Collect(ctx, ds.disk.db().Read, scanSubscription, `SELECT id, person, label, coalesce(endpoint, ''), p256dh, auth, made, told, failed, error, gone
		FROM subscription WHERE ?1 = '' OR person = ?1 ORDER BY id`, person)
}

func scanSubscription(r *sql.Rows, d *Subscription) error {
	var made, told, failed, gone int64
	err := r.Scan(&d.ID, &d.Person, &d.Label, &d.Endpoint, &d.P256DH, &d.Auth, &made, &told, &failed, &d.Error, &gone)
	d.Made, d.Told, d.Failed, d.Gone = timeOrNone(made), timeOrNone(told), timeOrNone(failed), timeOrNone(gone)
	return err
}

// Unsubscribe forgets a device; ok is false when there is none.
func (ds *Devices) Unsubscribe(ctx context.Context, id int64) (ok bool, err error) {
	return ds.disk.changed(ctx, "forget a device", `DELETE FROM subscription WHERE id = ?`, id)
}

// Told notes that a push service took a message for a device. This
// and the two below do nothing for a device that has another endpoint by now.
func (ds *Devices) Told(ctx context.Context, id int64, endpoint string, at time.Time) error {
	_, err := ds.disk.changed(ctx, "save that a device was told", `UPDATE subscription SET told = ?, error = '' WHERE id = ? AND endpoint = ?`,
		nanosOf(at), id, endpoint)
	return err
}

// Failed notes that it did not, and why.
func (ds *Devices) Failed(ctx context.Context, id int64, endpoint string, at time.Time, why string) error {
	_, err := ds.disk.changed(ctx, "save that a device was not told", `UPDATE subscription SET failed = ?, error = ? WHERE id = ? AND endpoint = ?`,
		nanosOf(at), why, id, endpoint)
	return err
}

// Gone forgets the address and the keys of a device that its push
// service no longer knows.
func (ds *Devices) Gone(ctx context.Context, id int64, endpoint string, at time.Time, why string) error {
	_, err := ds.disk.changed(ctx, "forget a device", `UPDATE subscription SET endpoint = NULL, p256dh = NULL, auth = NULL, gone = ?, error = ?
		WHERE id = ? AND endpoint = ?`, nanosOf(at), why, id, endpoint)
	return err
}
