package gateway

import (
	"errors"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"telltale/gateway/config"
	"telltale/gateway/entry"
	"telltale/gateway/page/passwords"
)

// entryOf is the way in that a watch over a file with this text has; nil: none.
func entryOf(t *testing.T, text, at string) *entry.Server {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.toml")
	ok(t, os.MkdirAll(filepath.Join(filepath.Dir(file), "secrets"), 0o700))
	ok(t, os.WriteFile(filepath.Join(filepath.Dir(file), "secrets", "one"), []byte("four plain garden words\n"), 0o600))
	ok(t, os.WriteFile(file, []byte(text), 0o600))
	c, problems := config.LoadToSetUp(file, noEnv)
	if c == nil {
		t.Fatal(problems)
	}
	p := &parts{cfg: c, log: zerolog.Nop()}
	ok(t, p.openEntry(Options{SetUp: &SetUp{File: file, Env: noEnv, At: at}}))
	return p.entry
}

const oneAddress = "127.0.0.1:0"

func TestOnlyAGardenOfNobodyIsOpened(t *testing.T) {
	const store = "[store]\ndirectory = \"kept\"\n"
	for _, one := range []struct {
		text            string
		byItself, asked bool // it is opened without, and with, an address given
	}{
		{store, true, true},
		{"", true, true},
		{store + "[words]\nzone = \"UTC\"\n", true, true},
		{store + "[page]\nname = \"Thimble Garth\"\n", false, true},
		{store + "[page]\naddress = \"127.0.0.1:8470\"\n[own-broker]\naddress = \"127.0.0.1:1883\"\n", false, true},
		{store + "[page]\npassword-file = \"secrets/one\"\n", false, false},
		{store + "[page]\naddress = \"0.0.0.0:8470\"\npassword-file = \"secrets/one\"\n", false, false},
		{store + "[account.ada]\nmay = \"act\"\npassword-file = \"secrets/one\"\n", false, false},
		{store + "[account.ada]\nmay = \"look\"\npassword-file = \"secrets/one\"\n", false, false},
		{store + "[broker]\nservers = [\"mqtt://127.0.0.1:1883\"]\n", false, false},
		{store + "[own-broker]\naddress = \"0.0.0.0:1883\"\n[own-broker.account.bench-1]\npassword-file = \"secrets/one\"\nmay-send = [\"a\"]\n", false, false},
		{store + "[nobody-told]\nbecause = \"a trial\"\n[house.long-house]\n[house.long-house.place.bench]\n[probe.bench-1]\nplace = \"long-house/bench\"\ntopic = \"a\"\ntemperature = {}\n", false, false},
	} {
		if got := entryOf(t, one.text, "") != nil; got != one.byItself {
			t.Errorf("opened by itself: %v, want %v, with\n%s", got, one.byItself, one.text)
		}
		if got := entryOf(t, one.text, oneAddress) != nil; got != one.asked {
			t.Errorf("opened where that was asked for: %v, want %v, with\n%s", got, one.asked, one.text)
		}
		if entryOf(t, one.text, Nowhere) != nil {
			t.Errorf("opened though that was forbidden, with\n%s", one.text)
		}
	}
}

// A watch that went back to an older config does not open what the file has closed.
func TestAnOlderConfigOpensNothing(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.toml")
	ok(t, os.WriteFile(file, nil, 0o600))
	c, _ := config.LoadToSetUp(file, noEnv)
	for _, text := range []string{"[page]\naddress = \"0.0.0.0:1\"\n", "[account.ada]\n", "[["} {
		ok(t, os.WriteFile(file, []byte(text), 0o600))
		p := &parts{cfg: c, log: zerolog.Nop()}
		ok(t, p.openEntry(Options{SetUp: &SetUp{File: file, Env: noEnv, At: oneAddress}}))
		if p.entry != nil {
			t.Errorf("opened with\n%s", text)
		}
	}
}

// Where the config cannot be written the code would lead nowhere.
func TestAFolderThatCannotBeWrittenToOpensNothing(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "x.toml")
	ok(t, os.WriteFile(file, nil, 0o600))
	ok(t, mayWriteBeside(file))
	if err := mayWriteBeside(filepath.Join(dir, "no-folder", "x.toml")); err == nil {
		t.Error("it may write into a folder that is not there")
	}
	all, err := os.ReadDir(dir)
	ok(t, err)
	if len(all) != 1 {
		t.Errorf("trying left %v", all)
	}
}

func TestTheFirstAccountIsWritten(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.toml")
	const own = "# Mine.\n[store]\ndirectory = \"kept\"\n"
	ok(t, os.WriteFile(file, []byte(own), 0o600))
	e := &entrance{set: SetUp{File: file, Env: noEnv}, page: ":8470", log: zerolog.Nop()}
	cert := someCertificate(t)
	for _, bad := range []struct{ name, password, field, say string }{
		{" \n", "four plain garden words", "name", "Say by which name you sign in."},
		{"Ada", "short", "password", "The password must hold at least 12 characters"},
	} {
		_, err := e.make(entry.Account{Name: bad.name, Password: bad.password, Certificate: cert})
		if r, is := errors.AsType[*entry.Refused](err); !is || r.Field != bad.field || !strings.Contains(r.Error(), bad.say) {
			t.Errorf("%q, %q: got %v, want %q", bad.name, bad.password, err, bad.say)
		}
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != own {
		t.Errorf("something was written: %v\n%s", err, text)
	}
	id, err := e.make(entry.Account{Name: " Ada  Lark ", Password: "four plain garden words", Certificate: cert})
	ok(t, err)
	c, problems := config.LoadToSetUp(file, noEnv)
	if c == nil {
		t.Fatal(problems)
	}
	if len(problems) != 1 || !strings.Contains(problems[0].Says.Error(), "heartbeat") {
		t.Errorf("the new file has %v", problems)
	}
	a := c.Page.Accounts[0]
	if id != "ada-lark" || a.ID != id || a.Name != "Ada Lark" || a.May != config.MayAct || c.Page.Address != ":8470" || c.Unclaimed() || c.Broker.Address != "127.0.0.1:1883" {
		t.Errorf("got %+v as %q, page %+v", a, id, c.Page)
	}
	h, err := passwords.Parse(a.PasswordHash.Reveal())
	if err != nil || !h.Matches("four plain garden words") || a.Password.Given() {
		t.Errorf("the password is kept as %v, %v", h, err)
	}
	for path, want := range map[string]string{c.Page.CertFile: cert.CertPEM, c.Page.KeyFile: cert.KeyPEM} {
		text, err := os.ReadFile(path)
		ok(t, err)
		info, err := os.Stat(path)
		ok(t, err)
		if string(text) != want+"\n" || info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %o and\n%s", path, info.Mode().Perm(), text)
		}
	}
	text, err := os.ReadFile(file)
	ok(t, err)
	if !strings.HasPrefix(string(text), own) || strings.Contains(string(text), "garden words") {
		t.Errorf("the file is\n%s", text)
	}
	// A second one finds that somebody is there.
	if _, err := e.make(entry.Account{Name: "Ben", Password: "four plain garden words", Certificate: cert}); err == nil || !strings.Contains(err.Error(), "lets somebody in already") {
		t.Errorf("a second first account: %v", err)
	}
}

// someCertificate is one as the way in makes it.
func someCertificate(t *testing.T) entry.Certificate {
	t.Helper()
	c, err := entry.NewCertificate([]string{"long-house"}, []netip.Addr{netip.MustParseAddr("127.0.0.1")})
	ok(t, err)
	return c
}

// This machine's addresses for others are none that only it has itself, or only its
// wire.
func TestNetworkAddresses(t *testing.T) {
	for _, a := range networkAddresses("8470") {
		if a.Port() != 8470 || a.Addr().IsLoopback() || a.Addr().IsLinkLocalUnicast() || a.Addr().IsUnspecified() || a.Addr().Is4In6() {
			t.Errorf("%s is no address for others", a)
		}
	}
	if got := networkAddresses("http"); got != nil {
		t.Errorf("a port that is none has addresses %v", got)
	}
	if names := hostNames(); names[len(names)-1] != "localhost" {
		t.Errorf("its names are %v", names)
	}
}
