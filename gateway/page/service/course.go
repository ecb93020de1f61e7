package service

import (
	"context"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
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

// Earlier is the earlier one of two times.
func Earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// Later is the later one of two times.
func Later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// Ran is one run of a drive.
type Ran struct {
	report.Span
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
	Unknown []report.Span // in which nothing is known of it
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
