package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/alarms"
)

// free returns loopback addresses that nobody listens at now.
func free(t *testing.T, n int) []string {
	t.Helper()
	var out []string
	for range n {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		ok(t, err)
		defer l.Close()
		out = append(out, l.Addr().String())
	}
	return out
}

// reporting publishes as probes do, several times a second, until the test
// ends. The temperature moves towards warm a little at a time.
func reporting(t *testing.T, broker string, warm *atomic.Int64) {
	t.Helper()
	c := probe(t, broker, "probes")
	done := make(chan struct{})
	var publishing sync.WaitGroup
	publishing.Go(func() {
		now := int64(214) // tenths of a degree
		for {
			select {
			case <-done:
				return
			case <-time.After(200 * time.Millisecond):
			}
			now += max(-9, min(9, warm.Load()-now))
			publishAt(c, "thimble-garth/bench-1", fmt.Sprintf(`{"air":{"t":%d.%d,"rh":0.63},"battery":87}`, now/10, now%10))
			publishAt(c, "thimble-garth/bench-2/temperature", fmt.Sprintf("%d.%d °C", now/10, now%10))
		}
	})
	t.Cleanup(func() { close(done); publishing.Wait() })
}

func publishAt(c mqtt.Client, topic, payload string) {
	c.Publish(topic, 1, false, payload).WaitTimeout(time.Second)
}

// From a file that names nothing to a watched probe, in the browser alone;
// then a second probe into the file that a person has edited meanwhile.
func TestFromNothingToAWatchedProbe(t *testing.T) {
	t.Parallel()
	b := openBrowser(t)
	at := free(t, 2)
	page, broker := at[0], at[1]
	file := filepath.Join(t.TempDir(), "thimble-garth.toml")
	own := fmt.Sprintf("# Mine.\n[page]\naddress = %q # here alone\n\n[own-broker]\naddress = %q\n\n[store]\ndirectory = \"kept\"\n", page, broker)
	ok(t, os.WriteFile(file, []byte(own), 0o600))
	p := start(t, "watch", file)
	p.line("nothing is watched yet", 1)
	warm := &atomic.Int64{}
	warm.Store(214)
	reporting(t, broker, warm)

	b.do(chromedp.Navigate("http://" + page + "/"))
	b.truth("it says so", `document.body.innerText.includes("Nothing is watched yet.")`)
	b.do(chromedp.Click(chromedp.CSS(".topwarning a")))
	b.truth("the topics come by themselves", `[...document.querySelectorAll("#topics a")].length === 2`)
	b.truth("it says what they seem to be", `document.querySelector(".seems").innerText.includes("Seems to be JSON: temperature, humidity, battery.")`)
	b.shot("e2e-1-arrives")
	b.do(chromedp.Click(chromedp.CSS("#topics a")))
	b.truth("the form proposes", `document.body.innerText.includes("humidity, sent as a ratio: 63 %")`)
	b.do(chromedp.SendKeys(chromedp.ID("garden"), "Thimble Garth"), chromedp.SetValue(chromedp.ID("degrees"), "°C"), chromedp.SendKeys(chromedp.ID("house"), "Long House"),
		chromedp.SendKeys(chromedp.ID("latitude"), "52"), chromedp.SendKeys(chromedp.ID("longitude"), "-2,25"),
		chromedp.SendKeys(chromedp.ID("place"), "bench"), chromedp.SetValue(chromedp.ID("crop"), "tomato"),
		chromedp.Click(chromedp.CSS(".setup button.take")))
	b.truth("every line is shown", `document.querySelector(".diff").innerText.includes("[probe.bench-1]") && document.querySelector(".diff").innerText.includes('crop = "tomato"')`)
	b.shot("e2e-2-lines")
	before, err := os.ReadFile(file)
	ok(t, err)
	if string(before) != own {
		t.Errorf("something was written before it was asked for:\n%s", before)
	}
	b.do(chromedp.Click(chromedp.ID("write")))
	b.truth("the first reading comes by itself", `document.querySelector("[data-watched]") && document.body.innerText.includes("Probe bench-1 is watched: temperature 21.4")`)
	b.shot("e2e-3-watched")
	b.truth("the warning has gone elsewhere", `fetch("/").then(r => r.text()).then(t => { window.front = t }) && window.front && !window.front.includes("Nothing is watched yet.") && window.front.includes("Nobody is told of alarms.")`)
	secondProbe(t, b, p, file, page, own)
	warm.Store(405)
	eventually(t, "too hot for tomatoes is an alarm", func() bool {
		pic, err := picture(t, page)
		return err == nil && alarmState(pic, high) == alarms.Unacknowledged
	})
	p.stop(syscall.SIGTERM)
	ends(t, exitStopped, []string{"check", file}, "nobody is told of any alarm")
}

// secondProbe edits the file by hand, and then adds a probe on the page.
func secondProbe(t *testing.T, b *browser, p *program, file, page, own string) {
	t.Helper()
	text, err := os.ReadFile(file)
	ok(t, err)
	wantLinesIn(t, own, string(text))
	if kept, err := os.ReadFile(file + "~"); err != nil || string(kept) != own {
		t.Errorf("the file as it was is not kept: %v", err)
	}
	edited := strings.Replace(string(text), "crop = \"tomato\"\n", "crop = \"tomato\" # the red ones\n# Ask Ben before you change these.\n", 1) +
		"\n[house.long-house.place.bench.temperature]\n   delay = \"1s\"   # by hand\nquick-delay = \"1s\"\n"
	ok(t, os.WriteFile(file, []byte(edited), 0o600))
	ok(t, p.cmd.Process.Signal(syscall.SIGHUP))
	p.line("watching", 2)
	b.do(chromedp.Navigate("http://" + page + "/first"))
	b.truth("the first one is watched", `document.querySelector(".topic.read") && document.querySelectorAll("#topics a").length === 2`)
	b.do(chromedp.Click(chromedp.CSS(".topic:not(.read) a")))
	b.truth("the form knows the house", `document.getElementById("where") && document.body.innerText.includes("Long House, bench (tomato)")`)
	b.shot("e2e-4-second")
	b.do(chromedp.SetValue(chromedp.ID("where"), "long-house/bench"), chromedp.Click(chromedp.CSS(".setup button.take")))
	b.truth("the lines are shown", `document.querySelector(".diff").innerText.includes("[probe.bench-2]")`)
	b.do(chromedp.Click(chromedp.ID("write")))
	b.truth("it is watched too", `document.querySelector("[data-watched]") && document.body.innerText.includes("Probe bench-2 is watched")`)
	text, err = os.ReadFile(file)
	ok(t, err)
	wantLinesIn(t, edited, string(text))
	if added := len(strings.Split(string(text), "\n")) - len(strings.Split(edited, "\n")); added > 8 {
		t.Errorf("%d lines were added, want those of one probe:\n%s", added, text)
	}
}

// wantLinesIn demands every line of a in b, in the same order.
func wantLinesIn(t *testing.T, a, b string) {
	t.Helper()
	rest := strings.Split(b, "\n")
	for line := range strings.SplitSeq(a, "\n") {
		i := slices.Index(rest, line)
		if i < 0 {
			t.Errorf("the line %q is gone or moved in\n%s", line, b)
			return
		}
		rest = rest[i+1:]
	}
}

func TestAFileThatIsNotThereIsBegun(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "new.toml")
	p := start(t, "watch", file, "--first-at", "nowhere")
	eventually(t, "it waits to be set up, or its port is taken", func() bool {
		select {
		case <-p.done:
			return true
		default:
			return strings.Contains(p.stderr(), "nothing is watched yet")
		}
	})
	select {
	case <-p.done: // somebody else on this machine has the usual port
		if code := p.exit(); code != exitAddress {
			t.Errorf("it ended with %d, want %d", code, exitAddress)
		}
	default:
		p.stop(syscall.SIGTERM)
	}
	text, err := os.ReadFile(file)
	ok(t, err)
	for _, want := range []string{"switches nothing", "no fire alarm", "licensed electrician", "directory = \"new-store\""} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the new file lacks %q", want)
		}
	}
	ends(t, exitConfig, []string{"check", file}, "names no house yet: nothing would be watched")
	ends(t, exitConfig, []string{"watch", filepath.Join(t.TempDir(), "no-folder", "x.toml")}, "cannot be begun")
}

// While nothing is set up a page that others could reach needs a password as
// ever, and a broker that is there already is named.
func TestSettingUpIsAsGuardedAsWatching(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "open.toml")
	ok(t, os.WriteFile(file, []byte("[page]\naddress = \"0.0.0.0:0\"\n"), 0o600))
	ends(t, exitConfig, []string{"watch", file}, "the page needs a password")
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	defer l.Close()
	ok(t, os.WriteFile(file, fmt.Appendf(nil, "[page]\naddress = \"127.0.0.1:0\"\n[own-broker]\naddress = %q\n[store]\ndirectory = \"kept\"\n", l.Addr()), 0o600))
	ends(t, exitAddress, []string{"watch", file}, "If that is the broker your probes use, write [broker]")
}
