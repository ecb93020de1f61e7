package metrics

import "telltale/alarms"

// driveFamilies are the metric names of what a thermostat drives.
type driveFamilies struct{ running, starts, ran, failing, likelihood *family }

func newDriveFamilies(b *builder) driveFamilies {
	drive := []string{"house", "drive"}
	return driveFamilies{
		running:    b.gauge("drive_running", "Whether the drive is seen to run (1) or stand (0); left out while that is not known.", drive...),
		starts:     b.counter("drive_starts_total", "Starts of the drive that were seen.", drive...),
		ran:        b.counter("drive_run_seconds_total", "Time for which the drive was seen to run.", drive...),
		failing:    b.gauge("drive_failing", "Whether a verdict speaks against the drive now (1).", drive...),
		likelihood: b.gauge("drive_running_likelihood_ratio", "How likely the drive runs, 0 to 1, inferred from temperatures alone; no evidence.", drive...),
	}
}

// drive shows what is seen of one drive. Counts of a drive that no probe shows
// would always be zero, so they are left out.
func (s *scrape) drive(house string, d *alarms.DrivePicture) {
	f, id := &s.families.drives, string(d.ID)
	if d.Evidenced {
		s.put(f.starts, float64(d.StartsTotal), house, id)
		s.put(f.ran, d.RanTotal.Seconds(), house, id)
	}
	if s.stalled {
		return
	}
	s.flag(f.failing, d.Failing, house, id)
	if d.State != alarms.DriveUnknown {
		s.flag(f.running, d.State == alarms.DriveRunning, house, id)
	}
	if d.Inferred != nil {
		s.put(f.likelihood, *d.Inferred, house, id)
	}
}
