package authority

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"time"

	"telltale/alarms/tongue"
)

// Kinds of blocks of PEM.
const (
	certificateBlock = "CERTIFICATE"
	keyBlock         = "PRIVATE KEY"
)

const (
	years    = 10 // for which an authority holds
	mostName = 38 // of a host's name in that of a certificate, which has 64 at most (RFC 5280, appendix A.1)
)

// beginning is when every authority begins to hold; a clock that stands before it is
// wrong.
var beginning = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// Errors of New.
var (
	ErrNoName = errors.New("this board has no name or address that a certificate could be for")
	ErrClock  = errors.New("the clock of this board is wrong")
)

// Authority is one that can sign.
type Authority struct {
	root   *x509.Certificate // which people trust
	issuer *x509.Certificate // which signs
	key    *ecdsa.PrivateKey // of issuer
	kept   []byte            // all of it, in PEM
}

// New makes one that holds from beginning until ten years from now. Errors: ErrNoName,
// ErrClock.
func New(names Names, now time.Time) (*Authority, error) {
	switch {
	case names.none():
		return nil, ErrNoName
	case now.Before(beginning):
		return nil, tongue.Put("the clock of this board is wrong: it shows %s", tongue.Dated{Layout: "2 January 2006", At: now.UTC()}).Of(ErrClock)
	}
	rootKey, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	mark, err := markOf(rootKey)
	if err != nil {
		return nil, err
	}
	host := names.Words()[0]
	name := "Telltale on " + host[:min(len(host), mostName)] + " " + mark
	until := now.UTC().AddDate(years, 0, 0).Truncate(time.Second)
	rootForm := form(name, names, until)
	rootForm.MaxPathLen = 1
	issuerForm := form(name+" page", names, until)
	issuerForm.MaxPathLenZero = true
	rootDER, err := x509.CreateCertificate(rand.Reader, rootForm, rootForm, rootKey.Public(), rootKey)
	if err != nil {
		return nil, err
	}
	root, err := x509.ParseCertificate(rootDER)
	if err != nil {
		return nil, err
	}
	issuerDER, err := x509.CreateCertificate(rand.Reader, issuerForm, root, key.Public(), rootKey)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var kept bytes.Buffer
	for _, b := range []pem.Block{{Type: certificateBlock, Bytes: rootDER}, {Type: certificateBlock, Bytes: issuerDER}, {Type: keyBlock, Bytes: secret}} {
		if err := pem.Encode(&kept, &b); err != nil {
			return nil, err
		}
	}
	return Parse(kept.Bytes())
}

// markOf tells authorities of one board apart.
func markOf(key *ecdsa.PrivateKey) (string, error) {
	der, err := x509.MarshalPKIXPublicKey(key.Public())
	sum := sha256.Sum256(der)
	return fmt.Sprintf("%X", sum[:3]), err
}

// nowhere is below a domain that is never anybody's (RFC 2606, section 2).
const nowhere = "telltale.invalid"

// form is that of a certificate that signs for these names alone.
func form(name string, names Names, until time.Time) *x509.Certificate {
	c := &x509.Certificate{
		Subject:   pkix.Name{CommonName: name},
		NotBefore: beginning, NotAfter: until,
		IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},

		PermittedDNSDomainsCritical: true, // of all kinds, whatever its name
		PermittedDNSDomains:         names.Hosts,
		PermittedEmailAddresses:     []string{nowhere},
		PermittedURIDomains:         []string{nowhere},
	}
	if len(names.Hosts) == 0 {
		c.PermittedDNSDomains = []string{nowhere}
	}
	for _, a := range names.Addresses {
		c.PermittedIPRanges = append(c.PermittedIPRanges, ipNet(netip.PrefixFrom(a, a.BitLen())))
	}
	// All addresses of a kind of which there is none.
	for _, all := range []netip.Prefix{netip.PrefixFrom(netip.IPv4Unspecified(), 0), netip.PrefixFrom(netip.IPv6Unspecified(), 0)} {
		has := false
		for _, a := range names.Addresses {
			has = has || a.BitLen() == all.Addr().BitLen()
		}
		if !has {
			c.ExcludedIPRanges = append(c.ExcludedIPRanges, ipNet(all))
		}
	}
	return c
}

func ipNet(p netip.Prefix) *net.IPNet {
	return &net.IPNet{IP: net.IP(p.Addr().AsSlice()), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())}
}

// Parse reads what Kept gave. Errors say what is wrong with it, without repeating it.
func Parse(text []byte) (*Authority, error) {
	a := &Authority{kept: bytes.Clone(text)}
	for block, rest := pem.Decode(text); block != nil; block, rest = pem.Decode(rest) {
		if err := a.take(block); err != nil {
			return nil, err
		}
	}
	if a.root == nil || a.issuer == nil || a.key == nil {
		return nil, tongue.Put("it is not whole: two certificates and a key belong into it")
	}
	if !a.key.PublicKey.Equal(a.issuer.PublicKey) || a.issuer.CheckSignatureFrom(a.root) != nil || a.root.CheckSignatureFrom(a.root) != nil {
		return nil, tongue.Put("what is in it does not go together")
	}
	return a, nil
}

func (a *Authority) take(block *pem.Block) error {
	if block.Type == keyBlock {
		key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
		if err != nil {
			return tongue.Put("its key cannot be read")
		}
		of, ok := key.(*ecdsa.PrivateKey)
		if !ok {
			return tongue.Put("its key is of another kind")
		}
		a.key = of
		return nil
	}
	c, err := x509.ParseCertificate(block.Bytes)
	switch {
	case err != nil:
		return tongue.Put("a certificate in it cannot be read")
	case a.root == nil:
		a.root = c
	default:
		a.issuer = c
	}
	return nil
}

// Kept is all of it with its key, in PEM, for a file that nobody else may read.
func (a *Authority) Kept() []byte { return bytes.Clone(a.kept) }

// Certificate is the one to trust, in DER, and holds no secret.
func (a *Authority) Certificate() []byte { return bytes.Clone(a.root.Raw) }

// Name is how devices list it.
func (a *Authority) Name() string { return a.root.Subject.CommonName }

// Fingerprint is SHA-256 of Certificate, as browsers write it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.root.Raw)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}

// Until is when it ends.
func (a *Authority) Until() time.Time { return a.issuer.NotAfter }

// Names are what it vouches for.
func (a *Authority) Names() Names {
	var n Names
	for _, h := range a.issuer.PermittedDNSDomains {
		if h != nowhere {
			n.Hosts = append(n.Hosts, h)
		}
	}
	for _, r := range a.issuer.PermittedIPRanges {
		if at, ok := netip.AddrFromSlice(r.IP); ok {
			n.Addresses = append(n.Addresses, at.Unmap())
		}
	}
	return n
}
