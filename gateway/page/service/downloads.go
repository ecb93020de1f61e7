package service

import (
	"context"
	"iter"
	"time"

	"telltale/alarms"
)

// Downloads gives out the history piece by piece. All methods are called from
// many goroutines at once.
type Downloads interface {
	// Streams are what can be had of a house, by place, probe and quantity, in
	// the order of the plan.
	Streams(house alarms.HouseID) []DownloadStream
	// Houses are those that can be chosen, in order.
	Houses() []HouseName
	// Samples yields what was measured with from <= At < to, piece by piece in
	// time, in each piece by time and then by stream: readings where they are
	// kept, else values of 10 minutes. It holds one piece at a time, and ends
	// with the first error.
	Samples(ctx context.Context, of []DownloadStream, from, to time.Time) iter.Seq2[DownloadSample, error]
}

// DownloadStream is one quantity of one probe.
type DownloadStream struct {
	House     alarms.HouseID
	Place     alarms.PlaceID
	PlaceName string
	Probe     alarms.ProbeID
	Quantity  alarms.Quantity
}

// DownloadSample is one value, or what the values of 10 minutes were like.
type DownloadSample struct {
	Stream         int // which of those asked for
	At             time.Time
	Sum            bool // of the 10 minutes from At; else a reading, which all three are
	Min, Mean, Max float64
}
