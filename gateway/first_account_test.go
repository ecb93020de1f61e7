package gateway

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"telltale/gateway/config"
	"telltale/gateway/page"
)

// giving is a first over a file, with nothing that listens.
func giving(t *testing.T, text string) (*first, *int) {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "x.toml")
	ok(t, os.Mkdir(filepath.Join(dir, "secrets"), 0o700))
	ok(t, os.WriteFile(filepath.Join(dir, "secrets", "one"), []byte("four plain garden words\n"), 0o600))
	ok(t, os.WriteFile(file, []byte(text), 0o600))
	reloads := new(int)
	return &first{set: SetUp{File: file, Env: noEnv, Reload: func() { *reloads++ }}, at: func() string { return "127.0.0.1:4711" }, log: zerolog.Nop()}, reloads
}

const withAccount = "[store]\ndirectory = \"kept\"\n[account.ada]\nmay = \"act\"\npassword-file = \"secrets/one\"\n"

func TestAProbesAccountIsItsOwn(t *testing.T) {
	for _, one := range []struct{ page, broker, address, host, port string }{
		{"0.0.0.0:8470", "", "0.0.0.0:1883", "", "1883"},
		{":8470", "[own-broker]\naddress = \"127.0.0.1:2883\"\n", ":2883", "", "2883"},
		{"192.168.1.9:8470", "", "192.168.1.9:1883", "192.168.1.9", "1883"},
		{"127.0.0.1:8470", "", "127.0.0.1:1883", "127.0.0.1", "1883"}, // the page is not open either
		{"0.0.0.0:8470", "[own-broker]\naddress = \"127.0.0.1:0\"\n", "0.0.0.0:0", "", "4711"},
		{"0.0.0.0:8470", "[own-broker]\naddress = \"192.168.1.9:2883\"\n[own-broker.account.old]\npassword-file = \"secrets/one\"\nmay-send = [\"old\"]\n", "192.168.1.9:2883", "192.168.1.9", "2883"},
	} {
		f, reloads := giving(t, withAccount+"[page]\naddress = \""+one.page+"\"\n"+one.broker)
		g, err := f.Garden()
		ok(t, err)
		if !g.Gives || g.Without {
			t.Errorf("%+v: it gives %v, without %v", one, g.Gives, g.Without)
		}
		a, err := f.GiveAccount(context.Background(), "Bench 1", g.Mark, "Ada")
		ok(t, err)
		if a.User != "bench-1" || a.Topic != "bench-1" || a.Host != one.host || a.Port != one.port || a.TLS || a.File != "secrets/probe-bench-1" || *reloads != 1 {
			t.Errorf("%+v: given is %+v", one, a)
		}
		// Whoever asks twice with one look gets one account.
		if _, err := f.GiveAccount(context.Background(), "Bench 1", g.Mark, "Ada"); !errors.Is(err, page.ErrFirstChanged) {
			t.Errorf("it is given twice: %v", err)
		}
		g, err = f.Garden()
		ok(t, err)
		b, err := f.GiveAccount(context.Background(), "Bench 1", g.Mark, "Ada")
		ok(t, err)
		if b.User != "bench-2" || b.Password == a.Password || len(b.Password) != 16 {
			t.Errorf("the second one is %+v", b)
		}
		c, problems := config.LoadToSetUp(f.set.File, noEnv)
		if c == nil {
			t.Fatal(problems)
		}
		got := c.Broker.Accounts[len(c.Broker.Accounts)-2]
		if c.Broker.Address != one.address || got.User != "bench-1" || got.Password.Reveal() != a.Password || strings.Join(got.MaySend, " ") != "bench-1/#" || got.MayRead != nil {
			t.Errorf("%+v: the file has %s and %+v", one, c.Broker.Address, got)
		}
		if text, err := os.ReadFile(f.set.File); err != nil || strings.Contains(string(text), a.Password) {
			t.Errorf("the password stands in the file: %v", err)
		}
	}
}

func TestNoAccountWhereNobodyNeedsOne(t *testing.T) {
	for text, gives := range map[string]bool{
		bare:        false,
		withAccount: true,
		bare + "[page]\npassword-file = \"secrets/one\"\n":                true,
		withAccount + "[broker]\nservers = [\"mqtt://127.0.0.1:1883\"]\n": false,
	} {
		f, reloads := giving(t, text)
		g, err := f.Garden()
		ok(t, err)
		_, err = f.GiveAccount(context.Background(), "telltale", g.Mark, "Ada")
		if g.Gives != gives || (err == nil) != gives || (*reloads == 1) != gives {
			t.Errorf("it gives %v, %v, want %v, with\n%s", g.Gives, err, gives, text)
		}
		c, problems := config.LoadToSetUp(f.set.File, noEnv)
		if c == nil {
			t.Fatal(problems)
		}
		if gives && c.Broker.Accounts[0].User == config.WatchUser {
			t.Error("a probe has the watch's own account")
		}
	}
}

// Probes that publish without an account are named before they are shut out.
func TestProbesWithoutAnAccountAreSeen(t *testing.T) {
	const house = "[nobody-told]\nbecause = \"a trial\"\n[house.long-house]\n[house.long-house.place.bench]\n[probe.bench-1]\nplace = \"long-house/bench\"\ntopic = \"a\"\ntemperature = {}\n"
	f, _ := giving(t, withAccount+house)
	g, err := f.Garden()
	ok(t, err)
	if !g.Without {
		t.Error("a probe that publishes without an account is not seen")
	}
	_, err = f.GiveAccount(context.Background(), "Bench 1", g.Mark, "Ada")
	ok(t, err)
	if g, err = f.Garden(); err != nil || g.Without {
		t.Errorf("it is named for ever: %v", err)
	}
}
