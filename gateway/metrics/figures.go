package metrics

import "telltale/alarms"

// pictureFigures are the metrics of what the picture shows.
type pictureFigures struct {
	garden            []figure[*alarms.Picture]
	probe, probeHeard []figure[*alarms.ProbePicture] // in any case, and of one that is heard
	exposure          []figure[*alarms.ExposurePicture]
	drive, driveSum   []figure[*alarms.DrivePicture] // as it is now, and sums
	loopSum           []figure[*alarms.LoopPicture]
	pipe, pipeSum     []figure[*alarms.PipePicture]
	loopRuns, better  *family
	points            map[alarms.Quantity]*family
	age, received     *family
	live, beyond      *family
	healthy, fault    *family
	build, season     *family
	outlook           outlookFigures
	alarms, active    *family
	aside, unlisted   *family
}

// joules in a kWh.
const joules = 3.6e6

func newPictureFigures(b *builder) pictureFigures {
	point := []string{"house", "place", "quantity", "probe"}
	f := pictureFigures{
		garden: table(b, nil, []row[*alarms.Picture]{
			{"picture_timestamp_seconds", "When the core last judged, Unix time. Values are left out when this is a minute old.", func(p *alarms.Picture) float64 { return unix(p.At) }},
			{"link_up", "Whether the broker is reached (1) or not (0).", func(p *alarms.Picture) float64 { return oneIf(p.Link) }},
			{"link_change_timestamp_seconds", "Since when the broker is reached, or not, Unix time.", func(p *alarms.Picture) float64 { return unix(p.LinkSince) }},
			{"newest_reading_timestamp_seconds", "When the newest live reading of all was received, Unix time.", func(p *alarms.Picture) float64 { return unix(p.Newest) }},
		}),
		build:    b.family("build_info", "Version of the service; always 1.", "version", "revision", "goversion"),
		season:   b.family("house_season", "The season of a house; 1 for the one set.", "house", "season"),
		points:   map[alarms.Quantity]*family{},
		age:      b.family("reading_age_seconds", "Age of the newest believed reading at the time of the scrape, also when it is no longer live.", point...),
		received: b.family("reading_timestamp_seconds", "When the newest believed reading was received, Unix time.", point...),
		live:     b.family("reading_live", "Whether the reading is fresh and believed (1); if not (0) its value is left out.", point...),
		beyond:   b.family("reading_beyond_limit", "A live value against its limits: 0 within, 1 above high, 2 above high-high, -1 below low, -2 below low-low.", "house", "place", "quantity"),

		alarms:   b.family("alarms", "Alarms that are not normal, by state and priority.", "state", "priority"),
		active:   b.family("alarm_active", "Each alarm that is not normal: whether what it tells of holds (1), also where it is put aside or another alarm says it.", "alarm", "house", "place", "quantity", "priority"),
		aside:    b.family("alarms_put_aside", "Alarms that somebody put aside (shelved, or out of service) while what they tell of still holds, by priority.", "priority"),
		unlisted: b.family("alarms_unlisted", "Alarms that are not normal but too many to be shown one by one."),
	}
	// Battery and signal are shown with the probe.
	for _, q := range alarms.Quantities {
		if g := q.Facts().Gauge; g.Name != "" {
			f.points[q] = b.family(g.Name, g.Help, "house", "place", "probe")
		}
	}
	f.ofProbes(b)
	f.ofExposures(b)
	f.ofDrives(b)
	f.ofLoops(b)
	f.outlook = newOutlookFigures(b)
	return f
}

func (f *pictureFigures) ofProbes(b *builder) {
	probe := []string{"house", "place", "probe"}
	f.probe = table(b, probe, []row[*alarms.ProbePicture]{
		{"probe_heard_timestamp_seconds", "When the probe last sent a live message, Unix time.", func(p *alarms.ProbePicture) float64 { return unix(p.Heard) }},
		{"probe_interval_seconds", "Interval in which the probe is expected to send, given or learned.", func(p *alarms.ProbePicture) float64 { return only(p.Interval > 0, p.Interval.Seconds()) }},
		{"probe_silent", "Whether the probe has not been heard for too long (1).", func(p *alarms.ProbePicture) float64 { return oneIf(p.Silent) }},
		{"probe_out_of_service", "Whether a person has taken the probe out of service (1).", func(p *alarms.ProbePicture) float64 { return oneIf(p.OutOf) }},
		{"probe_readings_total", "Live readings taken.", func(p *alarms.ProbePicture) float64 { return float64(p.Readings) }},
		{"probe_readings_refused_total", "Readings that were late, doubled or not believed.", func(p *alarms.ProbePicture) float64 { return float64(p.Refused) }},
		{"probe_payloads_garbled_total", "Payloads that could not be read.", func(p *alarms.ProbePicture) float64 { return float64(p.Garbled) }},
	})
	f.probeHeard = table(b, probe, []row[*alarms.ProbePicture]{
		{"probe_battery_ratio", "Charge of the battery, 0 to 1, of a probe that is heard.", func(p *alarms.ProbePicture) float64 { return known(p.Battery) / 100 }},
		{"probe_signal_dbm", "Received signal strength in dBm, of a probe that is heard.", func(p *alarms.ProbePicture) float64 { return known(p.Signal) }},
	})
	f.healthy = b.family("probe_healthy", "Whether the probe is heard, in service and without fault (1).", probe...)
	f.fault = b.family("probe_fault", "A fault that the probe has now; always 1.", "house", "place", "probe", "fault")
}

func (f *pictureFigures) ofExposures(b *builder) {
	f.exposure = table(b, []string{"house", "place", "rule"}, []row[*alarms.ExposurePicture]{
		{"exposure_seconds", "For how long a place has been beyond the limit of an exposure rule, in what counts by that rule.", func(x *alarms.ExposurePicture) float64 { return only(!(x.LimitDegreeHours > 0), x.Time.Seconds()) }},
		{"exposure_limit_seconds", "For how long a place may be beyond the limit of an exposure rule before that does harm.", func(x *alarms.ExposurePicture) float64 { return only(!(x.LimitDegreeHours > 0), x.Limit.Seconds()) }},
		{"exposure_celsius_seconds", "How far and how long a place has been beyond the limit of an exposure rule; 3600 are a degree-hour.", func(x *alarms.ExposurePicture) float64 { return only(x.LimitDegreeHours > 0, x.DegreeHours*3600) }},
		{"exposure_limit_celsius_seconds", "How far and how long a place may be beyond the limit of an exposure rule before that does harm.", func(x *alarms.ExposurePicture) float64 { return only(x.LimitDegreeHours > 0, x.LimitDegreeHours*3600) }},
		{"exposure_unknown_seconds", "For how long, in what counts by an exposure rule, nothing was known.", func(x *alarms.ExposurePicture) float64 { return x.Unknown.Seconds() }},
		{"exposure_reached", "Whether an exposure does harm (1) and is not over.", func(x *alarms.ExposurePicture) float64 { return oneIf(x.Reached) }},
	})
}

// ofDrives leaves out the counts of a drive that no probe shows: they would
// always be zero.
func (f *pictureFigures) ofDrives(b *builder) {
	drive := []string{"house", "drive"}
	f.driveSum = table(b, drive, []row[*alarms.DrivePicture]{
		{"drive_starts_total", "Starts of the drive that were seen.", func(d *alarms.DrivePicture) float64 { return only(d.Evidenced, float64(d.StartsTotal)) }},
		{"drive_run_seconds_total", "Time for which the drive was seen to run.", func(d *alarms.DrivePicture) float64 { return only(d.Evidenced, d.RanTotal.Seconds()) }},
	})
	f.drive = table(b, drive, []row[*alarms.DrivePicture]{
		{"drive_running", "Whether the drive is seen to run (1) or stand (0); left out while that is not known.", func(d *alarms.DrivePicture) float64 {
			return only(d.State != alarms.DriveUnknown, oneIf(d.State == alarms.DriveRunning))
		}},
		{"drive_failing", "Whether a verdict speaks against the drive now (1).", func(d *alarms.DrivePicture) float64 { return oneIf(d.Failing) }},
		{"drive_running_likelihood_ratio", "How likely the drive runs, 0 to 1, inferred from temperatures alone; no evidence.", func(d *alarms.DrivePicture) float64 { return known(d.Inferred) }},
	})
}

func (f *pictureFigures) ofLoops(b *builder) {
	f.loopRuns = b.family("loop_fan_running", "Whether the fan of the ground loop runs (1) or stands (0); left out when not known.", "house")
	f.loopSum = table(b, []string{"house"}, []row[*alarms.LoopPicture]{
		{"loop_fan_joules_total", "Energy that the fan of the ground loop has drawn, where known.", func(l *alarms.LoopPicture) float64 { return l.Total.Fan * joules }},
		{"loop_fan_run_seconds_total", "Time for which the fan of the ground loop was seen to run.", func(l *alarms.LoopPicture) float64 { return l.Total.Run.Seconds() }},
	})
	pipe := []string{"house", "place", "depth_meters"}
	f.better = b.family("loop_depth_better", "Whether this depth of the ground loop is the better one now (1).", pipe...)
	f.pipe = table(b, pipe, []row[*alarms.PipePicture]{
		{"loop_ground_celsius", "Temperature that the undisturbed ground should have at the depth of a pipe now.", func(p *alarms.PipePicture) float64 { return known(p.Ground) }},
		{"loop_effectiveness_ratio", "Share of the difference between house and ground that a pipe gives to the air, where they differ enough.", func(p *alarms.PipePicture) float64 { return known(p.Effectiveness) }},
		{"loop_heat_watts", "Warmth that a pipe of the ground loop brings into the house, negative for cold; without what its moisture carries.", func(p *alarms.PipePicture) float64 { return known(p.Watts) }},
		{"loop_moisture_watts", "Heat that the moisture of a pipe's air carries into the house, negative where it dries it; it warms nothing until it condenses.", func(p *alarms.PipePicture) float64 { return known(p.Moisture) }},
	})
	f.pipeSum = table(b, pipe, []row[*alarms.PipePicture]{
		{"loop_moisture_in_joules_total", "Heat that moisture from a pipe of the ground loop has carried into the house.", func(p *alarms.PipePicture) float64 { return p.Total.Wet * joules }},
		{"loop_moisture_out_joules_total", "Heat that moisture has carried out of the house into a pipe of the ground loop.", func(p *alarms.PipePicture) float64 { return p.Total.Dried * joules }},
		{"loop_heat_joules_total", "Warmth that a pipe of the ground loop has brought into the house.", func(p *alarms.PipePicture) float64 { return p.Total.Heat * joules }},
		{"loop_cold_joules_total", "Warmth that a pipe of the ground loop has taken out of the house.", func(p *alarms.PipePicture) float64 { return p.Total.Cold * joules }},
		{"loop_watched_seconds_total", "Time over which it was known what a pipe of the ground loop brings.", func(p *alarms.PipePicture) float64 { return p.Total.Watched.Seconds() }},
	})
}
