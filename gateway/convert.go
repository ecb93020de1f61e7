package gateway

import (
	"cmp"
	"crypto/x509"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/export"
	"telltale/gateway/link"
	"telltale/gateway/page"
	"telltale/gateway/reach"
	"telltale/gateway/store"
	"telltale/gateway/store/copies"
	"telltale/gateway/topic"
)

// Each part has Options of its own; here the config is put into them.

func storeOptions(c *config.Config, log zerolog.Logger) store.Options {
	return store.Options{
		RawFor: c.Store.KeepReadings, SumFor: c.Store.KeepAverages, LogFor: c.Store.KeepLog,
		IDFile: c.Store.IDFile, Log: log,
	}
}

// CopySource is what a copy of c's store holds.
func CopySource(c *config.Config) copies.Source {
	s := copies.Source{Store: c.Store.Directory, Keys: []string{keyFile, pushKeyFile}, Config: c.File, Plan: c.Plan}
	s.Named = walk.Each(c.Named, func(n config.Named) copies.NamedFile { return copies.NamedFile{As: n.As, Path: n.Path} })
	return s
}

// CopyInto is where a copy is put back for c. How the run before ended, and when
// copies were made, is of the store that was copied.
func CopyInto(c *config.Config, now time.Time) copies.Into {
	return copies.Into{Store: c.Store.Directory, Plan: c.Plan, Forget: []string{startsKept, copies.NoteName}, Now: now}
}

func brokerOptions(c *config.Config, log zerolog.Logger) link.BrokerOptions {
	o := link.BrokerOptions{
		Address: c.Broker.Address, CertFile: c.Broker.CertFile, KeyFile: c.Broker.KeyFile,
		ClientCAFile: c.Broker.ClientCAFile, Own: ownTopics(c), Log: log,
	}
	for _, a := range c.Broker.Accounts {
		o.Accounts = append(o.Accounts, link.Account{
			User: a.User, Password: a.Password.Reveal(), Publish: a.MaySend, Subscribe: a.MayRead,
		})
	}
	return o
}

func linkOptions(c *config.Config, filters []string, clock *Clock, log zerolog.Logger) link.Options {
	l := c.Link
	below := ""
	if c.Companion.First != "" {
		below = topic.Companion
	}
	return link.Options{
		Below:   below,
		Servers: l.Servers, ClientID: l.ClientID, User: l.User, Password: l.Password.Reveal(),
		CAFile: l.CAFile, CertFile: l.CertFile, KeyFile: l.KeyFile, ServerName: l.ServerName,
		Filters: filters, PublishOnly: len(filters) == 0, QoS: l.QoS, CleanSession: l.CleanSession, KeepAlive: l.KeepAlive,
		QueueSize: l.QueueSize, Now: clock.Core, Log: log,
	}
}

func pageOptions(c *config.Config, log zerolog.Logger) page.Options {
	p := c.Page
	return page.Options{
		Words: c.Plan.Words, DegreesGiven: p.DegreesGiven, Name: p.Name, Address: p.Address,
		Password: p.Password.Reveal(), PasswordHash: p.PasswordHash.Reveal(),
		CertFile: p.CertFile, KeyFile: p.KeyFile, ProxyTLS: p.ProxyTLS, Hosts: p.Hosts, Log: log, Accounts: accountsOf(c),
	}
}

// rulesOf says who is told what. Config names people by ID, messages by name.
func rulesOf(c *config.Config) reach.Rules {
	plan := c.Plan.Filled()
	r := reach.Rules{Words: c.Plan.Words, Plan: &plan, Page: c.Page.URL, LinksFor: c.Page.LinksFor}
	names := map[string]string{}
	for _, p := range c.Reach.People {
		name := cmp.Or(p.Name, p.ID)
		names[p.ID] = name
		r.People = append(r.People, reach.Person{
			Name: name, Channels: p.Channels,
			Quiet: reach.Quiet{From: p.QuietFrom, To: p.QuietTo, Zone: c.Plan.Words.Zone}, Tongue: p.Tongue, NoLink: viewOnly(c, p.ID),
		})
	}
	for _, t := range c.Reach.Tell {
		rule := reach.Rule{Houses: t.Houses, From: t.From, Channels: t.Channels, After: t.After}
		for _, id := range t.People {
			rule.People = append(rule.People, names[id])
		}
		r.Tell = append(r.Tell, rule)
	}
	for _, ch := range c.Reach.Channels {
		r.Channels = append(r.Channels, ch.Name)
		if ch.Kind == config.ByMQTT {
			r.Follow = append(r.Follow, ch.Name)
		}
	}
	r.Houses = walk.Each(c.Plan.Houses, func(h alarms.House) reach.House { return reach.House{ID: h.ID, Name: h.Name} })
	return r
}

// channels builds every way to tell people. out publishes over the link.
func channels(c *config.Config, out reach.Publisher, devices *pushing, calls *phones, log zerolog.Logger) ([]reach.Channel, *reach.MQTT, error) {
	var all []reach.Channel
	var follow *reach.MQTT
	for _, ch := range c.Reach.Channels {
		n, err := notifier(c, ch, out, devices, calls)
		if err != nil {
			return nil, nil, fmt.Errorf("channel %s: %w", ch.Name, err)
		}
		ordered := ch.Kind == config.ByMQTT
		if m, ok := n.(*reach.MQTT); ok && !ch.Rehearse {
			follow = m
		}
		if ch.Rehearse {
			n = reach.DryRun(log) // which names the channel itself
		}
		if ch.Timeout > 0 {
			n = reach.TimeLimit(n, ch.Timeout)
		}
		if !ordered {
			n = reach.Limit(n, reach.Limits{Burst: ch.Burst, Every: ch.Every})
		}
		all = append(all, reach.Channel{Name: ch.Name, Notifier: n, Ordered: ordered})
	}
	return all, follow, nil
}

func notifier(c *config.Config, ch config.Channel, out reach.Publisher, devices *pushing, calls *phones) (reach.Notifier, error) {
	switch ch.Kind {
	case config.ByMQTT:
		return reach.NewMQTT(out, ch.MQTT.Prefix)
	case config.ByWebhook:
		o, err := webhookOptions(ch.Webhook)
		if err != nil {
			return nil, err
		}
		return reach.NewWebhook(o)
	case config.ByPush:
		return devices.notifier(ch)
	case config.ByText, config.ByRing:
		return calls.notifier(ch)
	case config.ByCommand:
		return reach.NewCommand(ch.Command.Program, ch.Command.Args)
	case config.ByMail:
		o, err := mailOptions(c, ch.Mail)
		if err != nil {
			return nil, err
		}
		return reach.NewMail(o)
	}
	return nil, fmt.Errorf("the kind %q is not known", ch.Kind)
}

func webhookOptions(w config.Webhook) (reach.WebhookOptions, error) {
	roots, err := rootsOf(w.CAFile)
	return reach.WebhookOptions{
		URL: w.URL.Reveal(), Secret: []byte(w.Secret.Reveal()), AllowPlain: w.AllowPlain, Roots: roots,
	}, err
}

func mailOptions(c *config.Config, m config.Mail) (o reach.MailOptions, err error) {
	host, port, err := net.SplitHostPort(m.Server)
	if err != nil {
		return o, err
	}
	number, err := strconv.Atoi(port)
	if err != nil {
		return o, err
	}
	roots, err := rootsOf(m.CAFile)
	if err != nil {
		return o, err
	}
	to := map[string]string{}
	for _, p := range c.Reach.People {
		if p.Mail != "" {
			name := cmp.Or(p.Name, p.ID)
			to[name] = p.Mail
		}
	}
	return reach.MailOptions{
		Host: host, Port: number, Security: reach.Security(m.Security), User: m.User,
		Password: m.Password.Reveal(), From: m.From, To: to, Roots: roots,
	}, nil
}

// rootsOf reads the authorities in a PEM file; nil, the system's, for none.
func rootsOf(file string) (*x509.CertPool, error) {
	if file == "" {
		return nil, nil
	}
	pem, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("%s holds no certificate in PEM form", file)
	}
	return pool, nil
}

func exportOptions(c *config.Config, clock *Clock, log zerolog.Logger) export.Options {
	o := export.Options{File: c.Export.File.Path, Now: clock.Now, Log: log}
	if h := c.Export.HTTP; h.URL != "" {
		o.FlushEvery = h.Every
		o.HTTP = &export.HTTPOptions{URL: h.URL, Dir: filepath.Join(c.Store.Directory, "export")}
		if h.Token.Given() {
			o.HTTP.Authorization = "Bearer " + h.Token.Reveal() // RFC 6750
		}
	}
	return o
}
