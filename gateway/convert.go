package gateway

import (
	"crypto/x509"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strconv"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/export"
	"telltale/gateway/link"
	"telltale/gateway/page"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// Each part has Options of its own; here the config is put into them.

func sourcesOf(c *config.Config) []decode.Source {
	sources := make([]decode.Source, 0, len(c.Sources))
	for _, s := range c.Sources {
		d := decode.Source{
			Probe: s.Probe, Filter: s.Filter, Form: decode.Form(s.Form), Where: s.Where,
			Clock: decode.Clock{At: s.ClockAt, Unit: decode.TimeUnit(s.ClockUnit)},
		}
		for _, r := range s.Reads {
			d.Reads = append(d.Reads, decode.Read{
				Quantity: r.Quantity, At: r.At, Measurement: r.Measurement, Tags: r.Tags,
				Unit: r.Unit, Factor: r.Factor, Inverted: r.Inverted, Optional: r.Optional,
			})
		}
		sources = append(sources, d)
	}
	return sources
}

func storeOptions(c *config.Config, log zerolog.Logger) store.Options {
	return store.Options{
		RawFor: c.Store.KeepReadings, SumFor: c.Store.KeepAverages, LogFor: c.Store.KeepLog,
		IDFile: c.Store.IDFile, Log: log,
	}
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
	return link.Options{
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
	r := reach.Rules{Words: c.Plan.Words, Page: c.Page.URL, LinksFor: c.Page.LinksFor}
	names := map[string]string{}
	for _, p := range c.Reach.People {
		name := p.Name
		if name == "" {
			name = p.ID
		}
		names[p.ID] = name
		r.People = append(r.People, reach.Person{
			Name: name, Channels: p.Channels,
			Quiet: reach.Quiet{From: p.QuietFrom, To: p.QuietTo, Zone: c.Plan.Words.Zone}, NoLink: looksOnly(c, p.ID),
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
	for _, h := range c.Plan.Houses {
		r.Houses = append(r.Houses, reach.House{ID: h.ID, Name: h.Name})
	}
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
		return reach.NewCommand(commandOptions(ch.Command))
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

func commandOptions(c config.Command) reach.CommandOptions {
	return reach.CommandOptions{Program: c.Program, Args: c.Args}
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
			name := p.Name
			if name == "" {
				name = p.ID
			}
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
	o := export.Options{Now: clock.Now, Log: log}
	if c.Export.File.Path != "" {
		o.File = &export.FileOptions{Path: c.Export.File.Path, Daily: true}
	}
	if h := c.Export.HTTP; h.URL != "" {
		o.FlushEvery = h.Every
		o.HTTP = &export.HTTPOptions{URL: h.URL, Dir: filepath.Join(c.Store.Directory, "export")}
		if h.Token.Given() {
			o.HTTP.Authorization = "Bearer " + h.Token.Reveal() // RFC 6750
		}
	}
	return o
}

// formsOf are the forms of the houses, for the page to draw.
func formsOf(c *config.Config) []page.Form {
	var out []page.Form
	for _, f := range c.Forms {
		form := page.Form{House: f.House, LeanTo: f.LeanTo, Right: f.Right, Width: f.Width, Length: f.Length, Eaves: f.Eaves, Ridge: f.Ridge,
			Places: map[alarms.PlaceID]page.Position{}, Drives: map[alarms.DriveID]page.Position{}}
		for _, b := range f.Bench {
			form.Bench = append(form.Bench, page.Bench(b))
		}
		for id, s := range f.Places {
			form.Places[id] = page.Position(s)
		}
		for id, s := range f.Drives {
			form.Drives[id] = page.Position(s)
		}
		out = append(out, form)
	}
	return out
}
