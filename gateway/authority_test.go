package gateway

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"io/fs"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/tongue"
	"telltale/gateway/authority"
	"telltale/gateway/config"
	"telltale/gateway/entry"
	"telltale/gateway/page"
	"telltale/gateway/store/copies"
)

// authorityOf is the authority of a watch over a config, on a board with one address.
func authorityOf(t *testing.T, c *config.Config, log *bytes.Buffer) *ownAuthority {
	t.Helper()
	a := (&parts{cfg: c, log: zerolog.New(log)}).ownAuthority()
	a.port = func() string { return "8470" }
	a.at = func() []netip.Addr { return []netip.Addr{netip.MustParseAddr("192.0.2.10")} }
	return a
}

func plainConfig(t *testing.T) *config.Config {
	t.Helper()
	return &config.Config{Store: config.Store{Directory: t.TempDir()}, Page: config.Page{Address: "0.0.0.0:8470", Hosts: []string{"garden.example.org"}, OwnAuthority: true}}
}

// leafOf is the certificate that a connection is given.
func leafOf(t *testing.T, certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) *x509.Certificate {
	t.Helper()
	pair, err := certificate(&tls.ClientHelloInfo{})
	ok(t, err)
	leaf, err := x509.ParseCertificate(pair.Certificate[0])
	ok(t, err)
	return leaf
}

func TestThePageHasCertificatesOfItsAuthority(t *testing.T) {
	var log bytes.Buffer
	c := plainConfig(t)
	o := authorityOf(t, c, &log)
	if s := o.Look(); s.Made || !slices.Contains(s.Names, "garden.example.org") || !slices.Contains(s.Names, "192.0.2.10") {
		t.Errorf("before it is made: %+v", s)
	}
	ok(t, o.Make("ada"))
	s := o.Look()
	if !s.Made || s.InUse || !s.Wrong.Empty() || s.Port != "8470" || !strings.Contains(log.String(), s.Fingerprint) {
		t.Errorf("made: %+v\n%s", s, log.String())
	}
	info, err := os.Stat(o.file)
	ok(t, err)
	if info.Mode().Perm() != 0o600 {
		t.Errorf("the file has mode %o", info.Mode().Perm())
	}
	root, err := x509.ParseCertificate(s.Certificate)
	ok(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(root)
	// A watch that starts has certificates of it, and so has each later one.
	for range 2 {
		o = authorityOf(t, c, &log)
		certificate, err := o.open()
		ok(t, err)
		pair, err := certificate(&tls.ClientHelloInfo{})
		ok(t, err)
		between := x509.NewCertPool()
		between.AppendCertsFromPEM(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: pair.Certificate[1]}))
		for name, known := range map[string]bool{"garden.example.org": true, "192.0.2.10": true, "other.example.org": false, "192.0.2.11": false} {
			if _, err := leafOf(t, certificate).Verify(x509.VerifyOptions{DNSName: name, Roots: roots, Intermediates: between}); (err == nil) != known {
				t.Errorf("%s: %v", name, err)
			}
		}
		if s := o.Look(); !s.InUse || len(s.Lacking) != 0 {
			t.Errorf("in use: %+v", s)
		}
	}
	o.at = func() []netip.Addr { return []netip.Addr{netip.MustParseAddr("192.0.2.77")} }
	if s := o.Look(); !slices.Equal(s.Lacking, []string{"192.0.2.77"}) || slices.Contains(s.Names, "192.0.2.77") {
		t.Errorf("with another address: %+v", s)
	}
	// A new one is not used before the watch starts again.
	ok(t, o.Make("ada"))
	if now := o.Look(); now.InUse || now.Fingerprint == s.Fingerprint || len(now.Lacking) != 0 {
		t.Errorf("a new one: %+v", now)
	}
}

// Whatever is wrong with the authority, the watch starts with a page that speaks TLS.
func TestThePageIsServedWhateverItsAuthorityIs(t *testing.T) {
	good, err := authority.New(authority.NamesOf([]string{"garden.example.org"}, nil), time.Now())
	ok(t, err)
	for say, one := range map[string]struct {
		prepare func(*ownAuthority)
		own     bool // its certificate is of an authority
		says    string
	}{
		"none yet": {func(*ownAuthority) {}, true, "A device that trusted an earlier one must be given this one."},
		"good":     {func(o *ownAuthority) { ok(t, os.WriteFile(o.file, good.Kept(), 0o644)) }, true, ""},
		"half": {func(o *ownAuthority) { ok(t, os.WriteFile(o.file, good.Kept()[:700], 0o600)) }, false,
			"page-authority: it is not whole"},
		"a folder": {func(o *ownAuthority) { ok(t, os.Mkdir(o.file, 0o700)) }, false, "is a directory"},
		"a clock of 1970": {func(o *ownAuthority) { o.now = func() time.Time { return time.Unix(0, 0) } }, false,
			"the clock of this board is wrong: it shows 1 January 1970"},
		"nowhere to keep it": {func(o *ownAuthority) { o.file = filepath.Join(filepath.Dir(o.file), "no", "folder") }, false, "cannot be written"},
	} {
		var log bytes.Buffer
		o := authorityOf(t, plainConfig(t), &log)
		one.prepare(o)
		before, _ := os.ReadFile(o.file)
		certificate, err := o.open()
		ok(t, err)
		leaf := leafOf(t, certificate)
		if got := leaf.Issuer.String() != leaf.Subject.String(); got != one.own || leaf.NotAfter.Before(time.Now()) || (o.used != nil) != one.own {
			t.Errorf("%s: of an authority: %v; %s until %s", say, got, leaf.Issuer, leaf.NotAfter)
		}
		if !strings.Contains(log.String(), one.says) || one.says == "" && log.Len() > 0 || strings.Contains(log.String(), "PRIVATE") {
			t.Errorf("%s: the log says\n%s\nwant %q", say, log.String(), one.says)
		}
		after, _ := os.ReadFile(o.file)
		if len(before) > 0 && !bytes.Equal(before, after) {
			t.Errorf("%s: what was there is gone", say)
		}
		if info, err := os.Stat(o.file); err == nil && info.Mode().IsRegular() && info.Mode().Perm() != 0o600 {
			t.Errorf("%s: the file has mode %o", say, info.Mode().Perm())
		}
	}
}

func TestWhyAnAuthorityCannotBeMade(t *testing.T) {
	var log bytes.Buffer
	o := authorityOf(t, plainConfig(t), &log)
	o.now = func() time.Time { return time.Unix(0, 0) }
	if refused, is := errors.AsType[*page.FirstRefused](o.Make("ada")); !is || !strings.Contains(refused.Problems[0].Error(), "it shows 1 January 1970. Set it right, and try again.") ||
		refused.In(tongue.German) != "Die zehn Jahre einer Zertifizierungsstelle zählen ab jetzt, aber die Uhr dieses Rechners geht falsch: sie zeigt den 1. Januar 1970. Richtig stellen und noch einmal versuchen." {
		t.Errorf("by a clock of 1970: %v", refused)
	}
	o.now = time.Now
	o.file = filepath.Join(t.TempDir(), "no", "folder")
	if refused, is := errors.AsType[*page.FirstRefused](o.Make("ada")); !is || !strings.Contains(refused.Problems[0].Error(), "It could not be kept") {
		t.Errorf("where there is no folder: %v", refused)
	}
	if _, err := os.Stat(o.file); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("it is there: %v", err)
	}
	if refused, is := errors.AsType[*page.FirstRefused](o.Use(context.Background(), "ada")); !is || !strings.Contains(refused.Problems[0].Error(), "write own-authority = true") {
		t.Errorf("where the page writes no config: %v", refused)
	}
}

// What is served from then on stands in the file, and the old certificate is left.
func TestUsingTheAuthorityChangesTheFile(t *testing.T) {
	const account = "[account.ada]\nmay = \"act\"\npassword-file = \"secrets/one\"\n"
	cert := someCertificate(t)
	for _, one := range []struct{ before, after, gone string }{
		{"[page]\naddress = \":8470\" # all\ncertificate-file = \"page.pem\"\nkey-file = \"page.key\"\n", "[page]\naddress = \":8470\" # all\nown-authority = true\n", "certificate-file"},
		{"[page]\naddress = \":8470\"\nlink = \"http://garden.example.org:8470/\"\n", "link = \"https://garden.example.org:8470/\"\n", "http:"},
		{"page = { address = \":8470\" }\n", "own-authority = true", "certificate-file"},
		{"[page]\naddress = \":8470\"\nown-authority = false\n", "own-authority = true", "false"},
		{"[page]\naddress = \":8470\"\nown-authority = true\n", "own-authority = true", "false"},
	} {
		text := one.before + account
		if strings.HasPrefix(text, "page = ") {
			text = one.before + "\n" + account
		}
		f, reloads := giving(t, text)
		dir := filepath.Dir(f.set.File)
		ok(t, os.WriteFile(filepath.Join(dir, "page.pem"), []byte(cert.CertPEM), 0o600))
		ok(t, os.WriteFile(filepath.Join(dir, "page.key"), []byte(cert.KeyPEM), 0o600))
		var log bytes.Buffer
		o := authorityOf(t, plainConfig(t), &log)
		o.first = f
		if refused, is := errors.AsType[*page.FirstRefused](o.Use(context.Background(), "Ada")); !is || !strings.Contains(refused.Problems[0].Error(), "Make one first.") || *reloads != 0 {
			t.Errorf("before there is one: %v", refused)
		}
		ok(t, o.Make("Ada"))
		ok(t, o.Use(context.Background(), "Ada"))
		now, err := os.ReadFile(f.set.File)
		ok(t, err)
		c, problems := config.LoadToSetUp(f.set.File, noEnv)
		if c == nil || !c.Page.OwnAuthority || !c.Page.TLS() || c.Page.CertFile != "" || *reloads != 1 || !strings.Contains(string(now), one.after) || strings.Contains(string(now), one.gone) {
			t.Errorf("%q became\n%s\n%v, %d starts", one.before, now, problems, *reloads)
		}
		if _, err := os.Stat(filepath.Join(dir, "page.key")); err != nil {
			t.Errorf("the old key is gone: %v", err)
		}
	}
}

// No copy has the key by which the board signs, whatever else it has.
func TestNoCopyHasTheKeyOfTheAuthority(t *testing.T) {
	t.Parallel()
	ctx, dir := context.Background(), t.TempDir()
	l, err := lives(dir, 0, 5)
	ok(t, err)
	source := CopySource(l.cfg)
	source.Config = filepath.Join(dir, "garden.toml")
	ok(t, os.WriteFile(source.Config, []byte(victimConfig), 0o600))
	var log bytes.Buffer
	o := authorityOf(t, l.cfg, &log)
	ok(t, o.Make("ada"))
	kept, err := os.ReadFile(o.file)
	ok(t, err)
	ok(t, os.WriteFile(filepath.Join(l.cfg.Store.Directory, keyFile), []byte(strings.Repeat("ab", keySize)), 0o600)) // which it has
	c, err := copies.Make(ctx, source, copies.Target{Dir: t.TempDir(), Keep: 1, Now: l.clock.Now})
	ok(t, err)
	ok(t, l.stop())

	marker := keyOf(t, kept)
	seen, pageKey := 0, false
	ok(t, filepath.WalkDir(c.Path, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		seen++
		text, err := os.ReadFile(path)
		pageKey = pageKey || bytes.Contains(text, []byte(strings.Repeat("ab", keySize)))
		for what, secret := range marker {
			if bytes.Contains(text, secret) {
				t.Errorf("%s has the %s", path, what)
			}
		}
		if strings.Contains(filepath.Base(path), authorityFile) {
			t.Errorf("the copy has %s", path)
		}
		return err
	}))
	if seen < 4 || !pageKey {
		t.Errorf("the copy has %d files, the key of the page: %v; too little to judge", seen, pageKey)
	}
	// The file itself has what was looked for.
	for what, secret := range marker {
		if what != "key itself" && !bytes.Contains(kept, secret) {
			t.Errorf("the file has no %s", what)
		}
	}
}

// keyOf takes what is kept apart: its key in each form in which it could lie about.
func keyOf(t *testing.T, kept []byte) map[string][]byte {
	t.Helper()
	var block *pem.Block
	certs := 0
	for b, rest := pem.Decode(kept); b != nil; b, rest = pem.Decode(rest) {
		if b.Type == "PRIVATE KEY" {
			block = b
			continue
		}
		certs++
	}
	if certs != 2 || block == nil {
		t.Fatalf("kept are %d certificates and a key: %v", certs, block != nil)
	}
	text := pem.EncodeToMemory(block)
	return map[string][]byte{"key in a text": bytes.Split(text, []byte("\n"))[1], "key itself": block.Bytes[len(block.Bytes)-100:]}
}

// The first person may have it made together with the account.
func TestTheFirstAccountMayMakeAnAuthority(t *testing.T) {
	for _, wanted := range []bool{false, true} {
		file := filepath.Join(t.TempDir(), "x.toml")
		ok(t, os.WriteFile(file, []byte("[store]\ndirectory = \"kept\"\n"), 0o600))
		ok(t, os.Mkdir(filepath.Join(filepath.Dir(file), "kept"), 0o700))
		c, problems := config.LoadToSetUp(file, noEnv)
		if c == nil {
			t.Fatal(problems)
		}
		var log bytes.Buffer
		own := authorityOf(t, c, &log)
		e := &entrance{set: SetUp{File: file, Env: noEnv}, page: ":8470", log: zerolog.Nop(), own: own}
		_, err := e.make(entry.Account{Name: "Ada", Password: "four plain garden words", Certificate: someCertificate(t), Authority: wanted})
		ok(t, err)
		if s := own.Look(); s.Made != wanted || s.InUse {
			t.Errorf("wanted %v: %+v", wanted, s)
		}
		// The page begins with the certificate whose fingerprint was compared.
		if c, _ := config.LoadToSetUp(file, noEnv); c == nil || c.Page.OwnAuthority || c.Page.CertFile == "" {
			t.Errorf("the file says %+v", c)
		}
	}
	// Where it cannot be made the account is made all the same.
	file := filepath.Join(t.TempDir(), "x.toml")
	ok(t, os.WriteFile(file, nil, 0o600))
	var log, said bytes.Buffer
	own := authorityOf(t, plainConfig(t), &log)
	own.now = func() time.Time { return time.Unix(0, 0) }
	e := &entrance{set: SetUp{File: file, Env: noEnv}, page: ":8470", log: zerolog.New(&said), own: own}
	id, err := e.make(entry.Account{Name: "Ada", Password: "four plain garden words", Certificate: someCertificate(t), Authority: true})
	if err != nil || id != "ada" || !strings.Contains(said.String(), "the clock of this board is wrong") {
		t.Errorf("%s, %v:\n%s", id, err, said.String())
	}
}

// A page that others reach without a proxy offers it.
func TestWhichPageOffersAnAuthority(t *testing.T) {
	for _, one := range []struct {
		p       config.Page
		offered bool
	}{
		{config.Page{Address: "127.0.0.1:8470"}, false}, {config.Page{Address: "0.0.0.0:8470"}, true}, {config.Page{Address: ":8470"}, true},
		{config.Page{Address: "192.168.1.9:8470", CertFile: "c", KeyFile: "k"}, true}, {config.Page{Address: "0.0.0.0:8470", ProxyTLS: true}, false},
		{config.Page{Address: "127.0.0.1:8470", OwnAuthority: true}, true},
	} {
		c := plainConfig(t)
		c.Page = one.p
		var po page.Options
		ok(t, (&parts{cfg: c, log: zerolog.Nop()}).openAuthority(&po))
		if (po.Authority != nil) != one.offered || (po.Certificate != nil) != one.p.OwnAuthority {
			t.Errorf("%+v: offered %v, its certificate %v", one.p, po.Authority != nil, po.Certificate != nil)
		}
	}
	if got := addressesAt("192.168.1.9:8470"); !slices.Equal(got, []netip.Addr{netip.MustParseAddr("192.168.1.9")}) {
		t.Errorf("a page at one address is at %v", got)
	}
}
