package lookback

import (
	"net/url"
	"slices"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/words"
)

// untilLayout is how an address says the end of a strip.
const untilLayout = "2006-01-02T15:04Z"

// Ask is what a strip is asked to show.
type Ask struct {
	House  alarms.HousePicture
	zoom   zoom
	until  time.Time // zero: now, and it goes on
	Places []alarms.PlaceID
	own    bool // on its own page: large, with all of a place
}

// AskOf reads an address. What it cannot mean is shown as if it were not there.
func AskOf(q url.Values, h alarms.HousePicture, now time.Time) Ask {
	a := Ask{House: h, zoom: zoomOf(q.Get("zoom")), own: true}
	if at, err := time.Parse(untilLayout, q.Get("until")); err == nil && at.Before(now) && a.zoom.bounded() && at.Year() > 1970 {
		a.until = at
	}
	for _, p := range h.Places {
		if slices.Contains(q["place"], string(p.ID)) && len(a.Places) < mostPlaces {
			a.Places = append(a.Places, p.ID)
		}
	}
	return a
}

// LastDay asks for the day up to now of a house.
func LastDay(h alarms.HousePicture) Ask { return Ask{House: h, zoom: aDay} }

// Around asks for the day around a moment at a place, up to now where less has gone by
// since; with "" at the main one.
func Around(h alarms.HousePicture, place alarms.PlaceID, at, now time.Time) Ask {
	a := Ask{House: h, zoom: aDay, until: dayAfter(at, now)}
	if place != "" {
		a.Places = []alarms.PlaceID{place}
	}
	return a
}

// dayAfter is the end of the day around a moment; zero is now.
func dayAfter(at, now time.Time) time.Time {
	if until := at.Add(12 * time.Hour); until.Before(now) {
		return until
	}
	return time.Time{}
}

// UntilText is the end of the strip as an address has it, "" for now.
func (a Ask) UntilText() string {
	if a.until.IsZero() {
		return ""
	}
	return a.until.UTC().Format(untilLayout)
}

// Elsewhere is where the same time of another house is shown.
func (a Ask) Elsewhere(h alarms.HousePicture) string {
	return Ask{House: h}.address(a.zoom, a.until)
}

// mostPlaces bounds what one drawing costs.
const mostPlaces = 6

// address is where the same is shown with another zoom and end.
func (a Ask) address(z zoom, until time.Time) string {
	q := url.Values{"house": {string(a.House.ID)}, "zoom": {z.Key}}
	if !until.IsZero() && z.bounded() {
		q.Set("until", until.UTC().Format(untilLayout))
	}
	for _, p := range a.Places {
		q.Add("place", string(p))
	}
	return "/back?" + q.Encode()
}

// moved returns the end of the strip one length earlier or later; zero is now.
func (a Ask) moved(lengths int, end, now time.Time, w words.Words) time.Time {
	to := a.zoom.add(end.In(w.Zone), lengths)
	if !to.Before(now) {
		return time.Time{}
	}
	return to
}

// around is where the day around a moment is shown.
func (a Ask) around(at, now time.Time) string {
	return a.address(aDay, dayAfter(at, now))
}

// Link is one way to go on from a strip.
type Link struct {
	Words, Address string
	Chosen         bool
	Step           string // for the script: "earlier", "later", "now" or ""
}

// links are the ways to other times, and to other lengths about the same time.
func (a Ask) links(s report.Span, began, now time.Time, w words.Words) (moves, lengths []Link) {
	end := a.until
	if end.IsZero() {
		end = now
	}
	if a.zoom.bounded() {
		if began.IsZero() || s.From.After(began) {
			moves = append(moves, Link{w.Say("Earlier"), a.address(a.zoom, a.moved(-1, end, now, w)), false, "earlier"})
		}
		if !a.until.IsZero() {
			moves = append(moves, Link{w.Say("Later"), a.address(a.zoom, a.moved(1, end, now, w)), false, "later"},
				Link{w.Say("Up to now"), a.address(a.zoom, time.Time{}), false, "now"})
		}
	}
	middle := s.From.Add(min(s.To.Sub(s.From), end.Sub(s.From)) / 2)
	for _, z := range zooms {
		until := time.Time{}
		if !a.until.IsZero() {
			if until = z.halfAfter(middle); !until.Before(now) {
				until = time.Time{}
			}
		}
		lengths = append(lengths, Link{w.Say(z.Words), a.address(z, until), z.Key == a.zoom.Key, ""})
	}
	return moves, lengths
}

// dataMillis writes t for the script.
func dataMillis(t time.Time) string { return strconv.FormatInt(t.UnixMilli(), 10) }
