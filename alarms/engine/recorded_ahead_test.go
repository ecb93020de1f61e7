package engine_test

import (
	"testing"
	"time"

	"telltale/alarms"
)

// Of the recorded summer most times that it got too hot, after an hour in which it was
// not, were told at least a quarter of an hour before, and few warnings were in vain.
func TestTheRecordedSummerIsToldAhead(t *testing.T) {
	rows := recorded(t, "fan-house-summer.csv", time.DateTime)
	all := replay(t, fanHouse(), rows, fanColumns, nil)
	const limit = alarms.AlarmID("fan-house/inside/temperature/high")
	raised, came, inTime, vain := 0, 0, 0, 0
	var warned, over time.Time
	for _, tr := range all {
		switch {
		case tr.Alarm == limit.Ahead() && tr.Move == alarms.Raise && tr.Level == alarms.Outer:
			raised, warned = raised+1, tr.Due
		case tr.Alarm == limit.Ahead() && tr.Move == alarms.Return:
			if warned = (time.Time{}); tr.Reason.Ahead.Ended == alarms.AheadTurned {
				vain++
			}
		case tr.Alarm == limit && tr.Move == alarms.Raise:
			if tr.Due.Sub(over) >= time.Hour {
				if came++; !warned.IsZero() && tr.Due.Sub(warned) >= 15*time.Minute {
					inTime++
				}
			}
			warned = time.Time{}
		case tr.Alarm == limit && tr.Move == alarms.Return:
			over = tr.Due
		}
	}
	weeks := rows[len(rows)-1].at.Sub(rows[0].at).Hours() / (24 * 7)
	t.Logf("%d warnings, %d times too hot, %d told in time, %d in vain in %.1f weeks", raised, came, inTime, vain, weeks)
	if came < 15 || 10*inTime < 6*came || float64(vain) > 1.5*weeks {
		t.Errorf("%d times too hot, %d told in time, %d warnings in vain in %.1f weeks", came, inTime, vain, weeks)
	}
}
