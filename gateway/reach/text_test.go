package reach

import (
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

func TestText(t *testing.T) {
	r := garden()
	r.Words.Zone = time.FixedZone("", 3600)
	silent := tooHot(alarms.Medium)
	silent.ID, silent.Alarm = "low-house/tray/tray-2/silent#4", "low-house/tray/tray-2/silent"
	silent.Due, silent.Noticed = noon.Add(-time.Minute), noon.Add(-time.Minute)
	silent.Reason = alarms.Reason{Rule: alarms.RuleSilent, House: "low-house", Place: "tray", Probe: "tray-2", Check: "Check its battery first."}
	silent.Sentence = "Low House, tray: nothing heard from probe tray-2 for 15 minutes. Check its battery first."

	single := telling(r, "mail", tooHot(alarms.High))
	single.Events[0].Unanswered = 900
	single.At = noon.Add(15 * time.Minute)
	late := telling(r, "mail", over(alarms.Medium, alarms.Unacknowledged, noon.Add(14*time.Hour), 3*time.Hour))
	late.At = noon.Add(17*time.Hour + 30*time.Minute)
	cases := []struct {
		name          string
		give          Telling
		subject, text string
	}{
		{"next person", single, "High: Long House, bench: too hot, 33.4 °C at 13:00",
			`Long House, bench: 33.4 °C, above the limit of 32.0 °C since 11:59.
Check first: Look whether the exhaust fan runs and the intake shutter is open.
Since 12:59 on Thursday 9 July.
Priority: high.
You are told because nobody acknowledged this within 15 minutes.

See and acknowledge here: http://127.0.0.1:8080/

` + string(caution) + "\n"},
		{"over, sent late", late, "Over: Long House, bench: temperature back within its limits, 29.8 °C at 03:00",
			`Long House, bench: back within its limits at 29.8 °C; the highest was 34.9 °C.
It happened at 03:00 on Friday 10 July; this message was sent at 06:30 on Friday 10 July.

See and acknowledge here: http://127.0.0.1:8080/

` + string(caution) + "\n"},
		{"two together", telling(r, "mail", silent, tooHot(alarms.High)),
			"High: Long House, bench: too hot, 33.4 °C at 13:00 (and 1 more)",
			`2 messages came close together. The most urgent comes first.

1. Long House, bench: 33.4 °C, above the limit of 32.0 °C since 11:59.
Check first: Look whether the exhaust fan runs and the intake shutter is open.
Since 12:59 on Thursday 9 July.
Priority: high.

2. Low House, tray: nothing heard from probe tray-2 for 15 minutes. Check its battery first.
Priority: medium.

See and acknowledge here: http://127.0.0.1:8080/

` + string(caution) + "\n"},
		{"test", TestTelling("Ada", "mail", tongue.English, noon), "Test message from Telltale: nothing is wrong",
			`This is a test message from Telltale to Ada over the channel "mail". Nothing is wrong and there is nothing to do. That it arrived shows that alarms can arrive this way.

` + string(caution) + "\n"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := Subject(c.give); got != c.subject {
				t.Errorf("subject: got %q, want %q", got, c.subject)
			}
			if got := Text(c.give); got != c.text {
				t.Errorf("text: got\n%s\nwant\n%s", got, c.text)
			}
		})
	}
}

// What was hidden and is over asks nobody to look at anything.
func TestWhatIsOverSendsNobody(t *testing.T) {
	hidden := tooHot(alarms.High)
	for _, c := range []struct {
		move     alarms.Move
		from     alarms.State
		headline string
	}{
		{alarms.Release, alarms.SuppressedByDesign, "Over: Long House, bench: temperature back within its limits, 33.4 °C at 12:00"},
		{alarms.ShelveOff, alarms.Shelved, "Over: Long House, bench: temperature back within its limits, 33.4 °C at 12:00"},
		{alarms.Ack, alarms.ReturnedUnack, "Over: Long House, bench: acknowledged, temperature back within its limits"},
	} {
		gone := telling(garden(), "mail", with(hidden, "3", c.move, c.from, alarms.Normal, noon))
		if got := Subject(gone); got != c.headline {
			t.Errorf("%v: got %q, want %q", c.move, got, c.headline)
		}
		if lines := details(gone.Events[0], noon); len(lines) != 0 {
			t.Errorf("%v: it is over, but the message says %q", c.move, lines)
		}
	}
	still := telling(garden(), "mail", with(hidden, "3", alarms.Release, alarms.SuppressedByDesign, alarms.Unacknowledged, noon))
	if got, lines := Subject(still), details(still.Events[0], noon); got != "High: Long House, bench: too hot, 33.4 °C at 12:00" || len(lines) != 3 {
		t.Errorf("what is still so: got %q and %q", got, lines)
	}
}

func TestHeadline(t *testing.T) {
	base := alarms.Transition{Priority: alarms.Medium, To: alarms.Unacknowledged}
	cases := []struct {
		move       alarms.Move
		reason     alarms.Reason
		fahrenheit bool
		want       string
	}{
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Place: "bench", Quantity: alarms.Temperature, Side: alarms.LowSide, Value: ptr(-2)}, false,
			"Medium: Long House, bench: too cold, −2.0 °C at 00:00"},
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Place: "bench", Quantity: alarms.Temperature, Side: alarms.LowSide, Value: ptr(-2)}, true,
			"Medium: Long House, bench: too cold, 28.4 °F at 00:00"}, // -2 °C = 28.4 °F by definition of the scale
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Quantity: alarms.DewMargin, Side: alarms.LowSide, Value: ptr(0.5)}, true,
			"Medium: Long House: leaves close to getting wet, 0.9 °F at 00:00"}, // a difference: 0.5 K = 0.9 °F
		{alarms.Worsen, alarms.Reason{Rule: alarms.RuleRate, House: "low-house", Place: "tray-1", Quantity: alarms.Temperature, Side: alarms.HighSide}, false,
			"Medium: Low House, tray 1: worse, warming fast"},
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleFault, House: "low-house", Place: "tray", Probe: "tray-2", Fault: alarms.FaultBattery}, false,
			"Medium: Low House, tray, probe tray-2: probe needs care (low battery)"},
		{alarms.Realarm, alarms.Reason{Rule: alarms.RuleSilent, House: "long-house", Circuit: "north-circuit"}, false,
			"Medium: Long House, north circuit: still, nothing heard"},
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleUnwatched, House: "long-house", Place: "ridge", Swing: &alarms.Swing{Times: 4}}, false,
			"Medium: Long House, ridge: comes and goes, no healthy probe"},
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleLink}, false, "Medium: connection to the broker lost"},
		{alarms.Return, alarms.Reason{Rule: alarms.RuleRate, House: "low-house", Quantity: alarms.Humidity, Value: ptr(71)}, false,
			"Over: Low House: humidity steadier again, 71 % at 00:00"},
		{alarms.Return, alarms.Reason{Rule: alarms.RuleFault, House: "low-house", Place: "tray", Probe: "tray-2"}, false,
			"Over: Low House, tray, probe tray-2: probe in order again"},
		{alarms.Return, alarms.Reason{Rule: alarms.RuleSilent, House: "long-house"}, false, "Over: Long House: heard again"},
		{alarms.Return, alarms.Reason{Rule: alarms.RuleUnwatched, House: "long-house", Place: "ridge"}, false, "Over: Long House, ridge: watched again"},
		{alarms.Return, alarms.Reason{Rule: alarms.RuleLink}, false, "Over: connection to the broker is back"},
		{alarms.Return, alarms.Reason{Rule: alarms.RuleTrouble}, false, "Over: the watch itself is in order again"},
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleExposure, Exposure: &alarms.ExposureReason{Says: "tomato fruit set is failing"}}, false, "Medium: tomato fruit set is failing"},
		{alarms.Return, alarms.Reason{Rule: "something-new"}, false, "Over: no longer: something new"},
		{alarms.Raise, alarms.Reason{Rule: alarms.RuleTrouble, Note: "the disk is full"}, false, "Medium: the watch itself is in trouble"},
		{alarms.Note, alarms.Reason{Rule: alarms.RuleRestart}, false, "Medium: the watch was away"},
		{alarms.Raise, alarms.Reason{Rule: "something-new", House: "a\r\nBcc: x@example.org"}, false, "Medium: a  Bcc: x@example.org: something new"},
	}
	for _, c := range cases {
		tr := base
		tr.Move, tr.Reason = c.move, c.reason
		r := garden()
		r.Words.Fahrenheit = c.fahrenheit
		if got := r.newEvent(tr).Headline; got != c.want {
			t.Errorf("got  %q\nwant %q", got, c.want)
		}
	}
}
