package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"net"
	"sync"
	"time"
)

const (
	leafHolds = 90 * 24 * time.Hour // browsers take none of more than 398 days
	leafSpare = 30 * 24 * time.Hour // it is made anew so long before its end
	skew      = 24 * time.Hour      // by which a visitor's clock may be behind
)

// Pages makes the certificates of one page. It keeps none: their keys are never
// written anywhere.
type Pages struct {
	a   *Authority
	now func() time.Time

	mu    sync.Mutex
	pair  *tls.Certificate
	from  time.Time
	again time.Time // a new one is made from then on
}

// Pages makes certificates for all names of a, by the clock now.
func (a *Authority) Pages(now func() time.Time) *Pages { return &Pages{a: a, now: now} }

// Certificate is tls.Config's GetCertificate: one that holds now, whichever name is
// asked for.
func (p *Pages) Certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.now().UTC()
	if first := p.a.issuer.NotBefore.Add(skew); at.Before(first) {
		at = first // a clock that stands before that is wrong
	}
	if last := p.a.Until(); at.After(last) {
		at = last // then there is none that holds
	}
	if p.pair != nil && !at.Before(p.from) && at.Before(p.again) {
		return p.pair, nil
	}
	from, until := at.Add(-skew), at.Add(leafHolds)
	if last := p.a.Until(); until.After(last) {
		until = last
	}
	pair, err := p.a.sign(p.a.Names(), from, until)
	if err != nil {
		return nil, err
	}
	p.pair, p.from, p.again = pair, from, at.Add(leafHolds-leafSpare)
	return pair, nil
}

// sign makes a certificate with a key of its own.
func (a *Authority) sign(names Names, from, until time.Time) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	c := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "Telltale"},
		NotBefore: from, NotAfter: until,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, DNSNames: names.Hosts,
	}
	for _, at := range names.Addresses {
		c.IPAddresses = append(c.IPAddresses, net.IP(at.AsSlice()))
	}
	der, err := x509.CreateCertificate(rand.Reader, c, a.issuer, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	return &tls.Certificate{Certificate: [][]byte{der, a.issuer.Raw}, PrivateKey: key, Leaf: leaf}, err
}
