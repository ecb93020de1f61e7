package entry

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"time"
)

// Certificate is a self-made one with its key.
type Certificate struct {
	CertPEM, KeyPEM string
	Fingerprint     string // SHA-256 of the certificate, as browsers write it
	pair            tls.Certificate
}

// The dates of a certificate: a board may begin with a clock that stands in 1970 or
// beyond 2038. The end is the date that means none (RFC 5280, section 4.1.2.5).
var (
	validFrom  = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	validUntil = time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC)
)

// NewCertificate makes one for this machine's names and addresses. It vouches for
// itself and can sign no other.
func NewCertificate(names []string, addresses []netip.Addr) (Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return Certificate{}, err
	}
	form := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "Telltale"},
		NotBefore: validFrom, NotAfter: validUntil,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
		DNSNames:              names,
	}
	for _, a := range addresses {
		form.IPAddresses = append(form.IPAddresses, net.IP(a.AsSlice()))
	}
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		return Certificate{}, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return Certificate{}, err
	}
	c := Certificate{Fingerprint: fingerprint(der),
		CertPEM: string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})),
		KeyPEM:  string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}))}
	c.pair, err = tls.X509KeyPair([]byte(c.CertPEM), []byte(c.KeyPEM))
	return c, err
}

func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}
