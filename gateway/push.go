package gateway

import (
	"context"
	"errors"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"telltale/gateway/config"
	"telltale/gateway/page"
	"telltale/gateway/page/door"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// pushKeyFile is the key for push services, in the store's directory.
const pushKeyFile = "push-key"

// pushTestWaits is how long a person waits for the answer to a test.
const pushTestWaits = 20 * time.Second

// pushing is everything about devices that take pushed alarms: the store's
// table as reach and the page see it. All methods may be called by anybody.
type pushing struct {
	store      *store.Store
	key        *reach.PushKey
	people     []reach.Person // all of the config
	tells      []page.PushPerson
	ackLinks   *door.AckLinks
	p          *parts
	log        zerolog.Logger
	onLoopback bool
	// push sends test messages: the first channel of this kind that does not
	// only rehearse; nil where there is none.
	push    *reach.Push
	channel string
}

// pushes reports whether c has a channel of kind push.
func pushes(c *config.Config) bool {
	return slices.ContainsFunc(c.Reach.Channels, func(ch config.Channel) bool { return ch.Kind == config.ByPush })
}

// openPush prepares the channels of kind push, if there are any. Where the key
// cannot be had the watch runs without them, and every telling over them fails
// and says why.
func (p *parts) openPush(o Options) error {
	if !pushes(p.cfg) {
		return nil
	}
	w := &pushing{store: p.store, people: rulesOf(p.cfg).People, ackLinks: door.NewAckLinks(p.pageKey("taps")), p: p,
		log: p.logger("push"), onLoopback: o.pushOnLoopback}
	for i, one := range p.cfg.Reach.People {
		pushed := func(name string) bool {
			return slices.ContainsFunc(p.cfg.Reach.Channels, func(ch config.Channel) bool { return ch.Name == name && ch.Kind == config.ByPush })
		}
		if slices.ContainsFunc(one.Channels, pushed) {
			w.tells = append(w.tells, page.PushPerson{ID: one.ID, Name: w.people[i].Name, MayAct: !w.people[i].NoLink})
		}
	}
	p.push = w
	var err error
	if w.key, err = reach.OpenPushKey(filepath.Join(p.cfg.Store.Directory, pushKeyFile)); err != nil {
		w.log.Error().Err(err).Msg("nobody can be told by push")
		return nil
	}
	w.sayWhoIsMissing()
	return nil
}

// sayWhoIsMissing logs once who has no device yet.
func (w *pushing) sayWhoIsMissing() {
	for _, one := range w.tells {
		devices, err := w.Of(context.Background(), one.Name)
		switch {
		case err != nil:
			w.log.Error().Err(err).Str("person", one.Name).Msg("the devices of this person cannot be read")
		case len(devices) == 0:
			w.log.Warn().Str("person", one.Name).Msg("no device of this person takes alarms yet: open /device on the phone")
		}
	}
}

// notifier makes the notifier of one channel.
func (w *pushing) notifier(ch config.Channel) (reach.Notifier, error) {
	if w == nil || w.key == nil {
		return unable{errors.New("the key for push services cannot be read; the log of the start says why")}, nil
	}
	o := pushOptions(ch.Push)
	o.Key, o.Devices, o.Links, o.OnLoopback = w.key, w, w.links, w.onLoopback
	n, err := reach.NewPush(o)
	if err == nil && w.push == nil && !ch.Rehearse {
		w.push, w.channel = n, ch.Name
	}
	return n, err
}

// pushOptions is what the config says of a channel of kind push.
func pushOptions(c config.Push) reach.PushOptions { return reach.PushOptions{Contact: c.Contact} }

// unable tells nobody, and says why.
type unable struct{ err error }

// Tell implements reach.Notifier.
func (u unable) Tell(context.Context, reach.Telling) error { return &reach.Denied{Err: u.err} }

// links says where the page shows an alarm, and gives the token by which a
// person acknowledges it, empty for who may not.
func (w *pushing) links(person string, e reach.Event) (tap, at string) {
	at = "/alarm?" + url.Values{"id": {string(e.Alarm)}}.Encode()
	if i := slices.IndexFunc(w.people, func(one reach.Person) bool { return one.Name == person }); i < 0 || w.people[i].NoLink {
		return "", at
	}
	link := w.ackLinks.Link("", e.Alarm, e.ID, person, w.p.clock.Now().Add(w.p.cfg.Page.LinksFor))
	_, tap, _ = strings.Cut(link, "?t=")
	return tap, at
}

// Of implements reach.Devices.
func (w *pushing) Of(ctx context.Context, person string) ([]reach.Device, error) {
	id := ""
	for _, one := range w.tells {
		if one.Name == person {
			id = one.ID
		}
	}
	if id == "" {
		return nil, nil
	}
	all, err := w.store.Devices.Of(ctx, id)
	if err != nil {
		return nil, err
	}
	var devices []reach.Device
	for _, d := range all {
		if d.Gone.IsZero() {
			devices = append(devices, deviceOf(d))
		}
	}
	return devices, nil
}

func deviceOf(d store.Subscription) reach.Device {
	return reach.Device{ID: d.ID, Label: d.Label, Endpoint: d.Endpoint, Key: d.P256DH, Auth: d.Auth}
}

// Heard implements reach.Devices.
func (w *pushing) Heard(ctx context.Context, d reach.Device, n reach.DeviceNews) {
	now := w.p.clock.Now()
	var err error
	switch {
	case n.Told:
		err = w.store.Devices.Told(ctx, d.ID, d.Endpoint, now)
	case n.Gone:
		w.log.Warn().Str("device", d.Label).Msg("a device is forgotten: its push service does not know it any more")
		if err = w.store.Devices.Gone(ctx, d.ID, d.Endpoint, now, n.Why); err == nil {
			err = w.tellForgotten(ctx, d)
		}
	default:
		err = w.store.Devices.Failed(ctx, d.ID, d.Endpoint, now, n.Why)
	}
	if err != nil {
		w.log.Warn().Err(err).Str("device", d.Label).Msg("what came of a message to a device could not be noted")
	}
}

// tellForgotten says to whom d belongs that it is forgotten.
func (w *pushing) tellForgotten(ctx context.Context, d reach.Device) error {
	all, err := w.store.Devices.Of(ctx, "")
	if err != nil {
		return err
	}
	for _, one := range w.tells {
		if !slices.ContainsFunc(all, func(s store.Subscription) bool { return s.ID == d.ID && s.Person == one.ID }) {
			continue
		}
		rows, err := rulesOf(w.p.cfg).ForgottenRows(one.Name, d.Label, w.channel, w.p.clock.Now())
		if err == nil && len(rows) > 0 {
			err = w.p.box.enqueue(ctx, scheduled(rows, w.p.clock))
			w.p.worker.Wake()
		}
		return err
	}
	return nil
}

// onPage offers the page what it needs of devices.
func (w *pushing) onPage(o *page.Options) {
	if w == nil || w.key == nil {
		return
	}
	o.Push = w
	if o.AckLinks == nil { // no links in mails, but messages to devices acknowledge all the same
		o.AckLinks = w.ackLinks
		o.MayAcknowledge = func(name string) bool {
			return slices.ContainsFunc(w.people, func(one reach.Person) bool { return one.Name == name && !one.NoLink })
		}
	}
}

// Key implements page.Push.
func (w *pushing) Key() string { return w.key.Public() }

// People implements page.Push.
func (w *pushing) People() []page.PushPerson { return w.tells }

// Devices implements page.Push.
func (w *pushing) Devices(ctx context.Context) ([]page.PushDevice, error) {
	all, err := w.store.Devices.Of(ctx, "")
	if err != nil {
		return nil, err
	}
	var out []page.PushDevice
	for _, d := range all {
		one := page.PushDevice{ID: d.ID, Person: d.Person, Label: d.Label, Made: d.Made, Told: d.Told, Failed: d.Failed, Why: d.Error, Gone: d.Gone}
		if d.Endpoint != "" {
			one.Mark = page.PushMark(d.Endpoint)
		}
		out = append(out, one)
	}
	return out, nil
}

// granted reads what a browser handed out.
func (w *pushing) granted(g page.PushGrant) (store.Subscription, error) {
	d := reach.Device{Endpoint: g.Endpoint, Key: g.Key, Auth: g.Auth}
	if err := reach.CheckDevice(d, w.onLoopback); err != nil {
		return store.Subscription{}, service.Refuse("This device cannot be registered: %s.", err)
	}
	return store.Subscription{Endpoint: g.Endpoint, P256DH: g.Key, Auth: g.Auth, Made: w.p.clock.Now()}, nil
}

// Register implements page.Push.
func (w *pushing) Register(ctx context.Context, g page.PushGrant, person, label string) error {
	d, err := w.granted(g)
	if err != nil {
		return err
	}
	d.Person, d.Label = person, label
	_, err = w.store.Devices.Subscribe(ctx, d)
	if errors.Is(err, store.ErrSubscriptions) {
		return service.Refuse("This person has %d devices already, which is as many as are kept. Remove one first.", store.MaxSubscriptions)
	}
	return err
}

// Renew implements page.Push.
func (w *pushing) Renew(ctx context.Context, old string, g page.PushGrant) (bool, error) {
	d, err := w.granted(g)
	if err != nil || old == "" {
		return false, err
	}
	return w.store.Devices.Resubscribe(ctx, old, d)
}

// Remove implements page.Push.
func (w *pushing) Remove(ctx context.Context, id int64) error {
	_, err := w.store.Devices.Unsubscribe(ctx, id)
	return err
}

// Test implements page.Push.
func (w *pushing) Test(ctx context.Context, id int64) error {
	if w.push == nil {
		return service.Refuse("The channel only rehearses, so nothing is sent to any device.")
	}
	all, err := w.store.Devices.Of(ctx, "")
	if err != nil {
		return err
	}
	i := slices.IndexFunc(all, func(d store.Subscription) bool { return d.ID == id && d.Gone.IsZero() })
	if i < 0 {
		return service.Refuse("That device does not take alarms any more.")
	}
	name := all[i].Person
	for _, one := range w.tells {
		if one.ID == all[i].Person {
			name = one.Name
		}
	}
	ctx, cancel := context.WithTimeout(ctx, pushTestWaits)
	defer cancel()
	now := w.p.clock.Now()
	if zone := w.p.cfg.Plan.Words.Zone; zone != nil {
		now = now.In(zone)
	}
	if err := w.push.TellDevice(ctx, deviceOf(all[i]), reach.TestTelling(name, w.channel, rulesOf(w.p.cfg).LocaleOf(name).Tongue, now)); err != nil {
		return service.Refuse("The test was not taken: %s.", err)
	}
	return nil
}
