//go:build linux

package deploy

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// long is how long anything may take before a test gives up.
const long = 5 * time.Minute

// require ends the test where something it needs is missing: as skipped, or as
// failed where TELLTALE_REQUIRE_INSTALL=1 says that it must run.
func require(t *testing.T, is bool, what string) {
	t.Helper()
	switch {
	case is:
	case os.Getenv("TELLTALE_REQUIRE_INSTALL") == "1":
		t.Fatalf("%s, and TELLTALE_REQUIRE_INSTALL=1 asks for this test", what)
	default:
		t.Skipf("%s; nothing was installed", what)
	}
}

// packed builds the packages of one version for kinds of board.
func packed(t *testing.T, version, dir string, archs []string, env ...string) {
	t.Helper()
	args := []string{"-v", version}
	for _, arch := range archs {
		args = append(args, "-a", arch)
	}
	cmd := exec.Command("package/build", append(args, dir)...)
	cmd.Env = append(os.Environ(), env...)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("the packages cannot be built: %v\n%s", err, out)
	}
}

func debianArch(t *testing.T) string {
	t.Helper()
	arch := map[string]string{"amd64": "amd64", "arm64": "arm64", "arm": "armhf"}[runtime.GOARCH]
	require(t, arch != "", "there are no packages for "+runtime.GOARCH)
	return arch
}

// bareDebian makes a folder with a small Debian that has a service manager, of
// the release of this machine and from where its own packages come.
func bareDebian(t *testing.T) string {
	t.Helper()
	for _, program := range []string{"mmdebstrap", "systemd-nspawn", "nsenter", "apt-get"} {
		_, err := exec.LookPath(program)
		require(t, err == nil, program+" is not installed")
	}
	require(t, os.Geteuid() == 0, "only root can make a Debian and start it")
	source := mirror(t)
	root := filepath.Join(t.TempDir(), "debian")
	args := []string{"--quiet", "--mode=root", "--variant=essential", "--include=systemd", `--aptopt=Acquire::Languages "none"`, "", root, source}
	ctx, stop := context.WithTimeout(t.Context(), 2*long)
	defer stop()
	cmd := exec.CommandContext(ctx, "mmdebstrap", args...)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("a bare Debian cannot be made from %q: %v\n%s", source, err, out)
	}
	return root
}

// mirror is where this machine has its release of Debian from, as a line of
// sources.list.
func mirror(t *testing.T) string {
	t.Helper()
	out, _ := exec.Command("apt-get", "indextargets", "--format", "deb $(REPO_URI) $(CODENAME) $(COMPONENT)",
		"Created-By: Packages", "Origin: Debian", "Label: Debian", "Component: main").Output() // nothing is seen below
	for line := range strings.Lines(string(out)) {
		if fields := strings.Fields(line); len(fields) == 4 && !strings.Contains(fields[2], "-") { // not its updates
			return strings.TrimSpace(line)
		}
	}
	require(t, false, "this machine's packages do not come from Debian")
	return ""
}

// machine is a running Debian with a network of its own, that reaches nothing.
type machine struct {
	t   *testing.T
	pid int // of its first process
}

// boot starts what is in root, which stays as it is; packages are in /packages
// there.
func boot(t *testing.T, root, packages string) *machine {
	t.Helper()
	groups := ownGroups(t)
	cmd := exec.Command("/bin/sh", "-ec", `for g in `+strings.Join(groups, " ")+`; do echo $$ >"$g/cgroup.procs"; done; exec systemd-nspawn "$@"`, "sh",
		"--quiet", "--directory="+root, "--volatile=overlay", "--register=no", "--keep-unit",
		"--private-network", "--bind-ro="+packages+":/packages", "--boot", "--console=pipe")
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	cmd.WaitDelay = long
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() { // waited for by the cleanup
		defer close(ended)
		_ = cmd.Wait() // it is killed
	}()
	m := &machine{t: t}
	t.Cleanup(func() {
		_, _ = m.try("systemctl poweroff --force --force") // it ends amidst that
		select {
		case <-ended:
		case <-time.After(long):
			_ = unix.Kill(m.pid, unix.SIGKILL) // all that runs in it goes with its first process
			<-ended
		}
	})
	m.await("the machine to be up", func() bool {
		select {
		case <-ended:
			t.Fatalf("the machine does not start:\n%s", said.String())
		default:
		}
		text, _ := os.ReadFile(fmt.Sprintf("/proc/%d/task/%[1]d/children", cmd.Process.Pid)) // not yet
		m.pid, _ = strconv.Atoi(strings.TrimSpace(string(text)))                             // another one at first
		out, _ := m.try("systemctl is-system-running")
		return strings.TrimSpace(out) == "running" || strings.TrimSpace(out) == "degraded"
	})
	return m
}

// ownGroups makes a control group for a machine where no service manager makes
// one, in each hierarchy, and takes it away in the end.
func ownGroups(t *testing.T) (made []string) {
	for _, of := range []string{"systemd", "unified"} {
		if dir, err := os.MkdirTemp("/sys/fs/cgroup/"+of, "telltale-test-"); err == nil {
			made = append(made, dir)
		}
	}
	t.Cleanup(func() {
		m := &machine{t: t}
		for _, dir := range made { // what ran there has ended, which the kernel notices a little later
			m.await("the control group to be empty", func() bool {
				_ = exec.Command("find", dir, "-depth", "-type", "d", "-exec", "rmdir", "{}", ";").Run() // seen below
				_, err := os.Stat(dir)
				return os.IsNotExist(err)
			})
		}
	})
	return made
}

// try runs a line of shell in the machine and returns all that it said.
func (m *machine) try(line string) (string, error) {
	ctx, stop := context.WithTimeout(context.Background(), long)
	defer stop()
	cmd := exec.CommandContext(ctx, "nsenter", "--target", strconv.Itoa(m.pid), "--all", "/bin/sh", "-ec", line)
	cmd.Env = []string{"PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "LC_ALL=C.UTF-8", "DEBIAN_FRONTEND=noninteractive"}
	out, err := cmd.CombinedOutput()
	return string(out), err
}

// run is try for what must succeed.
func (m *machine) run(line string) string {
	m.t.Helper()
	out, err := m.try(line)
	if err != nil {
		log, _ := m.try("journalctl --no-pager --lines 30 --unit telltale")
		m.t.Fatalf("%s: %v\n%s\n%s", line, err, out, log)
	}
	return out
}

// is demands what a line of shell prints.
func (m *machine) is(line, want string) {
	m.t.Helper()
	if got, _ := m.try(line); strings.TrimSpace(got) != want {
		m.t.Errorf("%s: got %q, want %q", line, strings.TrimSpace(got), want)
	}
}

// put writes a file in the machine, for root alone.
func (m *machine) put(name, text string) {
	m.t.Helper()
	m.run(fmt.Sprintf("umask 077; cat >%s <<'END'\n%s\nEND\n", name, text))
}

// dial connects to an address in the machine.
func (m *machine) dial(address string) (net.Conn, error) {
	type result struct {
		net.Conn
		error
	}
	got := make(chan result)
	go func() {
		runtime.LockOSThread() // for ever: the thread is of no use to others
		ns, err := os.Open(fmt.Sprintf("/proc/%d/ns/net", m.pid))
		if err != nil {
			got <- result{nil, err}
			return
		}
		defer ns.Close()
		if err := unix.Setns(int(ns.Fd()), unix.CLONE_NEWNET); err != nil {
			got <- result{nil, err}
			return
		}
		c, err := net.DialTimeout("tcp", address, time.Minute)
		got <- result{c, err}
	}()
	r := <-got
	return r.Conn, r.error
}

// await waits until is.
func (m *machine) await(what string, is func() bool) {
	m.t.Helper()
	for end := time.Now().Add(long); !is(); time.Sleep(100 * time.Millisecond) {
		if time.Now().After(end) {
			m.t.Fatalf("waited too long for %s", what)
		}
	}
}
