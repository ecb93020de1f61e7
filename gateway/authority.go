package gateway

import (
	"context"
	"crypto/tls"
	"errors"
	"io/fs"
	"net"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/tongue"
	"telltale/gateway/authority"
	"telltale/gateway/config"
	"telltale/gateway/entry"
	"telltale/gateway/loopback"
	"telltale/gateway/page"
	"telltale/gateway/reach"
)

// authorityFile is the board's own authority with its key, in the store's directory.
// No copy has it: a board that a copy is put back on makes one of its own.
const authorityFile = "page-authority"

// ownAuthority keeps the authority for the page.
type ownAuthority struct {
	file  string
	cfg   *config.Config
	first *first // by which the config is changed; nil: it is not
	now   func() time.Time
	at    func() []netip.Addr // this machine's addresses for others
	port  func() string       // of the page
	log   zerolog.Logger

	mu   sync.Mutex           // guards the file
	used *authority.Authority // by the page that is served; nil: it has another certificate
}

func (p *parts) ownAuthority() *ownAuthority {
	return &ownAuthority{file: filepath.Join(p.cfg.Store.Directory, authorityFile), cfg: p.cfg, first: p.first, now: time.Now,
		at: func() []netip.Addr { return addressesAt(p.cfg.Page.Address) }, log: p.logger("authority"),
		port: func() string { _, port, _ := net.SplitHostPort(p.page.Addr()); return port }}
}

// openAuthority gives the page its certificates, where they are of the own authority,
// and offers it where a page of the network has none, or may have it.
func (p *parts) openAuthority(po *page.Options) error {
	a := p.ownAuthority()
	if p.cfg.Page.OwnAuthority {
		certificate, err := a.open()
		if err != nil {
			return err
		}
		po.Certificate = certificate
	}
	if host, _, err := net.SplitHostPort(p.cfg.Page.Address); err == nil && !loopback.Host(host) && !p.cfg.Page.ProxyTLS || p.cfg.Page.OwnAuthority {
		po.Authority = a
	}
	return nil
}

// open gives the page certificates of the kept authority, or of a new one where there
// is none. Where neither can be had the page has a self-made certificate, which no
// device knows: the watch starts all the same.
func (o *ownAuthority) open() (func(*tls.ClientHelloInfo) (*tls.Certificate, error), error) {
	a, err := o.read()
	if errors.Is(err, fs.ErrNotExist) {
		a, err = o.make()
		if err == nil {
			o.log.Warn().Str("fingerprint", a.Fingerprint()).Msg("The page has certificates of a new authority. A device that trusted an earlier one must be given this one.")
		}
	}
	if err == nil {
		o.used = a
		return a.Pages(o.now).Certificate, nil
	}
	c, fault := entry.NewCertificate(hostNames(), o.at())
	if fault != nil {
		return nil, fault
	}
	pair, fault := tls.X509KeyPair([]byte(c.CertPEM), []byte(c.KeyPEM))
	o.log.Error().Err(err).Str("fingerprint", c.Fingerprint).Msg("The page's own authority cannot be used. Until the next start the page has a certificate that no device knows.")
	return func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return &pair, nil }, fault
}

// read reads what is kept. Errors: fs.ErrNotExist and others.
func (o *ownAuthority) read() (*authority.Authority, error) {
	text, err := os.ReadFile(o.file)
	if err != nil {
		return nil, err
	}
	a, err := authority.Parse(text)
	if err != nil {
		return nil, tongue.Saying{Args: []any{o.file + ": ", err}}
	}
	return a, reach.Hide(o.file)
}

// make makes a new one and keeps it.
func (o *ownAuthority) make() (*authority.Authority, error) {
	a, err := authority.New(o.names(), o.now())
	if err != nil {
		return nil, err
	}
	return a, writePrivate(o.file, a.Kept())
}

// names are those by which others reach this board's page.
func (o *ownAuthority) names() authority.Names {
	hosts := append(hostNames(), o.cfg.Page.Hosts...)
	if u, err := url.Parse(o.cfg.Page.URL); err == nil && u.Hostname() != "" {
		hosts = append(hosts, u.Hostname())
	}
	return authority.NamesOf(hosts, o.at())
}

// addressesAt are this machine's for others, or the one that the page listens at.
func addressesAt(page string) (out []netip.Addr) {
	host, _, _ := net.SplitHostPort(page)
	if one, err := netip.ParseAddr(host); err == nil && !one.IsUnspecified() {
		return []netip.Addr{one}
	}
	for _, a := range networkAddresses("0") {
		out = append(out, a.Addr())
	}
	return out
}

// Look implements page.Authority.
func (o *ownAuthority) Look() page.AuthorityState {
	o.mu.Lock()
	defer o.mu.Unlock()
	now := o.names()
	s := page.AuthorityState{Names: now.Words(), Port: o.port()}
	a, err := o.read()
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return s
	case err != nil:
		s.Wrong = tongue.Saying{Args: []any{err}}
		return s
	}
	s.Made, s.Certificate, s.Name, s.Fingerprint, s.Until = true, a.Certificate(), a.Name(), a.Fingerprint(), a.Until()
	s.Names, s.Lacking = a.Names().Words(), now.Lacking(a.Names()).Words()
	s.InUse = o.used != nil && o.used.Fingerprint() == s.Fingerprint
	return s
}

// Make implements page.Authority.
func (o *ownAuthority) Make(by string) error {
	err := o.renew(by)
	switch {
	case errors.Is(err, authority.ErrNoName):
		return notWritten("This board has no address of a network, and no name that others could reach it by. Connect it, and try again.")
	case errors.Is(err, authority.ErrClock):
		return notWritten("The ten years of an authority count from now, but %s. Set it right, and try again.", err)
	case err != nil:
		return notWritten("It could not be kept: %s.", err)
	}
	return nil
}

// renew makes an authority in place of one that is there.
func (o *ownAuthority) renew(by string) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	a, err := o.make()
	if err == nil {
		o.log.Info().Str("by", by).Str("fingerprint", a.Fingerprint()).Str("name", a.Name()).Msg("an authority of this board was made")
	}
	return err
}

// Use implements page.Authority.
func (o *ownAuthority) Use(_ context.Context, by string) error {
	f := o.first
	if f == nil {
		return notWritten("This page may not change the configuration: write own-authority = true into its table [page].")
	}
	if !o.Look().Made {
		return notWritten("There is no authority yet that could be used. Make one first.")
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	d, err := f.open()
	if err != nil {
		return err
	}
	d.Set([]string{"page"}, "own-authority", true)
	for _, key := range []string{"certificate-file", "key-file"} {
		d.Set([]string{"page"}, key, nil)
	}
	if link, _ := d.Value("page", "link").(string); strings.HasPrefix(link, "http://") { // it would lead nowhere
		d.Set([]string{"page"}, "link", "https"+strings.TrimPrefix(link, "http"))
	}
	if err := f.save(d); err != nil {
		return err
	}
	f.log.Info().Str("file", f.set.File).Str("by", by).Msg("the page has certificates of the board's own authority from now on")
	f.set.Reload()
	return nil
}

var _ page.Authority = (*ownAuthority)(nil)
