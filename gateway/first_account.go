package gateway

import (
	"context"
	"crypto/rand"
	"net"
	"strings"

	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
	"telltale/gateway/loopback"
	"telltale/gateway/page"
)

// givesAccounts reports whether new probes can be given accounts: at the watch's own
// broker, once people need one for the page.
func givesAccounts(c *config.Config) bool {
	return c.Broker.Run && (len(c.Page.Accounts) > 0 || c.Page.Password.Given() || c.Page.PasswordHash.Given())
}

// GiveAccount implements page.First.
func (f *first) GiveAccount(_ context.Context, name, mark, by string) (a page.ProbeAccount, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	d, err := f.open()
	if err != nil {
		return a, err
	}
	c := f.current(d)
	switch {
	case c == nil:
		return a, tongue.Put(fileNotGood)
	case d.Mark() != mark:
		return a, page.ErrFirstChanged
	case !givesAccounts(c):
		return a, notWritten("Accounts are given at Telltale's own broker alone, once the page has accounts or a password.")
	}
	host, port, err := net.SplitHostPort(c.Broker.Address)
	if err != nil {
		return a, err
	}
	if loopback.Host(host) { // it opens where the page is open
		at, _, err := net.SplitHostPort(c.Page.Address)
		if err != nil {
			return a, err
		}
		if host != at {
			host = at
			d.SetBrokerAddress(net.JoinHostPort(host, port))
		}
	}
	if _, live, err := net.SplitHostPort(f.at()); err == nil && port == "0" {
		port = live
	}
	a = page.ProbeAccount{User: d.NewBrokerUser(name), Password: strings.ToLower(rand.Text()[:16]), Port: port, TLS: c.Broker.CertFile != ""}
	a.Topic = a.User
	if ip := net.ParseIP(host); host != "" && (ip == nil || !ip.IsUnspecified()) {
		a.Host = host
	}
	a.File = d.SetBrokerAccount(edit.BrokerAccountEdit{User: a.User, Password: a.Password, MaySend: []string{a.Topic + "/#"}})
	if err := f.save(d); err != nil {
		return page.ProbeAccount{}, err
	}
	f.log.Info().Str("file", f.set.File).Str("account", a.User).Str("by", by).Msg("a probe was given an account on the page")
	f.set.Reload()
	return a, nil
}
