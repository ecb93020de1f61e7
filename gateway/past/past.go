// Package past answers what was: how a place was, what its drives did, which limits
// held, what was told, what came of each probe, and the report of a house. It is what
// the page asks, and what a report written to a file rests on.
//
// It reads the store and changes nothing. The plan says what was watched, the picture
// of a running watch what goes on; without one nothing does. All methods may be called
// from many goroutines at once.
//
// Three things are said in one way wherever they are counted:
//
//   - A stretch is a report.Span, From <= t < To.
//   - A reading stands until the next one, or for as long as its probe may be silent.
//   - A drive ran over the runs of the log of switchings, and over the one that goes on.
//     Of a run whose end, or beginning, nobody saw it is the time over which readings of
//     what shows the drive stood.
package past

import (
	"context"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// Options say whose past it is.
type Options struct {
	Store   *store.Store
	Plan    alarms.Plan
	Now     func() time.Time
	Picture func() alarms.Picture // nil: no watch runs here
}

// Archive is the past of the houses of one plan.
type Archive struct {
	store   *store.Store
	plan    alarms.Plan // with nothing left to default
	now     func() time.Time
	picture func() alarms.Picture

	mu    sync.Mutex
	heard map[alarms.ProbeID]service.Delivery
	asked time.Time // real time
}

var (
	_ service.Course    = (*Archive)(nil)
	_ service.Reports   = (*Archive)(nil)
	_ service.Downloads = (*Archive)(nil)
)

// New looks back through o.Store.
func New(o Options) *Archive {
	if o.Picture == nil {
		o.Picture = func() alarms.Picture { return alarms.Picture{} }
	}
	return &Archive{store: o.Store, plan: o.Plan.Filled(), now: o.Now, picture: o.Picture}
}

// Began implements service.Course and service.Reports.
func (a *Archive) Began(ctx context.Context) (time.Time, error) { return a.store.History.Began(ctx) }

// Houses implements service.Reports and service.Downloads.
func (a *Archive) Houses() []service.HouseName {
	return walk.Each(a.plan.Houses, func(h alarms.House) service.HouseName { return service.HouseName{ID: h.ID, Name: h.Name} })
}

// house is nil where there is none of that ID.
func (a *Archive) house(id alarms.HouseID) *alarms.House { return a.plan.House(id) }

// place is nil where there is none.
func (a *Archive) place(house alarms.HouseID, place alarms.PlaceID) *alarms.Place {
	if h := a.house(house); h != nil {
		return h.Place(place)
	}
	return nil
}
