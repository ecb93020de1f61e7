package gateway

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/rs/zerolog"

	"telltale/gateway/config"
	"telltale/gateway/config/edit"
	"telltale/gateway/entry"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/door"
	"telltale/gateway/page/passwords"
)

// Nowhere as SetUp.At keeps the first set-up to this machine.
const Nowhere = "nowhere"

// entrance lets the first person in from another machine, and writes their account
// into the file.
type entrance struct {
	set  SetUp
	page string // address of the page from then on
	own  *ownAuthority
	log  zerolog.Logger
}

// openEntry makes the way in for the first person, where nobody else has one.
func (p *parts) openEntry(o Options) error {
	if o.SetUp == nil || o.SetUp.At == Nowhere || !p.cfg.Unclaimed() {
		return nil
	}
	if o.SetUp.At == "" && !p.cfg.Untouched() {
		return nil // who wrote of page and broker has a screen
	}
	e := &entrance{set: *o.SetUp, log: p.logger("setup"), own: p.ownAuthority()}
	now, _ := config.LoadToSetUp(e.set.File, e.set.Env)
	if now == nil || !now.Unclaimed() {
		return nil // the file has gone on, and this is an older one
	}
	if err := mayWriteBeside(e.set.File); err != nil {
		e.log.Warn().Err(err).Msg("The first set-up from another machine is not offered, as the configuration cannot be written where it is.")
		return nil
	}
	_, port, err := net.SplitHostPort(p.cfg.Page.Address)
	if err != nil {
		return err
	}
	addresses := func() []netip.AddrPort { return networkAddresses(port) }
	e.page = ":" + port
	if at := e.set.At; at != "" {
		one, err := netip.ParseAddrPort(at)
		if err != nil {
			return fmt.Errorf("the first set-up must listen at an address such as 192.168.1.9:8470, or %s (got %q)", Nowhere, at)
		}
		e.page = at
		addresses = func() []netip.AddrPort { return []netip.AddrPort{one} }
	}
	p.entry = entry.New(entry.Options{Addresses: addresses, Names: hostNames(), Make: e.make, Made: e.set.Reload,
		ConnState: door.NewConnections(false).State, Log: e.log})
	return nil
}

// runEntry starts the way in, if there is one.
func (p *parts) runEntry(g *group) {
	if p.entry != nil {
		g.run(p.entry.Run)
	}
}

// mayWriteBeside tries whether a file can be made beside the one at path, as that is
// how it is replaced.
func mayWriteBeside(path string) error {
	target, err := filepath.EvalSymlinks(path)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(target), "."+filepath.Base(target)+"-*")
	if err != nil {
		return err
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}

// make writes the first account into the file, and opens the page with it.
func (e *entrance) make(a entry.Account) (id string, err error) {
	name := answer.Tidy(a.Name, 40)
	if name == "" {
		return "", &entry.Refused{Field: "name", Say: "Say by which name you sign in."}
	}
	hash, err := passwords.New(a.Password)
	if err != nil {
		return "", &entry.Refused{Field: "password", Say: "The password %s.", Args: []any{err}}
	}
	d, problems := edit.OpenDraft(e.set.File, e.set.Env)
	if d == nil {
		return "", problems.Err()
	}
	if now, _ := config.ParseToSetUp(e.set.File, []byte(d.Text()), e.set.Env); now == nil || !now.Unclaimed() {
		return "", &entry.Refused{Say: "Somebody has changed the configuration meanwhile, so that it lets somebody in already. Nothing was written. Start Telltale again."}
	}
	id = d.NewAccountID(name)
	d.SetReach(edit.ReachEdit{Address: e.page, Certificate: a.Certificate.CertPEM, Key: a.Certificate.KeyPEM})
	d.SetAccount(edit.AccountEdit{ID: id, Name: name, Hash: hash.String()})
	switch err := d.Save(); {
	case errors.Is(err, edit.ErrChanged):
		return "", &entry.Refused{Say: "The configuration was changed at the same moment. Nothing was written. Send the form once more."}
	case errors.Is(err, edit.ErrWrite):
		return "", &entry.Refused{Say: "Telltale may not write its configuration: %v. Nothing was changed.", Args: []any{err}}
	case err != nil:
		return "", err
	}
	e.log.Info().Str("file", e.set.File).Str("account", id).Msg("the first account was made and the page opened to the network")
	if a.Authority {
		if err := e.own.renew(id); err != nil { // its page says it again, and can make one
			e.log.Warn().Err(err).Msg("the authority could not be made")
		}
	}
	return id, nil
}

// networkAddresses are those by which others reach this machine.
func networkAddresses(port string) (out []netip.AddrPort) {
	n, err := strconv.ParseUint(port, 10, 16)
	if err != nil {
		return nil
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range all {
		prefix, err := netip.ParsePrefix(a.String())
		if one := prefix.Addr().Unmap(); err == nil && one.IsGlobalUnicast() {
			out = append(out, netip.AddrPortFrom(one, uint16(n)))
		}
	}
	return out
}

// hostNames are those of this machine, as others may type them.
func hostNames() []string {
	name, err := os.Hostname()
	name = strings.ToLower(strings.TrimSuffix(name, "."))
	if err != nil || name == "" || strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789-.") != "" {
		return []string{"localhost"}
	}
	if !strings.Contains(name, ".") {
		return []string{name, name + ".local", "localhost"}
	}
	return []string{name, "localhost"}
}
