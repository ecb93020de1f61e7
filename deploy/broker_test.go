package deploy

import (
	"bytes"
	"crypto/pbkdf2"
	"crypto/sha512"
	"encoding/base64"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

const (
	wait     = 5 * time.Minute // for anything that must happen
	password = "correct-horse-of-thimble-garth"
)

// brokerProgram finds the broker, or skips; with TELLTALE_REQUIRE_BROKER=1 it
// fails instead.
func brokerProgram(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"mosquitto", "/usr/sbin/mosquitto", "/usr/local/sbin/mosquitto"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("TELLTALE_REQUIRE_BROKER") == "1" {
		t.Fatal("mosquitto is not on this machine, and TELLTALE_REQUIRE_BROKER=1 asks for it")
	}
	t.Skip("mosquitto is not on this machine; broker.conf was not tried")
	return ""
}

// broker is a running broker with the template's configuration.
type broker struct {
	program, file, address string
	cmd                    *exec.Cmd
	done                   chan error
	out                    bytes.Buffer
}

// startBroker starts the template with its paths and port put to a folder of
// the test, and nothing else changed.
func startBroker(t *testing.T) *broker {
	t.Helper()
	b := &broker{program: brokerProgram(t)}
	dir := t.TempDir()
	port := freePort(t)
	b.address = fmt.Sprintf("127.0.0.1:%d", port)
	conf := read(t, "broker.conf")
	for from, to := range map[string]string{
		"/etc/mosquitto/telltale.passwd": filepath.Join(dir, "passwd"),
		"/etc/mosquitto/telltale.acl":    filepath.Join(dir, "acl"),
		"/var/lib/mosquitto/":            dir + "/",
		"listener 1883 127.0.0.1":        fmt.Sprintf("listener %d 127.0.0.1", port),
	} {
		if !strings.Contains(conf, from) {
			t.Fatalf("broker.conf does not hold %q any more; mend this test", from)
		}
		conf = strings.ReplaceAll(conf, from, to)
	}
	if os.Getuid() == 0 {
		conf += "\nuser root\n" // else it could not read the test's folder
	}
	b.file = filepath.Join(dir, "broker.conf")
	var accounts strings.Builder
	for _, user := range found(t, "broker.acl", `^user (\S+)$`) {
		accounts.WriteString(account(t, user, password))
	}
	for name, text := range map[string]string{"broker.conf": conf, "passwd": accounts.String(), "acl": read(t, "broker.acl")} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	b.start(t)
	t.Cleanup(func() { b.stop(t) })
	return b
}

// account is one line of a password file: PBKDF2 with SHA-512, as the
// broker's own tool writes it.
func account(t *testing.T, user, secret string) string {
	t.Helper()
	salt := []byte("thimblegarth")
	key, err := pbkdf2.Key(sha512.New, secret, salt, 101, 64)
	if err != nil {
		t.Fatal(err)
	}
	b64 := base64.StdEncoding.EncodeToString
	return fmt.Sprintf("%s:$7$101$%s$%s\n", user, b64(salt), b64(key))
}

func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func (b *broker) start(t *testing.T) {
	t.Helper()
	b.out.Reset()
	b.cmd = exec.Command(b.program, "-c", b.file)
	b.cmd.Stdout, b.cmd.Stderr = &b.out, &b.out
	if err := b.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	b.done = make(chan error, 1)
	go func(cmd *exec.Cmd, done chan error) { done <- cmd.Wait() }(b.cmd, b.done)
	for end := time.Now().Add(wait); ; {
		c, err := net.DialTimeout("tcp", b.address, time.Second)
		if err == nil {
			_ = c.Close()
			return
		}
		select {
		case err := <-b.done:
			t.Fatalf("the broker ended at once (%v):\n%s", err, b.out.String())
		case <-time.After(20 * time.Millisecond):
		}
		if time.Now().After(end) {
			t.Fatalf("the broker does not listen after %s", wait)
		}
	}
}

// stop ends the broker that start started and no other.
func (b *broker) stop(t *testing.T) {
	if b.cmd == nil {
		return
	}
	_ = b.cmd.Process.Signal(syscall.SIGTERM) // it may have ended already
	select {
	case <-b.done:
	case <-time.After(wait):
		_ = b.cmd.Process.Kill()
		t.Error("the broker did not end when asked to")
	}
	b.cmd = nil
}

// connect connects as user; err says why that failed.
func (b *broker) connect(t *testing.T, user, secret string, clean bool, heard func(mqtt.Message)) (mqtt.Client, error) {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker("tcp://" + b.address).SetClientID(user).SetUsername(user).SetPassword(secret).
		SetCleanSession(clean).SetAutoReconnect(false).SetConnectTimeout(wait)
	if heard != nil {
		o.SetDefaultPublishHandler(func(_ mqtt.Client, m mqtt.Message) { heard(m) })
	}
	c := mqtt.NewClient(o)
	err := token(c.Connect())
	if err == nil {
		t.Cleanup(func() { c.Disconnect(50) })
	}
	return c, err
}

func token(tok mqtt.Token) error {
	if !tok.WaitTimeout(wait) {
		return fmt.Errorf("no answer after %s", wait)
	}
	return tok.Error()
}

func (b *broker) must(t *testing.T, user string, clean bool, heard func(mqtt.Message)) mqtt.Client {
	t.Helper()
	c, err := b.connect(t, user, password, clean, heard)
	if err != nil {
		t.Fatalf("%s cannot connect: %v\n%s", user, err, b.out.String())
	}
	return c
}

func publish(t *testing.T, c mqtt.Client, topic, text string, retain bool) {
	t.Helper()
	if err := token(c.Publish(topic, 1, retain, text)); err != nil {
		t.Fatalf("publish to %s: %v", topic, err)
	}
}

func TestBrokerAccounts(t *testing.T) {
	b := startBroker(t)
	for _, one := range []struct{ user, secret string }{{"", ""}, {"watch", "wrong"}, {"nobody", password}} {
		if _, err := b.connect(t, one.user, one.secret, true, nil); err == nil {
			t.Errorf("user %q with password %q may connect; want a refusal", one.user, one.secret)
		}
	}
	b.must(t, "watch", true, nil)
}

// Rights: what a client may not write reaches nobody. The last message is one
// that it may write; when it arrives the others would have, too.
func TestBrokerRights(t *testing.T) {
	b := startBroker(t)
	heard := make(chan string, 100)
	watch := b.must(t, "watch", true, func(m mqtt.Message) { heard <- m.Topic() })
	for _, f := range []string{"thimble-garth/#", "telltale/#"} {
		if err := token(watch.Subscribe(f, 1, nil)); err != nil {
			t.Fatal(err)
		}
	}
	probe := b.must(t, "bench-1", true, nil)
	for _, topic := range []string{"thimble-garth/long-house/bench-2", "telltale/state", "thimble-garth/long-house/bench-1/more",
		"thimble-garth/long-house/bench-1"} {
		publish(t, probe, topic, "20", false)
	}
	lampHeard := make(chan string, 100)
	lamp := b.must(t, "lamp", true, func(m mqtt.Message) { lampHeard <- m.Topic() })
	_ = token(lamp.Subscribe("thimble-garth/#", 1, nil)) // refused, now or at delivery
	if err := token(lamp.Subscribe("telltale/#", 1, nil)); err != nil {
		t.Fatal(err)
	}
	publish(t, probe, "thimble-garth/long-house/bench-1", "21", false)
	publish(t, watch, "telltale/state", "well", false)
	expect(t, "the watch", heard, "thimble-garth/long-house/bench-1", "thimble-garth/long-house/bench-1", "telltale/state")
	expect(t, "the lamp", lampHeard, "telltale/state")
}

// expect waits for exactly these topics, in order.
func expect(t *testing.T, who string, heard <-chan string, topics ...string) {
	t.Helper()
	for _, want := range topics {
		select {
		case got := <-heard:
			if got != want {
				t.Errorf("%s hears %q, want %q", who, got, want)
			}
		case <-time.After(wait):
			t.Fatalf("%s does not hear %q", who, want)
		}
	}
}

// While the watch is away more messages wait than the broker's default of
// 1,000, and none is lost, not even over a restart of the broker.
func TestBrokerKeepsWhatWaits(t *testing.T) {
	const n = 3000
	b := startBroker(t)
	watch := b.must(t, "watch", false, nil)
	if err := token(watch.Subscribe("thimble-garth/#", 1, nil)); err != nil {
		t.Fatal(err)
	}
	watch.Disconnect(100)
	probe := b.must(t, "bench-1", true, nil)
	tokens := make([]mqtt.Token, n)
	for i := range tokens {
		tokens[i] = probe.Publish("thimble-garth/long-house/bench-1", 1, i == n-1, fmt.Sprint(i))
	}
	for _, tok := range tokens {
		if err := token(tok); err != nil {
			t.Fatal(err)
		}
	}
	b.stop(t)
	b.start(t)
	heard := make(chan string, n+10)
	b.must(t, "watch", false, func(m mqtt.Message) { heard <- string(m.Payload()) })
	for i := range n {
		select {
		case got := <-heard:
			if got != fmt.Sprint(i) {
				t.Fatalf("message %d reads %q", i, got)
			}
		case <-time.After(wait):
			t.Fatalf("only %d of %d messages came through", i, n)
		}
	}
}
