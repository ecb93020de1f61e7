package reach

import (
	"context"
	"crypto/ecdh"
	"crypto/rand"
	"crypto/x509"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"telltale/alarms"
)

// Device is a browser that takes pushed messages for one person. Endpoint, Key
// and Auth are secrets: who has all three can write to the device.
type Device struct {
	ID       int64
	Label    string // what people call it
	Endpoint string // address at its push service
	Key      []byte // its public key, an uncompressed point of P-256
	Auth     []byte // 16 bytes
}

// DeviceNews is what came of a message to a device.
type DeviceNews struct {
	Told bool   // its push service took the message
	Gone bool   // its push service does not know it any more
	Why  string // it was not told
}

// Devices are all devices that take messages. Both may be called by anybody.
type Devices interface {
	// Of returns the devices of a person, known by name.
	Of(ctx context.Context, person string) ([]Device, error)
	// Heard notes what came of a message. A device that is gone is forgotten.
	Heard(ctx context.Context, d Device, n DeviceNews)
}

// PushOptions say for whom to push.
type PushOptions struct {
	Key     *PushKey
	Contact string // mailto: or https: address at which push services find who runs this
	Devices Devices
	// Links gives the token by which a person acknowledges what e tells with one
	// tap, empty for none, and where on the page it is shown; nil: none, and "/".
	Links func(person string, e Event) (tap, page string)
	// OnLoopback lets this machine be a push service, for trials.
	OnLoopback bool
	Roots      *x509.CertPool   // who may vouch for push services; nil: the system's
	Now        func() time.Time // real time, as push services have it; nil: time.Now
}

// Push tells the devices of a person through the push services of their
// browsers (RFC 8030), encrypted so that only the device can read it
// (RFC 8291), and signed so that only this watch can send it (RFC 8292). A
// telling goes to all devices of the person at once; it is told when one push
// service took it. A later message of the same alarm takes the place of an
// earlier one that has not been fetched. A device that its push service does
// not know any more is forgotten. A person without a device cannot be told,
// which is permanent: others are told instead.
type Push struct {
	o      PushOptions
	client *http.Client
}

// NewPush checks o; no network yet.
func NewPush(o PushOptions) (*Push, error) {
	if o.Key == nil || o.Devices == nil {
		return nil, errors.New("pushing needs a key and the devices")
	}
	if !strings.HasPrefix(o.Contact, "mailto:") && !strings.HasPrefix(o.Contact, "https://") {
		return nil, fmt.Errorf("the contact for push services must begin with mailto: or https:// (got %q)", o.Contact)
	}
	if o.Links == nil {
		o.Links = func(string, Event) (tap, page string) { return "", "/" }
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Push{o: o, client: pushClient(o.Roots, o.OnLoopback)}, nil
}

// Close drops idle connections.
func (p *Push) Close() { p.client.CloseIdleConnections() }

// Tell tells every device of t.Person.
func (p *Push) Tell(ctx context.Context, t Telling) error {
	devices, err := p.o.Devices.Of(ctx, t.Person)
	if err != nil {
		return fmt.Errorf("the devices of %s cannot be read; check the store's disk: %w", t.Person, err)
	}
	if len(devices) == 0 {
		return refuse("no device of %s takes alarms yet: open /device on the phone", t.Person)
	}
	errs := make([]error, len(devices))
	var all sync.WaitGroup
	for i, d := range devices {
		all.Go(func() { errs[i] = p.TellDevice(ctx, d, t) })
	}
	all.Wait()
	return together(errs)
}

// TellDevice tells one device and notes what came of it.
func (p *Push) TellDevice(ctx context.Context, d Device, t Telling) error {
	err := p.send(ctx, d, t)
	if err != nil && ctx.Err() != nil {
		return err // cut short: that says nothing about the device
	}
	n := DeviceNews{Told: err == nil, Gone: errors.Is(err, errGone)}
	if err != nil {
		n.Why = err.Error()
		err = sameKind(err, fmt.Errorf("%s: %w", d.name(), err))
	}
	p.o.Devices.Heard(context.WithoutCancel(ctx), d, n)
	return err
}

func (d Device) name() string {
	if d.Label == "" {
		return fmt.Sprintf("device %d", d.ID)
	}
	return fmt.Sprintf("device %q", d.Label)
}

// ForgottenRows says to a person that a device of theirs takes no alarms any
// more: over their channels but for the one it was reached by, or by that to
// their other devices where they have no other channel.
func (r Rules) ForgottenRows(person, device, channel string, now time.Time) ([]Outgoing, error) {
	now = r.local(now)
	p, _ := r.person(person)
	e := Event{
		Version: formVersion, ID: fmt.Sprintf("%s#%d", alarms.TroubleTelling, now.UnixMilli()), Alarm: alarms.TroubleTelling, Move: alarms.Note,
		Priority: alarms.Medium, Due: now, Noticed: now, Page: r.Page, Reason: alarms.Reason{Rule: alarms.RuleTrouble},
		Language: p.Tongue, Headline: p.Tongue.Say("A device takes no alarms any more"),
		Sentence: p.Tongue.Say("The device %q of %s takes no alarms any more: its push service does not know it, so it was forgotten. "+
			"Switch alarms on again on the device itself.", device, person),
	}
	var rows []Outgoing
	for _, c := range p.Channels {
		if c == channel && len(p.Channels) > 1 {
			continue
		}
		row, err := newRow(e, alarms.Transition{ID: e.ID, Alarm: e.Alarm}, c, person, now, false)
		if err != nil {
			return nil, err
		}
		row.Transition = ""
		rows = append(rows, row)
	}
	return rows, nil
}

// send sends t to d, and once more in short where that is too long.
func (p *Push) send(ctx context.Context, d Device, t Telling) error {
	var err error
	for _, most := range []int{mostPush, leastPush} {
		var text []byte
		if text, err = p.message(t, most); err != nil {
			return err
		}
		if err = p.post(ctx, d, t, text); !errors.Is(err, errTooLong) {
			return err
		}
	}
	return err
}

// locked encrypts text for d with a fresh key and salt.
func locked(text []byte, d Device) ([]byte, error) {
	device, err := ecdh.P256().NewPublicKey(d.Key)
	if err != nil {
		return nil, err
	}
	own, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	salt := make([]byte, saltBytes)
	_, _ = rand.Read(salt) // never fails: it ends the process where there is no chance
	return seal(text, device, d.Auth, own, salt)
}

// together is the error of a telling to several devices: none when one was
// told, else one that is worth another try if any is, the soonest first.
func together(errs []error) error {
	joined := errors.Join(errs...)
	var later *Later
	again, denied := false, false
	for _, err := range errs {
		var final *Permanent
		var no *Denied
		var wait *Later
		switch {
		case err == nil:
			return nil
		case errors.As(err, &final):
		case errors.As(err, &no):
			denied = true
		case errors.As(err, &wait):
			if later == nil || wait.Pause < later.Pause {
				later = wait
			}
		default:
			again = true
		}
	}
	said := errors.New(strings.ReplaceAll(joined.Error(), "\n", "; "))
	switch {
	case again:
		return said
	case later != nil:
		return &Later{Pause: later.Pause, Why: later.Why}
	case denied:
		return &Denied{Err: said}
	}
	return &Permanent{Err: said}
}

// sameKind gives said the kind that err has: permanent, denied, later or none.
func sameKind(err, said error) error {
	var final *Permanent
	var denied *Denied
	var later *Later
	switch {
	case errors.As(err, &final):
		return &Permanent{Err: said}
	case errors.As(err, &denied):
		return &Denied{Err: said, Address: denied.Address}
	case errors.As(err, &later):
		return &Later{Pause: later.Pause, Why: later.Why}
	}
	return said
}
