package link

import (
	"crypto/pbkdf2"
	"crypto/sha512"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// mosquitto is a broker process of the test's own, with its own configuration
// and accounts, at a free loopback port.
type mosquitto struct {
	t      testing.TB
	dir    string
	addr   string
	binary string
	lines  []string // of its configuration
	cmd    *exec.Cmd
	log    *safeBuffer
}

// program finds a program of the broker's package. Without it the test is
// skipped, or fails where TELLTALE_REQUIRE_BROKER=1 says that it must run.
func program(t testing.TB, name string) string {
	t.Helper()
	for _, dir := range append(filepath.SplitList(os.Getenv("PATH")), "/usr/sbin", "/usr/local/sbin") {
		file := filepath.Join(dir, name)
		if s, err := os.Stat(file); err == nil && s.Mode()&0o111 != 0 {
			return file
		}
	}
	if os.Getenv("TELLTALE_REQUIRE_BROKER") == "1" {
		t.Fatalf("%s is not installed, and TELLTALE_REQUIRE_BROKER=1 asks for this test", name)
	}
	t.Skipf("%s is not installed: this test needs the Mosquitto broker (Debian: mosquitto)", name)
	return ""
}

// newMosquitto prepares a broker with the accounts telltale (everything),
// bench-1 (its own topics) and page (reads), all with the password "rain".
func newMosquitto(t testing.TB, lines ...string) *mosquitto {
	t.Helper()
	m := &mosquitto{t: t, dir: t.TempDir(), addr: freePort(t), binary: program(t, "mosquitto"), log: &safeBuffer{}}
	passwords, acl := filepath.Join(m.dir, "passwords"), filepath.Join(m.dir, "acl")
	tool := program(t, "mosquitto_passwd")
	if err := os.WriteFile(passwords, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"telltale", "bench-1", "page"} {
		if out, err := exec.Command(tool, "-b", passwords, name, "rain").CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	rights := "user telltale\ntopic readwrite #\ntopic read $SYS/#\n" +
		"user bench-1\ntopic write thimble-garth/long-house/bench-1/#\n" +
		"user page\ntopic read thimble-garth/#\ntopic write thimble-garth/page\n"
	if err := os.WriteFile(acl, []byte(rights), 0o600); err != nil {
		t.Fatal(err)
	}
	me, err := user.Current()
	if err != nil {
		t.Fatal(err)
	}
	_, port, _ := net.SplitHostPort(m.addr)
	m.lines = append([]string{
		"listener " + port + " 127.0.0.1", "allow_anonymous false", "password_file " + passwords, "acl_file " + acl,
		"user " + me.Username, "persistence true", "persistence_location " + m.dir + "/", "autosave_on_changes true", "autosave_interval 1",
		"max_queued_messages 100000", "log_dest stderr", "log_type all", "sys_interval 1",
	}, lines...)
	return m
}

func (m *mosquitto) start() {
	m.t.Helper()
	file := filepath.Join(m.dir, "mosquitto.conf")
	if err := os.WriteFile(file, []byte(strings.Join(m.lines, "\n")+"\n"), 0o600); err != nil {
		m.t.Fatal(err)
	}
	m.cmd = exec.Command(m.binary, "-c", file)
	m.cmd.Stderr = m.log
	if err := m.cmd.Start(); err != nil {
		m.t.Fatal(err)
	}
	m.t.Cleanup(m.kill)
	waitFor(m.t, "the broker to listen: "+m.log.String(), func() bool {
		c, err := net.Dial("tcp", m.addr)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
}

// kill ends the process as a power cut would.
func (m *mosquitto) kill() {
	if m.cmd != nil && m.cmd.ProcessState == nil {
		_ = m.cmd.Process.Kill()
		_ = m.cmd.Wait()
	}
}

// stop ends the process in order: it writes down what it holds.
func (m *mosquitto) stop() {
	m.t.Helper()
	if err := m.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		m.t.Fatal(err)
	}
	_ = m.cmd.Wait()
}

func (m *mosquitto) options() Options {
	return Options{Servers: []string{"mqtt://" + m.addr}, User: "telltale", Password: "rain", QoS: 1}
}

func (m *mosquitto) client(user string) mqtt.Client {
	m.t.Helper()
	return client(m.t, func(o *mqtt.ClientOptions) {
		o.AddBroker("mqtt://" + m.addr).SetUsername(user).SetPassword("rain")
	})
}

func startMosquitto(t testing.TB, lines ...string) *mosquitto {
	t.Helper()
	m := newMosquitto(t, lines...)
	m.start()
	return m
}

// publisher publishes different readings as bench-1, each until the broker
// acknowledges it.
type publisher struct {
	broker       *mosquitto
	gate         sync.Mutex // held while one reading is on its way
	acknowledged atomic.Int64
	client       mqtt.Client // nil: not connected
}

func (p *publisher) run(n int) error {
	for i := range n {
		p.gate.Lock()
		for end := time.Now().Add(2 * patience); !p.try(reading(i)); time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				p.gate.Unlock()
				return fmt.Errorf("published only %d of %d", i, n)
			}
		}
		p.acknowledged.Add(1)
		p.gate.Unlock()
	}
	p.client.Disconnect(100)
	return nil
}

func (p *publisher) try(payload string) bool {
	if p.client == nil {
		c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("mqtt://" + p.broker.addr).SetProtocolVersion(4).SetClientID("bench-1").
			SetUsername("bench-1").SetPassword("rain").SetAutoReconnect(false).SetConnectTimeout(time.Second))
		if token := c.Connect(); !token.WaitTimeout(2*time.Second) || token.Error() != nil {
			return false
		}
		p.client = c
	}
	token := p.client.Publish("thimble-garth/long-house/bench-1/air", 1, false, payload)
	if token.WaitTimeout(time.Second) && token.Error() == nil {
		return true
	}
	p.client.Disconnect(10)
	p.client = nil
	return false
}

func pluginFile(t *testing.T) string {
	t.Helper()
	for _, pattern := range []string{"/usr/lib/*/mosquitto_dynamic_security.so", "/usr/lib/mosquitto_dynamic_security.so", "/usr/local/lib/mosquitto_dynamic_security.so"} {
		if files, _ := filepath.Glob(pattern); len(files) > 0 {
			return files[0]
		}
	}
	if os.Getenv("TELLTALE_REQUIRE_BROKER") == "1" {
		t.Fatal("the broker's access plugin is not installed, and TELLTALE_REQUIRE_BROKER=1 asks for this test")
	}
	t.Skip("the broker's access plugin is not installed: this test needs mosquitto_dynamic_security.so (Debian: mosquitto)")
	return ""
}

// accessPlugin is the plugin's file for one account that may publish anything
// and subscribe to filter alone. The password is kept as PBKDF2 with SHA-512.
func accessPlugin(t *testing.T, name, password, filter string) []byte {
	t.Helper()
	salt := []byte("thimblegarth")
	const rounds = 101
	sum, err := pbkdf2.Key(sha512.New, password, salt, rounds, 64)
	if err != nil {
		t.Fatal(err)
	}
	type object map[string]any
	role := object{"rolename": "reader", "acls": []object{
		{"acltype": "publishClientSend", "topic": "#", "allow": true},
		{"acltype": "publishClientReceive", "topic": "#", "allow": true},
		{"acltype": "subscribePattern", "topic": filter, "allow": true},
	}}
	out, err := json.Marshal(object{
		"clients": []object{{"username": name, "password": base64.StdEncoding.EncodeToString(sum),
			"salt": base64.StdEncoding.EncodeToString(salt), "iterations": rounds, "roles": []object{{"rolename": "reader"}}}},
		"roles":            []object{role},
		"defaultACLAccess": object{"publishClientSend": false, "publishClientReceive": true, "subscribe": false, "unsubscribe": true},
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
