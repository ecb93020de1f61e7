package page

import (
	"context"
	"time"

	"telltale/alarms"
)

// Course is the past of a house beside what its probes said. All methods are
// called from many goroutines at once.
type Course interface {
	// Began is when the history begins; zero where nothing was recorded.
	Began(ctx context.Context) (time.Time, error)
	// MainPlace is the place by which the house is judged first.
	MainPlace(house alarms.HouseID) alarms.PlaceID
	// Cells returns what a place was like in cells, which begin at cuts and end
	// at the next; At is the beginning of the cell. Cells of which nothing is
	// known are left out.
	Cells(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, quantity alarms.Quantity, cuts []time.Time) ([]Point, error)
	// Held returns what season and daypart held from..to, without a hole.
	Held(ctx context.Context, house alarms.HouseID, from, to time.Time) ([]alarms.Held, error)
	// Bands returns the limits of a quantity at a place over what Held returned.
	Bands(house alarms.HouseID, place alarms.PlaceID, quantity alarms.Quantity, held []alarms.Held) []alarms.BandStep
	// Runs returns what the drives of a house did from..to, in their order.
	Runs(ctx context.Context, house alarms.HouseID, from, to time.Time) ([]DriveRuns, error)
	// RunCells returns the same added up in cells.
	RunCells(ctx context.Context, house alarms.HouseID, cuts []time.Time) ([]DriveCells, error)
	// Told returns what happened to alarms with from <= Due < to, oldest first;
	// of more than limit the newest.
	Told(ctx context.Context, house alarms.HouseID, from, to time.Time, limit int) ([]alarms.Transition, error)
}

// Stretch is a stretch of time.
type Stretch struct{ From, To time.Time }

// Ran is one run of a drive.
type Ran struct {
	Stretch
	Inferred     bool // known from temperatures alone
	FromUnseen   bool // it ran already when it was first seen
	ToUnseen     bool // it still ran when it was last seen
	StillRunning bool
}

// DriveName is which drive is meant.
type DriveName struct {
	ID       alarms.DriveID
	Name     string
	Inferred bool // nothing shows whether it runs; it is inferred from temperatures
	Opens    bool // a shutter, which does not run but is open
}

// DriveRuns is what a drive did in some time.
type DriveRuns struct {
	DriveName
	Runs    []Ran
	Unknown []Stretch // in which nothing is known of it
}

// DriveCells is what a drive did in each of some cells.
type DriveCells struct {
	DriveName
	Cells []RanInCell
}

// RanInCell is how long a drive ran in one cell.
type RanInCell struct {
	Known    bool // else nothing is known of it
	Ran      time.Duration
	Inferred time.Duration // part of Ran known from temperatures alone
	Starts   int
}

// zoom is how long a strip is.
type zoom struct {
	Key, Words string
	days       int // on the calendar; 0: all there is
	points     int // asked of History; 0: cells of whole days
}

// zooms are the lengths to choose from, shortest first.
var zooms = []zoom{
	{"day", "a day", 1, 290}, {"3-days", "3 days", 3, 440}, {"week", "a week", 7, 345},
	{"month", "a month", 31, 0}, {"year", "a year", 366, 0}, {"all", "all of it", 0, 0},
}

// inCells reports whether z shows days or longer by lowest, mean and highest.
func (z zoom) inCells() bool { return z.points == 0 }

func zoomOf(key string) zoom {
	for _, z := range zooms {
		if z.Key == key {
			return z
		}
	}
	return zooms[0]
}

// stretch is what z shows where it ends at until, and for days the cuts
// between them. Days are those of the calendar.
func (w words) stretch(z zoom, until, began time.Time) (Stretch, []time.Time) {
	until = until.In(w.zone)
	from := until.AddDate(0, 0, -z.days)
	if !z.inCells() {
		return Stretch{from, until}, nil
	}
	if z.days == 0 {
		from = began
		if from.IsZero() || until.Sub(from) < 7*24*time.Hour {
			from = until.AddDate(0, 0, -7)
		}
	}
	cuts := w.cuts(from, until)
	return Stretch{cuts[0], cuts[len(cuts)-1]}, cuts
}

const (
	mostDays  = 400     // shown one by one; beyond that whole weeks
	mostWeeks = 7 * 400 // days shown in weeks; beyond that in months
)

// cuts divides from..to, rounded outwards, into days; what is long into weeks
// from Monday, what is very long into months.
func (w words) cuts(from, to time.Time) []time.Time {
	day := func(t time.Time) (int, time.Month, int) { return t.In(w.zone).Date() }
	y, m, d := day(from)
	step, month := 1, false
	switch days := int(to.Sub(from).Hours() / 24); {
	case days > mostWeeks:
		d, month = 1, true
	case days > mostDays:
		step = 7
		d -= int(from.In(w.zone).Weekday()+6) % 7
	}
	var cuts []time.Time
	for i := 0; ; i++ {
		at := time.Date(y, m, d+i*step, 0, 0, 0, 0, w.zone)
		if month {
			at = time.Date(y, m+time.Month(i), 1, 0, 0, 0, 0, w.zone)
		}
		if n := len(cuts); n > 0 && !at.After(cuts[n-1]) { // a midnight that its day does not have
			continue
		}
		cuts = append(cuts, at)
		if len(cuts) > 1 && !at.Before(to) {
			return cuts
		}
	}
}
