//go:build linux

package deploy

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// installedGarden is what the grower of these tests writes into
// /etc/telltale/garden.toml.
const installedGarden = `[words]
zone = "CET"
[house.long-house]
name = "Long House"
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench]
name = "bench"
temperature = { low = 8, high = 32, delay = "0s", quick-delay = "0s" }
[probe.bench-1]
place = "long-house/bench"
topic = "thimble-garth/bench-1"
every = "1h"
temperature = {}
[own-broker]
address = "127.0.0.1:1883"
[own-broker.account.bench-1]
password-file = "secrets/bench-1"
may-send = ["thimble-garth/bench-1"]
[page]
address = "127.0.0.1:8470"
password-file = "secrets/page"
[channel.mail]
kind = "mail"
server = "mail.example.org:587"
from = "telltale@example.org"
rehearse = true
[person.grower]
name = "Grower"
mail = "grower@example.org"
channels = ["mail"]
[[tell]]
people = ["grower"]
`

const (
	pagePassword = "rain of spring on the page"
	probeSecret  = "rain of spring on the bench"
	everything   = `find / -xdev -iname '*telltale*' -not -path '/proc/*' -not -path '/sys/*' -not -path '/packages/*' -not -path '/var/log/journal/*' -not -path '/run/*'`
)

// installed has the packages live in a bare Debian, with a service manager of
// its own that runs the unit as it is shipped.
func installed(t *testing.T, packages, arch string) {
	root := bareDebian(t)
	packed(t, "1.0.1", packages, []string{arch})
	for name, way := range map[string]way{
		"package": {
			install: func(version string) string {
				return fmt.Sprintf("dpkg --install /packages/telltale_%s_%s.deb", version, arch)
			},
			upgrade: func(version string) string {
				return fmt.Sprintf("dpkg --install /packages/telltale_%s_%s.deb", version, arch)
			},
			remove:  "dpkg --remove telltale",
			purge:   "dpkg --purge telltale && dpkg --purge telltale",
			program: "/usr/bin/telltale",
		},
		"tar": {
			install: func(version string) string {
				return unpacked(version, arch) + said(t, "install -m 755 telltale /usr/local/bin/")
			},
			upgrade: func(version string) string {
				return unpacked(version, arch) + said(t, "install -m 755 telltale /usr/local/bin/") + "systemctl restart telltale"
			},
			remove:  said(t, "systemctl disable --now telltale"),
			purge:   said(t, "rm -r /etc/telltale /var/lib/telltale /var/lib/telltale-id \\"),
			program: "/usr/local/bin/telltale",
		},
	} {
		t.Run(name, func(t *testing.T) { way.lives(t, boot(t, root, packages)) })
	}
}

// way is one way to install, in lines of shell.
type way struct {
	install, upgrade       func(version string) string
	remove, purge, program string
}

// unpacked unpacks a tar and goes there.
func unpacked(version, arch string) string {
	name := fmt.Sprintf("telltale-%s-linux-%s", version, arch)
	return fmt.Sprintf("cd /tmp && rm -rf telltale-* && tar -xzf /packages/%s.tar.gz && cd %[1]s\n", name)
}

// said is the block of commands in the manual on installing that begins with a line.
func said(t *testing.T, first string) string {
	t.Helper()
	m := regexp.MustCompile(`(?m)^    ` + regexp.QuoteMeta(first) + `\n(    .*\n)*`).FindString(read(t, "../gateway/manual/install.md"))
	if m == "" {
		t.Fatalf("the manual on installing has no block of commands that begins with %q", first)
	}
	return m
}

// lives installs the watch, runs it, upgrades it and takes it away.
func (w way) lives(t *testing.T, m *machine) {
	m.t = t
	out := m.run(w.install("1.0.0"))
	if strings.HasPrefix(w.install("1.0.0"), "dpkg") && !strings.Contains(out, "/etc/telltale/garden.toml") {
		t.Errorf("the installation does not say what to do first:\n%s", out)
	}
	m.is("systemctl is-active telltale || true", "inactive")
	m.is("systemctl is-enabled telltale || true", "disabled")
	m.is("stat -c '%a %U' /etc/telltale /etc/telltale/secrets", "755 root\n700 root")
	m.is(w.program+" version | cut -d' ' -f2", "1.0.0")
	if _, err := m.try("systemctl start telltale"); err == nil {
		t.Error("it starts without a config")
	}
	m.is("systemctl show telltale --property ExecMainStatus,NRestarts", "NRestarts=0\nExecMainStatus=3")
	if log := m.run("journalctl --no-pager --unit telltale"); !strings.Contains(log, "garden.toml is not there") || !strings.Contains(log, "Write it first") {
		t.Errorf("without a config it says\n%s", log)
	}

	m.put("/etc/telltale/garden.toml", installedGarden)
	m.run("chmod 644 /etc/telltale/garden.toml")
	m.put("/etc/telltale/secrets/page", pagePassword)
	m.put("/etc/telltale/secrets/bench-1", probeSecret)
	m.run("telltale check /etc/telltale/garden.toml")
	m.run("systemctl enable --now telltale")
	m.hardened()
	m.warm()
	before := m.log()
	if !strings.Contains(before, "Too hot in Long House, bench: 35.0 °C") {
		t.Errorf("the log has\n%s", before)
	}

	m.run("systemctl reload telltale") // sends the signal; the watch then says that it reloads, and when it has
	m.await("it to have reloaded", func() bool { out, _ := m.try("systemctl is-active telltale"); return out == "active\n" })
	m.run("kill -KILL $(systemctl show telltale --property MainPID --value)")
	m.await("it to be started again", func() bool { return strings.Contains(m.run("systemctl show telltale --property NRestarts"), "=1") })
	m.await("it to be up again", m.up)

	pid := m.run("systemctl show telltale --property MainPID")
	m.run(w.upgrade("1.0.1"))
	m.is("systemctl is-active telltale", "active")
	if m.run("systemctl show telltale --property MainPID") == pid {
		t.Error("the old program runs on after the upgrade")
	}
	m.kept(before)
	if got := m.get("/metrics"); !strings.Contains(got, `version="1.0.1"`) {
		t.Error("what runs is not the new version")
	}

	m.run("echo '[barn]' >>/etc/telltale/garden.toml")
	if out := m.run(w.upgrade("1.0.0") + " || true"); !strings.Contains(out, "journalctl") {
		t.Errorf("the upgrade leaves nothing running, and says\n%s", out)
	}
	m.run("sed -i '$d' /etc/telltale/garden.toml")
	m.run("systemctl start telltale")
	m.kept(before)

	m.run(w.remove)
	m.is("systemctl is-active telltale || true", "inactive")
	if out, _ := m.try("test -e " + w.program + " || systemctl cat telltale"); !strings.Contains(out, "No files found for telltale.service") {
		t.Errorf("it is removed, and still there:\n%s", out)
	}
	m.is("ls /etc/telltale /etc/telltale/secrets | tr '\\n' ' '", "/etc/telltale: garden.toml secrets  /etc/telltale/secrets: bench-1 page")
	m.run("test -s /var/lib/private/telltale/telltale.db && test -s /var/lib/private/telltale-id/store.id")

	m.run(w.install("1.0.1"))
	m.is("systemctl is-active telltale || true", "inactive")
	m.run("systemctl enable --now telltale")
	m.kept(before)
	m.run(w.remove)
	m.run(w.purge)
	m.run("rm -rf /tmp/telltale-*")
	m.is(everything, "")
	m.is("ls /dev/shm", "")
}

// hardened demands that the unit is in force.
func (m *machine) hardened() {
	m.t.Helper()
	m.is("systemctl is-active telltale", "active")
	for property, want := range map[string]string{"DynamicUser": "yes", "MemoryMax": fmt.Sprint(256 << 20), "WatchdogUSec": "1min", "NotifyAccess": "main"} {
		m.is("systemctl show telltale --value --property "+property, want)
	}
	status := m.run("cat /proc/$(systemctl show telltale --value --property MainPID)/status")
	for _, want := range []string{`(?m)^Uid:\t[1-9]`, `(?m)^CapBnd:\t0+$`, `(?m)^NoNewPrivs:\t1$`, `(?m)^Seccomp:\t2$`} {
		if !regexp.MustCompile(want).MatchString(status) {
			m.t.Errorf("the process does not match %s:\n%s", want, status)
		}
	}
	m.is("stat -c %a /var/lib/private/telltale /var/lib/private/telltale/telltale.db", "700\n600")
	m.is("readlink /var/lib/private/telltale/telltale.db-shm | cut -d- -f1", "/dev/shm/telltale") // a disk that stalls does not stop the process
	m.run("mkdir -p /tmp/telltale-copies && telltale backup /etc/telltale/garden.toml /tmp/telltale-copies")
}

// warm has the probe report what is too hot.
func (m *machine) warm() {
	m.t.Helper()
	o := mqtt.NewClientOptions().AddBroker("tcp://127.0.0.1:1883").SetClientID("bench-1").SetUsername("bench-1").SetPassword(probeSecret).
		SetCustomOpenConnectionFn(func(u *url.URL, _ mqtt.ClientOptions) (net.Conn, error) { return m.dial(u.Host) })
	c := mqtt.NewClient(o)
	if tok := c.Connect(); !tok.WaitTimeout(long) || tok.Error() != nil {
		m.t.Fatalf("the probe cannot sign in: %v", tok.Error())
	}
	defer c.Disconnect(0)
	n := 0
	m.await("the alarm", func() bool {
		n++
		if tok := c.Publish("thimble-garth/bench-1", 1, false, fmt.Sprintf("35.0%0*d", n, 0)); !tok.WaitTimeout(long) || tok.Error() != nil {
			m.t.Fatalf("a reading is not taken: %v", tok.Error())
		}
		return strings.Contains(m.log(), "Too hot")
	})
}

// kept demands that what was written into the log is still there, and the
// reading in the history.
func (m *machine) kept(before string) {
	m.t.Helper()
	m.await("the watch to answer", m.up)
	if after := m.log(); !strings.HasSuffix(after, before) {
		m.t.Errorf("the log had\n%s\nand has\n%s", before, after)
	}
	if text := m.get("/api/v1/history?house=long-house&place=bench&quantity=temperature"); !strings.Contains(text, ":35") {
		m.t.Errorf("the history has %s", text)
	}
}

// log is the sentences about alarms, newest first.
func (m *machine) log() string {
	m.t.Helper()
	var log struct {
		Lines []struct{ Sentence, Time string }
	}
	text := m.get("/api/v1/log?kind=alarms&house=long-house")
	if err := json.Unmarshal([]byte(text), &log); err != nil {
		m.t.Fatalf("%v: %s", err, text)
	}
	var b strings.Builder
	for _, l := range log.Lines {
		fmt.Fprintln(&b, l.Time, l.Sentence)
	}
	return b.String()
}

func (m *machine) get(path string) string {
	m.t.Helper()
	text, err := m.ask(path)
	if err != nil {
		m.t.Fatal(err)
	}
	return text
}

func (m *machine) up() bool {
	text, err := m.ask("/healthz")
	return err == nil && text == "ok\n"
}

// ask asks the page.
func (m *machine) ask(path string) (string, error) {
	c := http.Client{Timeout: time.Minute, Transport: &http.Transport{DisableKeepAlives: true,
		DialContext: func(_ context.Context, _, address string) (net.Conn, error) { return m.dial(address) }}}
	r, err := http.NewRequest(http.MethodGet, "http://127.0.0.1:8470"+path, nil)
	if err != nil {
		return "", err
	}
	r.SetBasicAuth("grower", pagePassword)
	resp, err := c.Do(r)
	if err != nil {
		return "", err
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s is answered with %s: %s", path, resp.Status, text)
	}
	return string(text), err
}
