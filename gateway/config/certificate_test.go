package config

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// writePair writes a new certificate and its key to dir.
func writePair(t *testing.T, dir, name string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	cert := &x509.Certificate{SerialNumber: big.NewInt(1)}
	der, err := x509.CreateCertificate(rand.Reader, cert, cert, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	for file, block := range map[string]*pem.Block{name + ".pem": {Type: "CERTIFICATE", Bytes: der},
		name + ".key": {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(filepath.Join(dir, file), pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// A certificate goes with its own key and with no other.
func TestCertificates(t *testing.T) {
	dir := t.TempDir()
	writePair(t, dir, "page")
	writePair(t, dir, "other")
	data, err := os.ReadFile(goodFolder + "minimal.toml")
	if err != nil {
		t.Fatal(err)
	}
	for key, good := range map[string]bool{"page.key": true, "other.key": false} {
		text := string(data) + "\n[page]\ncertificate-file = \"page.pem\"\nkey-file = \"" + key +
			"\"\n[broker]\nservers = [\"mqtts://broker.example.org\"]\nauthority-file = \"other.pem\"\n"
		c, problems := Parse(filepath.Join(dir, "x.toml"), []byte(text), fixedEnv)
		switch {
		case good && (len(problems) > 0 || c.Page.CertFile != filepath.Join(dir, "page.pem") || c.Link.CAFile != filepath.Join(dir, "other.pem")):
			t.Errorf("with %s: got %v", key, problems)
		case !good && (len(problems) != 1 || !strings.Contains(problems.Error(), "page.certificate-file: does not go with its key-file")):
			t.Errorf("with %s: got %v, want that they do not go together", key, problems)
		}
	}
}
