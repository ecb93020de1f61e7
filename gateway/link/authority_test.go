package link

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// authority makes certificates in dir.
type authority struct {
	t      testing.TB
	dir    string
	cert   *x509.Certificate
	key    *ecdsa.PrivateKey
	file   string // of its own certificate
	serial int64
}

func newAuthority(t testing.TB, name string) *authority {
	a := &authority{t: t, dir: t.TempDir()}
	a.key = newKey(t)
	tmpl := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &a.key.PublicKey, a.key)
	if err != nil {
		t.Fatal(err)
	}
	if a.cert, err = x509.ParseCertificate(der); err != nil {
		t.Fatal(err)
	}
	a.file = a.write(name+".crt", "CERTIFICATE", der)
	return a
}

func newKey(t testing.TB) *ecdsa.PrivateKey {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func (a *authority) write(name, kind string, der []byte) string {
	file := filepath.Join(a.dir, name)
	if err := os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
		a.t.Fatal(err)
	}
	return file
}

// issue signs a certificate for hosts, or for a client when there are none.
func (a *authority) issue(name string, from, to time.Time, hosts ...string) (certFile, keyFile string) {
	a.serial++
	key := newKey(a.t)
	tmpl := &x509.Certificate{
		SerialNumber: big.NewInt(1 + a.serial), Subject: pkix.Name{CommonName: name},
		NotBefore: from, NotAfter: to, KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
	}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			tmpl.IPAddresses = append(tmpl.IPAddresses, ip)
		} else {
			tmpl.DNSNames = append(tmpl.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, a.cert, &key.PublicKey, a.key)
	if err != nil {
		a.t.Fatal(err)
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		a.t.Fatal(err)
	}
	return a.write(name+".crt", "CERTIFICATE", der), a.write(name+".key", "PRIVATE KEY", keyDER)
}

// valid issues a certificate that holds now.
func (a *authority) valid(name string, hosts ...string) (certFile, keyFile string) {
	return a.issue(name, time.Now().Add(-time.Hour), time.Now().Add(time.Hour), hosts...)
}
