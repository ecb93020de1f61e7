package page

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// certificate writes a key and a certificate for 127.0.0.1.
func certificate(t *testing.T) (certFile, keyFile string, pool *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	form := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "Thimble Garth"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, form, form, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	pool = x509.NewCertPool()
	certPEM := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	pool.AppendCertsFromPEM(certPEM)
	certFile, keyFile = filepath.Join(t.TempDir(), "page.crt"), filepath.Join(t.TempDir(), "page.key")
	for name, data := range map[string][]byte{certFile: certPEM,
		keyFile: pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER})} {
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return certFile, keyFile, pool
}

func TestOverTLS(t *testing.T) {
	t.Parallel()
	cert, key, pool := certificate(t)
	f := newFake()
	st := start(t, Options{Watch: f, CertFile: cert, KeyFile: key}, quick,
		func(s *Server) { s.limits = timeLimits{aLimit, aLimit} })
	st.base = strings.Replace(st.base, "http:", "https:", 1)
	tr := &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{RootCAs: pool}}
	defer tr.CloseIdleConnections()
	st.client.Transport = tr
	a, _ := st.get("/")
	if a.StatusCode != http.StatusOK || a.ProtoMajor != 2 {
		t.Fatalf("got status %d over HTTP/%d", a.StatusCode, a.ProtoMajor)
	}
	events := st.follow()
	next(t, events)
	time.Sleep(2 * st.server.limits.write) // quiet for longer than an answer may take
	f.change(func(p *alarms.Picture) { p.Sentence = "All is well." })
	wantAll(t, next(t, events).news(t).Pieces["top"], "All is well.")
}
