package alarms_test

import (
	"testing"
	"time"

	"telltale/alarms"
)

// What is worst now comes first, whatever came last and whoever has seen it.
func TestWorstFirst(t *testing.T) {
	at := func(minute int) time.Time { return time.Date(2026, 7, 14, 13, minute, 0, 0, time.UTC) }
	one := func(id alarms.AlarmID, r alarms.Rule, s alarms.State, p alarms.Priority, minute int) alarms.AlarmPicture {
		return alarms.AlarmPicture{ID: id, Rule: r, State: s, Priority: p, House: "long-house", Quantity: alarms.Temperature, Since: at(minute), Level: alarms.Outer}
	}
	want := []alarms.AlarmPicture{
		one("link", alarms.RuleLink, alarms.Acknowledged, alarms.Medium, 9),
		one("hot", alarms.RuleLimit, alarms.Acknowledged, alarms.Medium, 8), // the fan makes it as grave
		one("fan", alarms.RuleControl, alarms.Unacknowledged, alarms.High, 7),
		one("silent", alarms.RuleSilent, alarms.Unacknowledged, alarms.High, 1),
		one("damp", alarms.RuleLimit, alarms.Unacknowledged, alarms.Medium, 2),
		one("damp-later", alarms.RuleLimit, alarms.Unacknowledged, alarms.Medium, 3),
		one("battery", alarms.RuleFault, alarms.Unacknowledged, alarms.Low, 1),
		one("was-hot", alarms.RuleLimit, alarms.ReturnedUnack, alarms.High, 5),
		one("shelved", alarms.RuleLimit, alarms.Shelved, alarms.High, 5),
		one("said", alarms.RuleUnwatched, alarms.SuppressedByDesign, alarms.High, 5),
		one("out", alarms.RuleLimit, alarms.OutOfService, alarms.High, 5),
	}
	want[4].Quantity, want[5].Quantity = alarms.Humidity, alarms.Humidity
	for turn := range want { // from every order that a turn makes, and backwards
		for _, backwards := range []bool{false, true} {
			var got []alarms.AlarmPicture
			for i := range want {
				k := (i + turn) % len(want)
				if backwards {
					k = len(want) - 1 - k
				}
				got = append(got, want[k])
			}
			alarms.WorstFirst(got)
			for i := range want {
				if got[i].ID != want[i].ID {
					t.Fatalf("turned by %d: place %d holds %s, want %s", turn, i, got[i].ID, want[i].ID)
				}
			}
		}
	}
}
