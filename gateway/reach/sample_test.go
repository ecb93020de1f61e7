package reach

import (
	"testing"
	"time"

	"telltale/alarms"
)

// noon is the invented day on which most of these tests play.
var noon = time.Date(2026, 7, 9, 12, 0, 0, 0, time.UTC)

const hot alarms.AlarmID = "long-house/bench/temperature/high"

func ptr(v float64) *float64 { return &v }

// tooHot is a limit alarm raised at noon.
func tooHot(p alarms.Priority) alarms.Transition {
	return alarms.Transition{
		ID: string(hot) + "#1", Alarm: hot, Move: alarms.Raise, From: alarms.Normal, To: alarms.Unacknowledged,
		Level: alarms.Outer, Priority: p, Due: noon, Noticed: noon,
		Reason: alarms.Reason{
			Rule: alarms.RuleLimit, House: "long-house", Place: "bench", Quantity: alarms.Temperature, Side: alarms.HighSide,
			Value: ptr(33.4), Limit: ptr(32), Since: noon.Add(-time.Minute), Check: "Look whether the exhaust fan runs and the intake shutter is open",
		},
		Sentence: "Long House, bench: 33.4 °C, above the limit of 32.0 °C since 11:59.",
	}
}

// with returns t changed into another move of the same alarm.
func with(t alarms.Transition, n string, m alarms.Move, from, to alarms.State, at time.Time) alarms.Transition {
	t.ID, t.Move, t.From, t.To, t.Due, t.Noticed = string(t.Alarm)+"#"+n, m, from, to, at, at
	return t
}

// over is the return of tooHot at some time, after it held for lasted.
func over(p alarms.Priority, from alarms.State, at time.Time, lasted time.Duration) alarms.Transition {
	to := alarms.Normal
	if from == alarms.Unacknowledged {
		to = alarms.ReturnedUnack
	}
	t := with(tooHot(p), "2", alarms.Return, from, to, at)
	t.Reason.Lasted, t.Reason.Peak, t.Reason.Value = lasted, ptr(34.9), ptr(29.8)
	t.Sentence = "Long House, bench: back within its limits at 29.8 °C; the highest was 34.9 °C."
	return t
}

// garden are rules for two people: Ada is told at once, Ben steps in.
func garden() Rules {
	return Rules{
		People: []Person{
			{Name: "Ada", Channels: []string{"mail", "phone"}, Quiet: Quiet{From: 22 * time.Hour, To: 6*time.Hour + 30*time.Minute}},
			{Name: "Ben", Channels: []string{"mail"}},
		},
		Tell: []Rule{
			{From: alarms.Medium, People: []string{"Ada"}},
			{From: alarms.Low, People: []string{"Ada"}, Channels: []string{"mail"}, After: 30 * time.Minute},
			{From: alarms.High, People: []string{"Ben"}, After: 15 * time.Minute},
		},
		Follow:   []string{"lamps"},
		Channels: []string{"lamps", "mail", "phone"},
		Houses:   []House{{ID: "long-house", Name: "Long House"}, {ID: "low-house", Name: "Low House"}},
		Page:     "http://127.0.0.1:8080/",
	}
}

func route(t *testing.T, r Rules, tr alarms.Transition) []Outgoing {
	t.Helper()
	rows, err := r.Route(tr)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// telling makes a telling of the transitions for Ada on a channel.
func telling(r Rules, channel string, ts ...alarms.Transition) Telling {
	t := Telling{ID: ts[0].ID + "|" + channel + "|Ada", Channel: channel, Person: "Ada", At: ts[0].Noticed}
	for _, tr := range ts {
		t.Events = append(t.Events, r.newEvent(tr))
	}
	return t
}
