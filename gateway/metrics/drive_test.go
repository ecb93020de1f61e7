package metrics

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

func someDrives() []alarms.DrivePicture {
	return []alarms.DrivePicture{
		{ID: "exhaust", State: alarms.DriveRunning, Evidenced: true, StartsToday: 6, RanToday: time.Hour, StartsTotal: 412, RanTotal: 90 * time.Hour},
		{ID: "shutter", State: alarms.DriveStanding, Evidenced: true, Failing: true, StartsTotal: 3, RanTotal: 1500 * time.Millisecond},
		{ID: "loop", State: alarms.DriveUnknown, Evidenced: true, StartsTotal: 7, RanTotal: time.Minute},
		{ID: "second", State: alarms.DriveUnknown, Inferred: num(0.83)},
	}
}

func TestDrivesAreShownAsSeen(t *testing.T) {
	text := scrapeText(t, newMetrics(t, thimbleGarth, noon))
	for _, want := range []string{
		`telltale_drive_running{drive="exhaust",house="long-house"} 1`,
		`telltale_drive_running{drive="shutter",house="long-house"} 0`,
		`telltale_drive_starts_total{drive="exhaust",house="long-house"} 412`, // not today's
		`telltale_drive_run_seconds_total{drive="exhaust",house="long-house"} 324000`,
		`telltale_drive_run_seconds_total{drive="shutter",house="long-house"} 1.5`,
		`telltale_drive_failing{drive="shutter",house="long-house"} 1`,
		`telltale_drive_starts_total{drive="loop",house="long-house"} 7`,
		`telltale_drive_running_likelihood_ratio{drive="second",house="long-house"} 0.83`,
		"# TYPE telltale_drive_starts_total counter", "# TYPE telltale_drive_run_seconds_total counter", "# TYPE telltale_drive_running gauge",
	} {
		if !strings.Contains(text, want+"\n") {
			t.Errorf("missing: %s", want)
		}
	}
	stalled := scrapeText(t, newMetrics(t, thimbleGarth, noon.Add(stalledAfter)))
	for what, in := range map[string]string{
		`drive_running{drive="loop"`: text, `drive_running{drive="second"`: text, `drive_starts_total{drive="second"`: text,
		`drive_running{`: stalled, `drive_failing{`: stalled, `drive_running_likelihood_ratio{`: stalled,
	} {
		if strings.Contains(in, what) {
			t.Errorf("shown: %s", what)
		}
	}
	if !strings.Contains(stalled, "telltale_drive_starts_total{") {
		t.Error("a total is as true when the watch stands still")
	}
}
