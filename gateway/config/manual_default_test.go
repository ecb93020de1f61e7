package config

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// leastOfAll says the least that can be said of everything: what is not needed is
// left out.
const leastOfAll = `
[house.h]
latitude = 50
longitude = 10
[house.h.circuit.mains]
[house.h.place.p]
temperature = { low = 5, rise-per-hour = 4 }
humidity = { high = 90 }
vpd = { high = 2 }
dew-margin = { low = 1 }
[house.h.place.p.exposure.x]
quantity = "temperature"
harm = "leaves scorch"
above = 40
for = "2h"
within = "1d"
[house.h.place.q]
[house.h.control.t]
place = "p"
[house.h.control.t.stage.hot]
mode = "cooling"
set-point = 30
drives = ["fan", "shutter"]
[house.h.control.t.stage.cold]
mode = "heating"
set-point = 8
drives = ["warmth"]
[house.h.control.t.stage.damp]
mode = "drying"
set-point = 90
drives = ["stirrer"]
[house.h.control.t.stage.dry]
mode = "moistening"
set-point = 40
drives = ["mist"]
[house.h.drive]
fan = { kind = "exhaust-fan", barred = [] }
shutter = { kind = "intake-shutter" }
warmth = { kind = "heater" }
stirrer = { kind = "circulating-fan" }
mist = { kind = "misting" }
light = { kind = "grow-light", runs = { open = "on" } }
[house.h.selector.s.position]
one = { on = ["light"] }
two = { off = ["light"] }
[house.h.opening.door]
kind = "door"
place = "p"
probe = "c"
[house.h.loop]
air-from = "p"
running = { probe = "c", quantity = "contact" }
[house.h.loop.pipe.q]
depth = "1.5 m"
flow-per-hour = "170 m³/h"
[house.h.form]
roof = "lean-to"
width = "3.5 m"
eaves = "1.7 m"
ridge = "2.8 m"
[probe.a]
place = "h/p"
topic = "a"
form = "json"
temperature = { from = "/t" }
humidity = { from = "/h" }
battery = { from = "/b" }
signal = { from = "/s" }
[probe.b]
place = "h/q"
topic = "b"
temperature = {}
[probe.c]
place = "h/q"
topic = "c"
contact = {}
[broker]
servers = ["mqtt://127.0.0.1"]
[channel.m]
kind = "mail"
server = "127.0.0.1:25"
from = "watch@example.org"
[channel.l]
kind = "mqtt"
[channel.s]
kind = "text"
[modem]
device = "/dev/ttyUSB2"
[person.g]
mail = "grower@example.org"
phone = "+44 7700 900123"
channels = ["m", "s"]
[[tell]]
people = ["g"]
[copies]
directory = "/mnt/copies"
[page]
link = "http://127.0.0.1:8470/"
[heartbeat]
url = "https://heartbeat.example.org/"
`

// shownDefault is what the topic must say of a key that is left out.
type shownDefault struct {
	table, keys string
	want        string
}

func spanned(d time.Duration) string {
	if d <= 0 {
		return strconv.Quote("never")
	}
	return strconv.Quote(span(d))
}

// ofPlan are the defaults of the core.
func ofPlan(p alarms.Plan) []shownDefault {
	h := p.Houses[0]
	place, drives := h.Places[0], h.Drives
	band := map[alarms.Quantity]alarms.Band{}
	for _, b := range place.Bands {
		band[b.Quantity] = b
	}
	temperature, stages := band[alarms.Temperature], h.Controls[0].Stages
	streams := place.Probes[0].Streams
	rate, x, hot, damp := place.Rates[0], place.Exposures[0], stages[0], stages[2]
	fan, shutter, stirrer := drives[0], drives[1], drives[3]
	const limits, drive, stage = placeTable + ".QUANTITY", "house.NAME.drive.DRIVE", "house.NAME.control.CONTROL.stage.STAGE"
	word := func(v any) string { return strconv.Quote(fmt.Sprint(v)) }
	return []shownDefault{
		{"house.NAME", "season", word(h.Season)}, {"house.NAME", "settle", spanned(h.Day.Settle)}, {"house.NAME", "silent-priority", word(h.Priority)},
		{"house.NAME.circuit.CIRCUIT", "silent-priority", word(h.Circuits[0].Priority)},
		{placeTable, "leaf-below-air", figure(place.LeafBelow()) + " K"}, {placeTable, "unwatched-priority", word(place.Unwatched)}, {placeTable, "disagree-for", spanned(place.DisagreeFor)},
		{limits, "quick-delay", spanned(temperature.QuickDelay)},
		{limits, "priority", word(temperature.Priority)}, {limits, "worst-priority", word(temperature.Worst)},
		{limits, "rate-window", spanned(rate.Window)}, {limits, "rate-clear-delay", spanned(rate.ClearDelay)}, {limits, "rate-priority", word(rate.Priority)},
		{placeTable + ".exposure.EXPOSURE", "priority", word(x.Priority)}, {placeTable + ".exposure.EXPOSURE", "when", word(x.When)},
		{placeTable + ".exposure.EXPOSURE", "source", word(x.Source)},
		{stage, "differential", figure(hot.Differential) + " K"}, {stage, "differential", figure(damp.Differential) + " %"},
		{stage, "tolerance", figure(hot.Tolerance) + " K"}, {stage, "tolerance", figure(damp.Tolerance) + " %"},
		{drive, "start-within stop-within", spanned(fan.Start)}, {drive, "start-within stop-within", "shutter `" + spanned(shutter.Start) + "`"},
		{drive, "start-within stop-within", spanned(fan.Stop)}, {drive, "start-within stop-within", "shutter `" + spanned(shutter.Stop) + "`"},
		{drive, "effect-within", spanned(fan.Effect) + "` for an exhaust fan, a heater and misting"}, {drive, "effect-within", spanned(drives[2].Effect)},
		{drive, "effect-within", spanned(drives[4].Effect)}, {drive, "effect-within", "others `" + spanned(stirrer.Effect)}, {drive, "effect-within", "others `" + spanned(shutter.Effect)},
		{drive, "timer-tolerance", spanned(stirrer.TimerTolerance)}, {drive, "max-starts-per-hour", figure(float64(stirrer.MaxStarts))},
		{drive, "priority", word(stirrer.Priority)}, {drive, "priority", "heater `" + word(drives[2].Priority)}, {drive, "priority", "exhaust fan and a heater `" + word(fan.Priority)},
		{"house.NAME.opening.OPENING", "fall-per-hour", figure(h.Openings[0].Falls) + " K"}, {"house.NAME.opening.OPENING", "priority", word(h.Openings[0].Priority)},
		{"house.NAME.loop", "warmth-below", figure(h.Loop.WarmBelow.Value) + " °C"}, {"house.NAME.loop", "cooling-above", figure(h.Loop.CoolAbove.Value) + " °C"},
		{"house.NAME.loop", "priority", word(h.Loop.Priority)},
		{probeTable, "misses-allowed", figure(place.Probes[0].MissesAllowed)},
		{probeTable + ".QUANTITY", "jump", figure(streams[0].Jump) + " K"}, {probeTable + ".QUANTITY", "jump", "humidity " + figure(streams[1].Jump) + " %"},
		{probeTable + ".QUANTITY", "stuck-after", spanned(streams[0].StuckFor) + "` for temperature, surface and humidity"},
		{probeTable + ".QUANTITY", "weak-below", figure(streams[2].Weak.Value) + " %"}, {probeTable + ".QUANTITY", "weak-below", figure(streams[3].Weak.Value) + " dBm"},
		{"broker-loss", "told-after", spanned(p.Link.Delay)}, {"broker-loss", "priority", word(p.Link.Priority)},
		{"chatter", "raises", figure(float64(p.Chatter.Raises))}, {"chatter", "within", spanned(p.Chatter.Within)}, {"chatter", "hold", spanned(p.Chatter.Hold)},
		{"reminders", "low", spanned(p.Reminders.Low)}, {"reminders", "medium", spanned(p.Reminders.Medium)}, {"reminders", "high", spanned(p.Reminders.High)},
		{"reminders", "repeat-high", spanned(p.Reminders.RepeatHigh)}, {"reminders", "repeat-medium", spanned(p.Reminders.RepeatMedium)},
		{"words", "zone", word(p.Words.Zone)},
	}
}

// ofConfig are the defaults of the reader.
func ofConfig(c *Config) []shownDefault {
	return []shownDefault{
		{"own-broker", "address", strconv.Quote(c.Broker.Address)}, {"broker", "qos", strconv.Itoa(int(c.Link.QoS))},
		{"broker", "keep-session", strconv.FormatBool(!c.Link.CleanSession)}, {"broker", "keep-alive", spanned(c.Link.KeepAlive)},
		{"channel.CHANNEL mail", "security", strconv.Quote(c.Reach.Channels[0].Mail.Security)}, {"channel.CHANNEL mqtt", "prefix", strconv.Quote(c.Reach.Channels[1].MQTT.Prefix)},
		{"modem", "baud", strconv.Itoa(c.Modem.Baud)}, {"tell", "from-priority", strconv.Quote(c.Reach.Tell[0].From.String())},
		{"page", "address", strconv.Quote(c.Page.Address)}, {"page", "link-good-for", spanned(c.Page.LinksFor)}, {"metrics", "on-page", strconv.FormatBool(c.Metrics.OnPage)},
		{"export.http", "every", spanned(c.Export.HTTP.Every)}, {"heartbeat", "every", spanned(c.Heartbeat.Every)},
		{"store", "directory", c.Store.Directory}, {"copies", "every", spanned(c.Copies.Every)}, {"copies", "keep", strconv.Itoa(c.Copies.Keep)},
		{"copies", "late-after", map[time.Duration]string{3: "three times `every`"}[c.Copies.LateAfter/c.Copies.Every]},
		{"log", "level", strconv.Quote(c.Log.Level)},
	}
}

// The topic says of keys that are left out what the program then goes by.
func TestManualDefaults(t *testing.T) {
	c, problems := Parse("x.toml", []byte(leastOfAll), fixedEnv)
	if c == nil {
		t.Fatal(problems)
	}
	sections := manualSections(t)
	for _, one := range append(ofPlan(c.Plan.Filled()), ofConfig(c)...) {
		for key := range strings.FieldsSeq(one.keys) {
			s := sections[one.table]
			if s == nil || one.want == "" || !strings.Contains(s.rows[key].leftOut, one.want) {
				t.Errorf("%s: [%s] %s, left out: want %q said", manualFile, one.table, key, one.want)
			}
		}
	}
}
