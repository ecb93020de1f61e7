//go:build linux

package deploy

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

// hostileGarden has its own broker, where "both" may do everything.
const hostileGarden = `[house.long-house]
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 32
[probe.bench-1]
place = "long-house/bench"
topic = "thimble-garth/bench-1"
temperature = {}
[own-broker]
address = "127.0.0.1:0"
[own-broker.account.both]
password-env = "BOTH"
may-send = ["thimble-garth/#"]
may-read = ["thimble-garth/#"]
[page]
address = "127.0.0.1:0"
[channel.slip]
kind = "command"
run = ["/bin/true"]
[person.grower]
channels = ["slip"]
[[tell]]
people = ["grower"]
`

// bounded makes a control group in which what runs has so many bytes at most,
// and returns the file that takes a process in; "" where none can be made.
func bounded(t *testing.T, most int) string {
	for parent, limit := range map[string]string{"/sys/fs/cgroup/memory": "memory.limit_in_bytes", "/sys/fs/cgroup": "memory.max"} {
		dir, err := os.MkdirTemp(parent, "telltale-test-")
		if err != nil {
			continue
		}
		t.Cleanup(func() { _ = os.Remove(dir) }) // what ran in it has ended
		if os.WriteFile(filepath.Join(dir, limit), []byte(strconv.Itoa(most)), 0o644) == nil {
			return filepath.Join(dir, "cgroup.procs")
		}
	}
	return ""
}

// TestMemoryUnderHostileClients runs the program within the unit's bounds while
// clients do to its broker whatever costs memory, all at once.
func TestMemoryUnderHostileClients(t *testing.T) {
	most, err := strconv.Atoi(found(t, "telltale.service", `^MemoryMax=(\d+)M$`)[0])
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	program := filepath.Join(dir, "telltale")
	build := exec.Command("go", "build", "-trimpath", "-o", program, "./cmd/telltale")
	build.Dir, build.Env = "..", append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if err := os.WriteFile(filepath.Join(dir, "garden.toml"), []byte(hostileGarden), 0o600); err != nil {
		t.Fatal(err)
	}
	group := bounded(t, most<<20)
	cmd := exec.Command("/bin/sh", "-ec", `[ -z "$1" ] || echo $$ >"$1"; exec "$2" watch "$3"`, "sh", group, program, filepath.Join(dir, "garden.toml"))
	cmd.Env = append(os.Environ(), "STATE_DIRECTORY="+dir, "NOTIFY_SOCKET=", "BOTH=moss of the wall", found(t, "telltale.service", `^Environment=(.*)$`)[0])
	said, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it may have ended
		_ = cmd.Wait()         // killed
	})
	lines := bufio.NewScanner(said)
	var at struct{ Message, Broker string }
	var before strings.Builder
	for at.Message != "watching" && lines.Scan() {
		fmt.Fprintln(&before, lines.Text())
		_ = json.Unmarshal(lines.Bytes(), &at) // not each line is JSON
	}
	if at.Broker == "" {
		t.Fatalf("it does not run:\n%s", before.String())
	}
	go func() { // ends with the program
		for lines.Scan() {
		}
	}()
	idle := resident(t, cmd.Process.Pid)
	besiege(t, at.Broker)
	peak := resident(t, cmd.Process.Pid)
	t.Logf("resident %d MB at first, %d MB at most; bound by a control group: %v", idle, peak, group != "")
	if peak >= most {
		t.Errorf("it took %d MB, the unit allows %d", peak, most)
	}
}

// besiege does what gateway/link's bounds are tried by, over the network, and
// demands that somebody can sign in and publish meanwhile.
func besiege(t *testing.T, broker string) {
	dial := func(send ...packets.ControlPacket) net.Conn {
		c, err := net.Dial("tcp", broker)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = c.Close() }) // it may be closed
		for _, p := range send {
			_ = p.Write(c) // who is refused need not hear of it here
		}
		return c
	}
	hello := func(id string, clean bool) packets.ControlPacket {
		p := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
		p.ProtocolName, p.ProtocolVersion, p.CleanSession, p.Keepalive = "MQTT", 4, clean, 60
		p.ClientIdentifier, p.Username, p.Password = id, "both", []byte("moss of the wall")
		p.UsernameFlag, p.PasswordFlag = true, true
		return p
	}
	everything := packets.NewControlPacket(packets.Subscribe).(*packets.SubscribePacket)
	everything.MessageID, everything.Topics, everything.Qoss = 1, []string{"thimble-garth/#"}, []byte{1}
	for range 1000 {
		dial()
	}
	for range 900 {
		_, _ = dial().Write([]byte{0x10, 0xff, 0xff, 0x3f, 0, 4}) // a greeting of a megabyte
	}
	for i := range 2000 {
		_ = dial(hello(fmt.Sprint("session-", i), false)).Close()
	}
	for i := range 8 {
		dial(hello(fmt.Sprint("deaf-", i), true), everything) // and reads nothing
	}
	o := mqtt.NewClientOptions().AddBroker("tcp://" + broker).SetClientID("loud").SetUsername("both").SetPassword("moss of the wall").
		SetConnectRetry(true).SetConnectRetryInterval(100 * time.Millisecond)
	c := mqtt.NewClient(o)
	if tok := c.Connect(); !tok.WaitTimeout(long) || tok.Error() != nil {
		t.Fatalf("nobody can sign in: %v", tok.Error())
	}
	defer c.Disconnect(0)
	load := strings.Repeat("x", 1<<16)
	for i := range 2000 {
		if tok := c.Publish(fmt.Sprint("thimble-garth/", i%700), 1, i%2 == 0, load); !tok.WaitTimeout(long) || tok.Error() != nil {
			t.Fatalf("message %d is not taken: %v", i, tok.Error())
		}
	}
}

// resident is the most that a process has held, MB (proc(5), VmHWM).
func resident(t *testing.T, pid int) int {
	t.Helper()
	text := read(t, fmt.Sprintf("/proc/%d/status", pid))
	m := regexp.MustCompile(`(?m)^VmHWM:\s*(\d+) kB$`).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("the process has no memory:\n%s", text)
	}
	kB, err := strconv.Atoi(m[1])
	if err != nil {
		t.Fatal(err)
	}
	return kB >> 10
}
