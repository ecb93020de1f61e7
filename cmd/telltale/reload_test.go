package main

import (
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/alarms"
)

const high = alarms.AlarmID("long-house/bench/temperature/high")

// probe is a client that publishes as a probe does.
func probe(t *testing.T, broker, id string) mqtt.Client {
	t.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("mqtt://" + broker).SetClientID(id).
		SetAutoReconnect(true).SetConnectRetry(true).SetConnectRetryInterval(50 * time.Millisecond))
	if tok := c.Connect(); !tok.WaitTimeout(5*time.Minute) || tok.Error() != nil {
		t.Fatalf("the probe cannot connect: %v", tok.Error())
	}
	t.Cleanup(func() { c.Disconnect(0) })
	return c
}

// publish sends a reading at QoS 1; whether the broker took it is the caller's
// to see on the page.
func publish(c mqtt.Client, value string) {
	c.Publish("thimble-garth/bench-1", 1, false, value).WaitTimeout(time.Second)
}

// until publishes a value until the alarm has one of the states.
func until(t *testing.T, c mqtt.Client, page, value string, id alarms.AlarmID, want ...alarms.State) {
	t.Helper()
	var names []string
	for _, s := range want {
		names = append(names, s.String())
	}
	last := time.Time{}
	eventually(t, string(id)+" is "+strings.Join(names, " or "), func() bool {
		if time.Since(last) > 300*time.Millisecond {
			publish(c, value)
			last = time.Now()
		}
		p, err := picture(t, page)
		if err != nil {
			return false
		}
		for _, s := range want {
			if alarmState(p, id) == s {
				return true
			}
		}
		return false
	})
}

func TestAReloadTakesAGoodConfigAndRefusesABadOne(t *testing.T) {
	t.Parallel()
	file := small(t, 30, "")
	p := start(t, "watch", file)
	at := p.line("watching", 1)
	page := at["page"].(string)
	c := probe(t, at["broker"].(string), "bench-1")
	until(t, c, page, "31.5", high, alarms.Unacknowledged)

	write(t, file, 30, "nonsense = 1\n")
	ok(t, p.cmd.Process.Signal(syscall.SIGHUP))
	p.line("the old config stays in force", 1)
	got, err := picture(t, page)
	ok(t, err)
	if s := alarmState(got, high); s != alarms.Unacknowledged {
		t.Errorf("after a bad config the alarm is %v, want it untouched", s)
	}

	write(t, file, 30, "[reminders]\nhigh = \"2h\"\n")
	ok(t, p.cmd.Process.Signal(syscall.SIGHUP))
	at = p.line("watching", 2)
	got, err = picture(t, at["page"].(string))
	ok(t, err)
	if s := alarmState(got, high); s != alarms.Unacknowledged {
		t.Errorf("after a config with the same limits the alarm is %v, want it as it was", s)
	}

	write(t, file, 35, "")
	ok(t, p.cmd.Process.Signal(syscall.SIGHUP))
	at = p.line("watching", 3)
	c = probe(t, at["broker"].(string), "bench-1b")
	until(t, c, at["page"].(string), "31.6", high, alarms.Normal, alarms.ReturnedUnack)
	until(t, c, at["page"].(string), "36.5", high, alarms.Unacknowledged)
	p.stop(syscall.SIGTERM)
}

func TestAConfigThatCannotRunGivesWayToTheOldOne(t *testing.T) {
	t.Parallel()
	taken := start(t, "watch", small(t, 30, ""))
	there := taken.line("watching", 1)["page"].(string)

	file := small(t, 30, "")
	p := start(t, "watch", file)
	p.line("watching", 1)
	text, err := os.ReadFile(file)
	ok(t, err)
	ok(t, os.WriteFile(file, append(text, "[metrics]\naddress = \""+there+"\"\n"...), 0o600))
	ok(t, p.cmd.Process.Signal(syscall.SIGHUP))
	p.line("going back to the old one", 1)
	page := p.line("watching", 2)["page"].(string)
	if _, err := picture(t, page); err != nil {
		t.Errorf("the old config does not run: %v", err)
	}
	p.stop(syscall.SIGTERM)
	taken.stop(syscall.SIGTERM)
}
