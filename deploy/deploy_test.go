package deploy

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"telltale/gateway/config"
)

// example loads thimble-garth.toml as the unit file runs it: secrets come from
// the folder that the service manager hands over.
func example(t *testing.T) *config.Config {
	t.Helper()
	if got := found(t, "telltale.service", `^LoadCredential=(.*)$`); !slices.Equal(got, []string{"secrets:/etc/telltale/secrets"}) {
		t.Fatalf("the unit hands over %q", got)
	}
	dir := t.TempDir()
	for _, name := range found(t, "thimble-garth.toml", `^[a-z-]+-file = "secrets/([^"/]+)"`) {
		text := "correct-horse-of-thimble-garth\n"
		if name == "heartbeat" {
			text = "https://heartbeat.example.org/thimble-garth\n"
		}
		if name == "phone" {
			text = "whsec_Y29ycmVjdC1ob3JzZS1vZi10aGltYmxlLWdhcnRo\n"
		}
		if err := os.WriteFile(filepath.Join(dir, "secrets_"+name), []byte(text), 0o400); err != nil {
			t.Fatal(err)
		}
	}
	env := map[string]string{"CREDENTIALS_DIRECTORY": dir, "STATE_DIRECTORY": "/var/lib/telltale:/var/lib/telltale-id"}
	c, problems := config.Load("thimble-garth.toml", func(k string) (string, bool) { v, ok := env[k]; return v, ok })
	if len(problems) > 0 {
		t.Fatalf("the example configuration has problems:\n%v", problems)
	}
	return c
}

func read(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// found returns the first group of each match of pattern in a file.
func found(t *testing.T, file, pattern string) []string {
	t.Helper()
	var out []string
	for _, m := range regexp.MustCompile("(?m)"+pattern).FindAllStringSubmatch(read(t, file), -1) {
		out = append(out, m[1])
	}
	return out
}

func TestExampleLoads(t *testing.T) {
	c := example(t)
	if len(c.Plan.Houses) != 2 || c.Plan.Houses[0].ID != "long-house" || c.Plan.Houses[1].ID != "low-house" {
		t.Errorf("got the houses %v, want long-house and low-house", c.Plan.Houses)
	}
	if c.Store.Directory != "/var/lib/telltale" {
		t.Errorf("got the store's directory %q, want the service manager's", c.Store.Directory)
	}
	if c.Store.IDFile != "/var/lib/telltale-id/store.id" {
		t.Errorf("got the store's ID file %q, want one in the service manager's second directory", c.Store.IDFile)
	}
	if c.Broker.Run {
		t.Error("the example must use the broker of broker.conf, not one of its own")
	}
}

func TestUnitSettings(t *testing.T) {
	unit := read(t, "telltale.service")
	for _, line := range []string{"Type=notify", "DynamicUser=yes", "StateDirectory=telltale telltale-id", "RuntimeDirectory=telltale",
		"Restart=on-failure", "RestartPreventExitStatus=3", "NoNewPrivileges=yes", "ProtectSystem=strict"} {
		if !strings.Contains(unit, "\n"+line+"\n") {
			t.Errorf("the unit lacks the line %q", line)
		}
	}
	if !regexp.MustCompile(`(?m)^WatchdogSec=[1-9]`).MatchString(unit) {
		t.Error("the unit sets no watchdog time")
	}
	most, soft := found(t, "telltale.service", `^MemoryMax=(\d+)M$`), found(t, "telltale.service", `^Environment=GOMEMLIMIT=(\d+)MiB$`)
	if len(most) != 1 || len(soft) != 1 || len(soft[0]) != len(most[0]) || soft[0] >= most[0] {
		t.Errorf("the unit bounds memory by %q, and the program's own by %q, which must be less", most, soft)
	}
	if got := found(t, "Containerfile", `GOMEMLIMIT=(\d+)MiB`); !slices.Equal(got, soft) {
		t.Errorf("the image bounds the program's own memory by %q, the unit by %q", got, soft)
	}
}

// systemd itself reads the unit, with a program that exists on this machine.
func TestUnitVerifies(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd-analyze is not on this machine; the unit was not verified")
	}
	program, err := exec.LookPath("true")
	if err != nil {
		t.Skip("no program \"true\" on this machine; the unit was not verified")
	}
	unit := strings.ReplaceAll(read(t, "telltale.service"), "/usr/local/bin/telltale", program)
	path := filepath.Join(t.TempDir(), "telltale.service")
	if err := os.WriteFile(path, []byte(unit), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "verify", "--man=no", path).CombinedOutput()
	var about []string
	for line := range strings.Lines(string(out)) {
		if strings.Contains(line, "telltale.service") { // other units of the machine are not ours
			about = append(about, line)
		}
	}
	if len(about) > 0 {
		t.Errorf("systemd-analyze verify says:\n%s", strings.Join(about, ""))
	} else if err != nil && len(out) == 0 {
		t.Skipf("systemd-analyze cannot run here: %v", err)
	}
}

// exposureMost is the most that systemd may find the service exposed, in
// tenths of its scale from 0 to 10.
const exposureMost = 11

// TestUnitExposure: how little the service may do stays as it is.
func TestUnitExposure(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd-analyze is not on this machine; the exposure of the service was not found")
	}
	out, err := exec.Command(tool, "security", "--offline=true", "--no-pager", fmt.Sprint("--threshold=", exposureMost), "telltale.service").CombinedOutput()
	if !strings.Contains(string(out), "Overall exposure level for telltale.service") {
		t.Skipf("this systemd-analyze finds no exposure of a file: %v\n%s", err, out)
	}
	if err != nil {
		t.Errorf("the service is exposed more than %d tenths: %v\n%s", exposureMost, err, out)
	}
}

// The scrape job must ask where the example serves.
func TestScrapeJobFits(t *testing.T) {
	c := example(t)
	want := c.Metrics.Address
	if c.Metrics.OnPage {
		want = c.Page.Address
	}
	if got := found(t, "scrape.yml", `^      - targets: \["([^"]+)"\]$`); !slices.Equal(got, []string{want}) {
		t.Errorf("the job scrapes %q, the example serves at %q", got, want)
	}
	if got := found(t, "scrape.yml", `^    metrics_path: (\S+)$`); !slices.Equal(got, []string{"/metrics"}) {
		t.Errorf("the job asks for %q, want /metrics", got)
	}
	if c.Metrics.OnPage && len(found(t, "scrape.yml", `^      (password_file): \S+$`)) != 1 {
		t.Error("the page has a password, but the job gives none")
	}
	for i, line := range strings.Split(read(t, "scrape.yml"), "\n") {
		if strings.Contains(line, "\t") {
			t.Errorf("scrape.yml:%d: YAML allows no tab for indentation", i+1)
		}
	}
}

// Each topic of the example must be one that some probe may write and the
// watch may read.
func TestTopicRightsFit(t *testing.T) {
	acl := read(t, "broker.acl")
	if c := example(t); c.Link.User != "watch" {
		t.Fatalf("the example connects as %q, broker.acl knows \"watch\"", c.Link.User)
	} else {
		for _, s := range c.Sources {
			if !strings.HasPrefix(s.Filter, "thimble-garth/") {
				t.Errorf("the watch may not read %q by broker.acl", s.Filter)
			}
			if !strings.Contains(acl, "\ntopic write "+s.Filter+"\n") {
				t.Errorf("no account of broker.acl may write %q", s.Filter)
			}
		}
	}
}
