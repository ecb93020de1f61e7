package store

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"
)

func device(person, endpoint string, n int) Subscription {
	return Subscription{Person: person, Label: "phone", Endpoint: endpoint, P256DH: []byte{4, byte(n)}, Auth: []byte{byte(n)}, Made: minutes(n)}
}

func subscribed(t *testing.T, s *Store, d Subscription) Subscription {
	t.Helper()
	id, err := s.Devices.Subscribe(context.Background(), d)
	ok(t, err)
	d.ID = id
	return d
}

func devices(t *testing.T, s *Store, person string) []Subscription {
	t.Helper()
	all, err := s.Devices.Of(context.Background(), person)
	ok(t, err)
	for i := range all {
		d := &all[i]
		d.Made, d.Told, d.Failed, d.Gone = d.Made.UTC(), d.Told.UTC(), d.Failed.UTC(), d.Gone.UTC()
	}
	return all
}

func TestDevicesAreKept(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	a, b := subscribed(t, s, device("ada", "https://push.example.org/a", 1)), subscribed(t, s, device("ben", "https://push.example.org/b", 2))
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	same(t, "all", devices(t, s, ""), []Subscription{a, b})
	same(t, "of one", devices(t, s, "ben"), []Subscription{b})
	same(t, "of nobody", len(devices(t, s, "cat")), 0)

	again := device("ben", a.Endpoint, 3) // the device changes hands and keys
	again.ID = a.ID
	same(t, "the ID of a known endpoint", subscribed(t, s, again), again)
	same(t, "of its new owner", devices(t, s, "ben"), []Subscription{again, b})

	was, err := s.Devices.Unsubscribe(context.Background(), b.ID)
	ok(t, err)
	same(t, "one was forgotten", was, true)
	was, err = s.Devices.Unsubscribe(context.Background(), b.ID)
	ok(t, err)
	same(t, "none was left", was, false)
	c := subscribed(t, s, device("ben", "https://push.example.org/c", 4))
	if c.ID <= b.ID {
		t.Errorf("the ID %d was given again after %d", c.ID, b.ID)
	}
}

func TestDevicesRememberHowTheyWereTold(t *testing.T) {
	s, ctx := fresh(t, Options{}), context.Background()
	d := subscribed(t, s, device("ada", "https://push.example.org/a", 1))
	ok(t, s.Devices.Failed(ctx, d.ID, d.Endpoint, minutes(2), "busy"))
	d.Failed, d.Error = minutes(2), "busy"
	same(t, "failed", devices(t, s, "ada"), []Subscription{d})
	ok(t, s.Devices.Told(ctx, d.ID, d.Endpoint, minutes(3)))
	d.Told, d.Error = minutes(3), ""
	same(t, "told", devices(t, s, "ada"), []Subscription{d})

	moved, err := s.Devices.Resubscribe(ctx, d.Endpoint, device("", "https://push.example.org/new", 9))
	ok(t, err)
	same(t, "it moved", moved, true)
	old := d.Endpoint
	d.Endpoint, d.P256DH, d.Auth, d.Failed = "https://push.example.org/new", []byte{4, 9}, []byte{9}, time.Time{}
	same(t, "with its owner and label", devices(t, s, "ada"), []Subscription{d})
	moved, err = s.Devices.Resubscribe(ctx, old, device("", "https://push.example.org/else", 9))
	ok(t, err)
	same(t, "what is not there does not move", moved, false)

	for _, f := range []error{s.Devices.Gone(ctx, d.ID, old, minutes(4), "late news of the old endpoint"),
		s.Devices.Told(ctx, d.ID, old, minutes(4)), s.Devices.Failed(ctx, d.ID, old, minutes(4), "no")} {
		ok(t, f)
	}
	same(t, "the new endpoint is not touched", devices(t, s, "ada"), []Subscription{d})
	ok(t, s.Devices.Gone(ctx, d.ID, d.Endpoint, minutes(5), "it is gone"))
	d.Endpoint, d.P256DH, d.Auth, d.Gone, d.Error = "", nil, nil, minutes(5), "it is gone"
	same(t, "gone", devices(t, s, "ada"), []Subscription{d})
}

func TestDevicesAreBounded(t *testing.T) {
	s, ctx := fresh(t, Options{}), context.Background()
	for i := range MaxSubscriptions {
		subscribed(t, s, device("ada", fmt.Sprint("https://push.example.org/", i), i))
	}
	if _, err := s.Devices.Subscribe(ctx, device("ada", "https://push.example.org/more", 1)); !errors.Is(err, ErrSubscriptions) {
		t.Fatalf("one too many: got %v", err)
	}
	subscribed(t, s, device("ben", "https://push.example.org/more", 1)) // who has room
	subscribed(t, s, device("ada", "https://push.example.org/7", 1))    // which is known
	all := devices(t, s, "ada")
	same(t, "kept", len(all), MaxSubscriptions)
	for _, i := range []int{9, 4} {
		ok(t, s.Devices.Gone(ctx, all[i].ID, all[i].Endpoint, minutes(100-i), "gone"))
	}
	fit := subscribed(t, s, device("ada", "https://push.example.org/fits", 1))
	now := devices(t, s, "ada")
	same(t, "still kept", len(now), MaxSubscriptions)
	same(t, "the one gone longest made room", now[8].ID, all[8].ID)
	same(t, "the other did not", now[4].ID, all[4].ID)
	same(t, "the newest is there", now[MaxSubscriptions-1].ID, fit.ID)
}
