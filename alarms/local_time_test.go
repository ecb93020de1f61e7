package alarms

import (
	"testing"
	"time"

	"telltale/alarms/localtime"
)

// plainly finds whether it is day at each minute from the clocks alone: day
// begins with the first minute of a date at which they show its start or more,
// and ends likewise.
type plainly struct {
	rule  DayRule
	zone  *time.Location
	shown int64 // furthest that the clocks have ever shown, as minutes of a clock in UTC
}

// passed is how often clock has come up to what the clocks have ever shown.
func (p *plainly) passed(clock time.Duration) int64 {
	return (p.shown - int64(clock/time.Minute)) / (24 * 60)
}

func (p *plainly) at(t time.Time) Daypart {
	_, offset := t.In(p.zone).Zone()
	p.shown = max(p.shown, (t.Unix()+int64(offset))/60)
	starts, ends := p.passed(p.rule.Start), p.passed(p.rule.End)
	if p.rule.End < p.rule.Start { // the end of the day before comes first on each date
		ends--
	}
	if starts > ends {
		return Day
	}
	return Night
}

// Zones whose clocks change at two, one, midnight (forward and back), by half
// an hour, by a date, by a minute past midnight, and never.
var zoneNames = []string{"Europe/London", "America/New_York", "America/Santiago", "Africa/Cairo", "Asia/Beirut",
	"America/Havana", "Australia/Lord_Howe", "America/Sao_Paulo", "Pacific/Apia", "America/St_Johns", "Antarctica/Troll",
	"Africa/Casablanca", "Asia/Kathmandu", "Atlantic/Azores", "America/Nuuk"}

// turns are the moments at which the clocks of zone were changed in some years.
func turns(zone *time.Location) []time.Time {
	var all []time.Time
	for _, year := range []int{2006, 2011, 2026} {
		t := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC)
		for end := t.AddDate(1, 0, 0); ; {
			_, next := t.In(zone).ZoneBounds()
			if next.IsZero() || next.After(end) {
				break
			}
			all = append(all, next)
			t = next
		}
	}
	return append(all, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC))
}

// TestTheHoursOfTheDayHoldWhenTheClocksChange holds day and night by fixed
// hours, and the moments at which they change, against a walk through every
// minute around the changes of the clocks.
func TestTheHoursOfTheDayHoldWhenTheClocksChange(t *testing.T) {
	for _, name := range zoneNames {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Skipf("the zones are not on this machine: %v", err)
		}
		hours := [][2]time.Duration{{2 * time.Hour, 20 * time.Hour}, {0, 12 * time.Hour}, {20 * time.Hour, 2*time.Hour + 30*time.Minute},
			{23*time.Hour + 30*time.Minute, 30 * time.Minute}, {2*time.Hour + 10*time.Minute, 2*time.Hour + 50*time.Minute}}
		for _, turn := range turns(zone) {
			for _, hh := range hours {
				walkDays(t, &Days{DayRule: DayRule{Fixed: true, Start: hh[0], End: hh[1], Zone: zone}}, turn)
			}
		}
	}
}

func walkDays(t *testing.T, d *Days, turn time.Time) {
	t.Helper()
	zone := d.Zone
	plain := &plainly{rule: d.DayRule, zone: zone}
	from := turn.Add(-54 * time.Hour).Truncate(time.Minute)
	for m := from; m.Before(from.Add(24 * time.Hour)); m = m.Add(time.Minute) {
		plain.at(m)
	}
	was, next := Always, time.Time{}
	for m := from.Add(24 * time.Hour); m.Before(turn.Add(28 * time.Hour)); m = m.Add(time.Minute) {
		want := plain.at(m)
		if got := d.PartAt(m); got != want {
			t.Fatalf("%s, day from %v to %v: at %s it is %s, want %s", zone, d.Start, d.End, m.In(zone), got, want)
		}
		if was != Always && want != was && !m.Equal(next) {
			t.Fatalf("%s, day from %v to %v: it turns %s at %s, and the next change was told for %s", zone, d.Start, d.End,
				want, m.In(zone), next.In(zone))
		}
		if want != was || m.Equal(next) { // a date that is left out ends one day as it begins the next
			next, _ = d.NextChange(m)
		}
		was = want
	}
}

// TestEveryDateBeginsOnce walks through whole years of zones: what is done at
// midnight is done once for each date that there is, at its first moment.
func TestEveryDateBeginsOnce(t *testing.T) {
	for _, name := range zoneNames {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Skipf("the zones are not on this machine: %v", err)
		}
		for _, turn := range turns(zone) {
			newest, next := time.Time{}, time.Time{}
			for m := turn.Add(-80 * time.Hour).Truncate(time.Minute); m.Before(turn.Add(50 * time.Hour)); m = m.Add(time.Minute) {
				date := localtime.DateIn(m, zone)
				if !date.After(newest) {
					continue
				}
				if !next.IsZero() && !m.Equal(next) {
					t.Fatalf("%s: %s begins at %s, and was awaited at %s", zone, date.Format(time.DateOnly), m.In(zone), next.In(zone))
				}
				newest, next = date, localtime.MidnightIn(m, zone)
			}
		}
	}
}
