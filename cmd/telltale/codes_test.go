package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// ends runs telltale to its end and demands an exit code and, on standard
// error, each of says.
func ends(t *testing.T, code int, args []string, says ...string) {
	t.Helper()
	p := start(t, args...)
	if got := p.exit(); got != code {
		t.Errorf("telltale %s exited with %d, want %d", strings.Join(args, " "), got, code)
	}
	text := p.stderr()
	for _, s := range says {
		switch strings.Count(text, s) {
		case 0:
			t.Errorf("telltale %s says nothing of %q, but\n%s", strings.Join(args, " "), s, text)
		case 1:
		default:
			t.Errorf("telltale %s says %q more than once:\n%s", strings.Join(args, " "), s, text)
		}
	}
	if code == exitStopped {
		return
	}
	if strings.TrimSpace(text) == "" || strings.Contains(text, "goroutine ") || strings.Contains(text, "panic") {
		t.Errorf("telltale %s gives no clear sentence:\n%s", strings.Join(args, " "), text)
	}
}

func TestBadCommandLinesExitWithTwo(t *testing.T) {
	t.Parallel()
	file, kept, table := small(t, 30, ""), keptDay(t), filepath.Join(t.TempDir(), "june.csv")
	ok(t, os.WriteFile(table, []byte("time,inside\n2025-06-10 12:00,21.5\n2025-06-10 12:10,21.9\n2025-06-10 12:20,22.4\n"), 0o600))
	for _, c := range []struct {
		args string
		says string
	}{
		{"whatch", `there is no command "whatch"; did you mean "watch"?`},
		{"watch", "watch needs the name of one config file (none is given)"},
		{"help whatch", `there is no command "whatch"; did you mean "watch"?`},
		{"watch a b", `watch needs the name of one config file (got "a b")`},
		{"backup " + file, "backup needs the name of a config file, then of the directory for copies (got"},
		{"restore", "restore needs the name of a copy, then of the config file (none is given)"},
		{"store", "store needs the name of one config file (none is given)"},
		{"check", "check needs the name of one config file"},
		{"version now", `version takes flags alone (got "now")`},
		{"notices now", `notices takes flags alone (got "now")`},
		{"completion", "completion needs the name of one shell: bash, zsh, fish, powershell"},
		{"completion csh", `completion for the shell "csh" is not known`},
		{"completion bsh", `; did you mean "bash"?`},
		{"watch --nosuch x", "unknown flag: --nosuch"},
		{"report --hose x " + file, `unknown flag: --hose; did you mean "house"?`},
		{"watch --log-level wran " + file, `--log-level is "wran", want "debug", "error", "info" or "warn"; did you mean "warn"?`},
		{"manual alarm", `; did you mean "alarms"?`},
		{"report --house lang-house " + kept, `the config has no house "lang-house"; did you mean "long-house"?`},
		{"report --house shed " + kept, `the config has no house "shed"; houses: long-house`},
		{"report --of weak " + kept, `--of is "weak", want "day", "season", "span" or "week"; did you mean "week"?`},
		{"report --on yesterday " + kept, "on must be a day like 2026-06-21"},
		{"demo --speed 0", "--speed is 0, want 1 to 1000"},
		{"demo --speed quick", `invalid argument "quick" for "--speed"`},
		{"simulate --speed 5000", "--speed is 5000, want 1 to 1000"},
		{"simulate --story nosuch", `there is no story "nosuch"; stories: hot-afternoon, `},
		{"simulate --story hot-aftrnoon", `there is no story "hot-aftrnoon"; did you mean "hot-afternoon"?`},
		{"replay --crop tomatto " + table, `the crop "tomatto" is not known; did you mean "tomato"?`},
		{"replay --dates day-mnth " + table, `; did you mean "day-month"?`},
		{"replay --separator semicolom " + table, `; did you mean "semicolon"?`},
		{"replay --column insde=bench-1/temperature " + table, `there is no column "insde"; did you mean "inside"?`},
		{"replay " + file + " --column inside=bench1/temperature " + table, `the config has no probe "bench1"; did you mean "bench-1"?`},
		{"replay " + file + " --column inside=bench-1/humidity " + table, `the probe bench-1 does not measure humidity; it measures: temperature`},
		{"ground " + file + " --column inside=bench-1/temprature " + table, `no probe measures "temprature"; did you mean "temperature"?`},
		{"replay " + file, "replay needs the name of one file or more with readings, perhaps behind that of a config"},
		{"replay " + file + " x.csv --column nonsense", "want header=probe/quantity"},
		{"replay " + file + " x.csv --column a=b/vpd", `no probe measures "vpd"`},
		{"replay " + file + " x.csv --zone Nowhere/Land", `--zone is "Nowhere/Land", want a name of the time zone database`},
		{"replay " + file + " x.csv --zone Europe/Berln", `; did you mean "Europe/Berlin"?`},
	} {
		t.Run(c.args, func(t *testing.T) {
			ends(t, exitUsage, strings.Fields(c.args), "telltale: bad command line", c.says)
		})
	}
}

func TestBadConfigsExitWithThreeAndTellEveryProblem(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "bad.toml")
	ok(t, os.WriteFile(file, []byte(`[house.long-house]
latitude = 152.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 30
high-high = 20
[probe.bench-1]
place = "long-house/shelf"
topic = "thimble-garth/bench-1"
temperature = {}
colour = "blue"
`), 0o600))
	for _, command := range []string{"watch", "check"} {
		ends(t, exitConfig, []string{command, file},
			file+":2: ", file+":6: ", file+":8: ", file+":11: ", "the watch cannot run with it")
	}
	ends(t, exitConfig, []string{"check", filepath.Join(t.TempDir(), "none.toml")}, "none.toml: cannot be read")
	ends(t, exitStopped, []string{"check", small(t, 30, "")})
}

func TestAStoreInUseExitsWithFour(t *testing.T) {
	t.Parallel()
	file := small(t, 30, "")
	dir := filepath.Join(filepath.Dir(file), "store")
	first := start(t, "watch", file)
	first.line("watching", 1)
	ends(t, exitStore, []string{"watch", file}, "telltale: cannot open the store "+dir, "in use by another process")
	first.stop(syscall.SIGTERM)
}

func TestAnAddressInUseExitsWithFive(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	defer l.Close()
	taken := l.Addr().String()
	page := small(t, 30, "")
	text, err := os.ReadFile(page)
	ok(t, err)
	ok(t, os.WriteFile(page, []byte(strings.Replace(string(text), "127.0.0.1:0", taken, 1)), 0o600))
	ends(t, exitAddress, []string{"watch", page}, "telltale: the page's address is already in use: "+taken)
	broker := small(t, 30, fmt.Sprintf("[own-broker]\naddress = %q\n", taken))
	ends(t, exitAddress, []string{"watch", broker}, "telltale: embedded broker: cannot listen at "+taken)
	figures := small(t, 30, fmt.Sprintf("[metrics]\naddress = %q\n", taken))
	ends(t, exitAddress, []string{"watch", figures}, "telltale: the metrics' address is already in use: "+taken)
	ends(t, exitAddress, []string{"demo", "--stop", "--page", taken}, "telltale: the page's address is already in use: "+taken)
}

func TestAskedToStopItExitsWithZero(t *testing.T) {
	t.Parallel()
	for _, s := range []os.Signal{syscall.SIGTERM, os.Interrupt} {
		p := start(t, "watch", small(t, 30, ""))
		p.line("watching", 1)
		p.stop(s)
	}
	tmp := t.TempDir()
	p := startIn(t, tmp, "demo", "--page", "127.0.0.1:0")
	eventually(t, "the demo says where its page is", func() bool { return strings.Contains(p.stdout(), "The page: http://127.0.0.1:") })
	p.stop(os.Interrupt)
	if said := p.stdout(); !strings.HasSuffix(said, "\nStopped. Nothing is left behind.\n") {
		t.Errorf("the demo does not say at its end that nothing is left:\n%s", said)
	}
	if left := strings.TrimSpace(p.stderr()); left != "" {
		t.Errorf("the demo wrote %q", left)
	}
	if left, err := os.ReadDir(tmp); err != nil || len(left) > 0 {
		t.Errorf("the demo leaves %v behind (%v)", left, err)
	}
}
