package page

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"log"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"telltale/gateway/authority"
)

// trusting starts a browser that was told to trust certificates, by the store in which
// it keeps what people add.
func trusting(t *testing.T, all ...*x509.Certificate) *tab {
	t.Helper()
	browser := browserPath(t)
	program, err := exec.LookPath("certutil")
	if err != nil {
		if os.Getenv("TELLTALE_REQUIRE_BROWSER") == "1" {
			t.Fatal("certutil is not installed, but TELLTALE_REQUIRE_BROWSER=1 asks for what it tells the browser")
		}
		t.Skip("certutil is not installed: the browser cannot be told to trust an authority")
	}
	home := t.TempDir()
	store := filepath.Join(home, ".pki", "nssdb")
	run := func(args ...string) {
		t.Helper()
		if said, err := exec.Command(program, append([]string{"-d", "sql:" + store}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("certutil %v: %v\n%s", args, err, said)
		}
	}
	if err := os.MkdirAll(store, 0o700); err != nil {
		t.Fatal(err)
	}
	run("-N", "--empty-password")
	for i, c := range all {
		file := filepath.Join(home, string(rune('a'+i))+".pem")
		if err := os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw}), 0o600); err != nil {
			t.Fatal(err)
		}
		run("-A", "-t", "C,,", "-n", c.Subject.CommonName, "-i", file)
	}
	ctx, stop, err := launch(browser, t.TempDir(), chromedp.Env("HOME="+home), chromedp.Flag("host-resolver-rules", "MAP * 127.0.0.1"))
	if err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	t.Cleanup(stop)
	return newTab(t, ctx, 1280, 900)
}

// signer can sign whatever it likes, as whoever has its key could.
type signer struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	with [][]byte // certificates between
}

// stolen is the signer of an authority, from the file that keeps it.
func stolen(t *testing.T, a *authority.Authority) signer {
	t.Helper()
	var s signer
	for block, rest := pem.Decode(a.Kept()); block != nil; block, rest = pem.Decode(rest) {
		if block.Type == "CERTIFICATE" { // the second one signs
			c, err := x509.ParseCertificate(block.Bytes)
			if err != nil {
				t.Fatal(err)
			}
			s.cert, s.with = c, [][]byte{block.Bytes}
			continue
		}
		key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
		if err != nil {
			t.Fatal(err)
		}
		s.key = key.(*ecdsa.PrivateKey)
	}
	return s
}

// unbound is an authority without constraints.
func unbound(t *testing.T) signer {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "an authority for all names"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	der, err := x509.CreateCertificate(rand.Reader, c, c, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return signer{cert: parsed, key: key}
}

// site serves a page under a name, with a certificate for it, and counts who reads it.
func (s signer) site(t *testing.T, name string) (address string, read *atomic.Int32) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(time.Now().UnixNano()), Subject: pkix.Name{CommonName: name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(24 * time.Hour),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true}
	if at := net.ParseIP(name); at != nil {
		c.IPAddresses = []net.IP{at}
	} else {
		c.DNSNames = []string{name}
	}
	der, err := x509.CreateCertificate(rand.Reader, c, s.cert, key.Public(), s.key)
	if err != nil {
		t.Fatal(err)
	}
	read = new(atomic.Int32)
	srv := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		read.Add(1)
		w.Header().Set("Content-Type", "text/html")
		_, _ = w.Write([]byte("<h1>read</h1>"))
	}))
	srv.TLS = &tls.Config{Certificates: []tls.Certificate{{Certificate: slices.Concat([][]byte{der}, s.with), PrivateKey: key}}}
	srv.Config.ErrorLog = log.New(io.Discard, "", 0) // of browsers that turn away
	srv.StartTLS()
	t.Cleanup(srv.Close)
	_, port, err := net.SplitHostPort(srv.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return "https://" + net.JoinHostPort(name, port) + "/", read
}

// refused leads to an address, and returns why the browser does not open it; "": it does.
func (b *tab) refused(address string) string {
	b.t.Helper()
	bounded, stop := context.WithTimeout(b.ctx, patience)
	defer stop()
	if err := chromedp.Do(bounded, chromedp.Navigate(address)); err != nil {
		if bounded.Err() != nil {
			b.t.Fatal(err)
		}
		return err.Error()
	}
	return ""
}

// A browser that was told to trust the authority opens the board's page by its name,
// and refuses what whoever stole the authority's key would like it to believe.
func TestBrowserTrustsTheBoardAlone(t *testing.T) {
	t.Parallel()
	names := authority.NamesOf([]string{"garden-board.local"}, []netip.Addr{netip.MustParseAddr("192.0.2.10")})
	a, err := authority.New(names, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	root, err := x509.ParseCertificate(a.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	free := unbound(t)
	b := trusting(t, root, free.cert)

	st := start(t, Options{Watch: newFake(), Name: "Thimble Garth", Password: password, Hosts: []string{"garden-board.local"}, Certificate: a.Pages(time.Now).Certificate})
	_, port, err := net.SplitHostPort(st.server.Addr())
	if err != nil {
		t.Fatal(err)
	}
	if why := b.refused("https://" + net.JoinHostPort("garden-board.local", port) + "/"); why != "" {
		t.Fatal(why)
	}
	b.do(chromedp.WaitVisible(chromedp.ID("password")))
	b.truth("it is a page that may take alarms", `isSecureContext && "PushManager" in window`)
	if why := b.refused("https://" + net.JoinHostPort("other-board.local", port) + "/"); !strings.Contains(why, "ERR_CERT_COMMON_NAME_INVALID") {
		t.Errorf("the page under another name: %q", why)
	}

	thief := stolen(t, a)
	if address, read := thief.site(t, "garden-board.local"); b.refused(address) != "" || read.Load() == 0 {
		t.Errorf("what its key signs for its own name is not opened: %d", read.Load())
	}
	for _, name := range []string{"bank.example.com", "other-board.local", "local.example.com", "127.0.0.1"} {
		address, read := thief.site(t, name)
		if why := b.refused(address); !strings.Contains(why, "ERR_CERT") {
			t.Errorf("%s is opened: %q", name, why)
		}
		if read.Load() != 0 {
			t.Errorf("something was read of %s", name)
		}
		// It is the constraints that refuse it: an authority without any can do it.
		address, read = free.site(t, name)
		if why := b.refused(address); why != "" || read.Load() == 0 {
			t.Errorf("%s of an authority for all names: %q", name, why)
		}
	}
}
