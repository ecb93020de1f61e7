package metrics

import (
	"slices"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
)

// outlookFigures are the metrics of what is expected. A share such as 0.1 is that of
// the outcomes that lie below; it is not called a quantile, which collectors keep
// for summaries.
type outlookFigures struct {
	likely, inHand  *family
	highest, lowest *family
	warnings, spare *family
}

func newOutlookFigures(b *builder) outlookFigures {
	return outlookFigures{
		likely:   b.family("outlook_limit_likelihood_ratio", "How likely a limit of temperature is reached within two hours, 0 to 1; a guess, left out while nothing can be said.", "house", "place", "limit"),
		highest:  b.family("outlook_highest_celsius", "Highest temperature of the next hour as expected: the value below which that share of outcomes lies.", "house", "place", "share"),
		lowest:   b.family("outlook_lowest_celsius", "Lowest temperature of the next hour as expected: the value below which that share of outcomes lies.", "house", "place", "share"),
		inHand:   b.family("drive_time_in_hand_seconds", "Time until a limit is reached if the drive fails now: in that share of cases it is sooner. A guess for plants, not for people or animals; left out while not known, or where the limit is likely not reached.", "house", "drive", "place", "limit_celsius", "share"),
		warnings: b.family("outlook_warnings", "Warnings of the last 30 days that a limit will be reached, by what came of them.", "house", "place", "came"),
		spare:    b.family("outlook_warning_spare_seconds", "Time from a warning to its limit, the one in the middle of those of the last 30 days that came true.", "house", "place"),
	}
}

// outlook shows what is expected of a place while that is of now.
func (s *scrape) outlook(house, place string, o *alarms.OutlookPicture) {
	if o == nil {
		return
	}
	f := &s.of.outlook
	s.put(f.warnings, float64(o.Record.Right), house, place, "true")
	s.put(f.warnings, float64(o.Record.False), house, place, "false")
	s.put(f.spare, only(o.Record.Right > 0, o.Record.Spare.Seconds()), house, place)
	for i := range o.Drives {
		d := &o.Drives[i]
		limit, comes := strconv.FormatFloat(d.Limit, 'f', -1, 64), d.Known && !d.Holds && len(d.With) == 0 // else no drive has it alone
		s.put(f.inHand, only(comes, d.Soon.Seconds()), house, string(d.Drive), place, limit, "0.1")
		s.put(f.inHand, only(comes, d.Middle.Seconds()), house, string(d.Drive), place, limit, "0.5")
	}
	if !o.Stands(s.now) {
		return
	}
	for _, l := range o.Limits {
		s.put(f.likely, only(len(l.Likely) > 0, l.Likelihood()), house, place, alarms.LimitName(l.Side, l.Level))
	}
	if i := slices.IndexFunc(o.Ahead, func(a alarms.AheadPicture) bool { return a.In == time.Hour }); i >= 0 {
		s.shares(f.highest, o.Ahead[i].Highest, house, place)
		s.shares(f.lowest, o.Ahead[i].Lowest, house, place)
	}
}

// shares shows the tenth, the middle and the nine tenths of quantiles.
func (s *scrape) shares(f *family, quantiles []float64, house, place string) {
	for i, share := range outlook.Quantiles {
		if i < len(quantiles) && (share == 0.1 || share == 0.5 || share == 0.9) {
			s.put(f, quantiles[i], house, place, strconv.FormatFloat(share, 'f', -1, 64))
		}
	}
}
