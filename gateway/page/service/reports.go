package service

import (
	"context"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

// Reports makes reports of what was. All methods are called from many
// goroutines at once.
type Reports interface {
	// Houses are those that can be reported on, in order.
	Houses() []HouseName
	// Began is when the history begins; zero where nothing was recorded.
	Began(ctx context.Context) (time.Time, error)
	// Seasons are the changes of season, oldest first; the first holds before
	// its own time too.
	Seasons(ctx context.Context, house alarms.HouseID) ([]alarms.SeasonFrom, error)
	// Report reports on a house.
	Report(ctx context.Context, house alarms.HouseID, s report.Span) (report.Report, error)
	// Year is what is shown of a house and a year on the calendar.
	Year(ctx context.Context, house alarms.HouseID, s report.Span) (report.Year, error)
}

// HouseName is how a house is called.
type HouseName struct {
	ID   alarms.HouseID
	Name string
}
