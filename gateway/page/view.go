package page

import (
	"fmt"
	"hash/fnv"
	"regexp"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// ago is a moment, written both ways: its age while the page is live, its
// clock time while it is not.
type ago struct{ Age, Clock string }

func (w words) ago(t, now time.Time) ago { return ago{Age: age(t, now), Clock: w.clockSeconds(t, now)} }

type topView struct {
	Sentence string
	Mark     string // of the worst, as of a house
	Clock    string // of the watch
	Zone     string
	Link     string
	Newest   ago
	Heard    bool
	Calm     bool   // no alarm is open
	Reached  bool   // the broker is
	Still    string // the watch stands still since this clock time
}

func (w words) top(p alarms.Picture, now time.Time, still bool) topView {
	v := topView{Sentence: p.Sentence, Clock: w.clockSeconds(now, now), Zone: now.In(w.zone).Format("MST"),
		Newest: w.ago(p.Newest, now), Heard: !p.Newest.IsZero(), Reached: p.Link}
	v.Link = "Broker lost"
	if p.Link {
		v.Link = "Broker reached"
	}
	if !p.LinkSince.IsZero() {
		v.Link += " since " + w.clock(p.LinkSince, now)
	}
	if still {
		v.Still = w.clockSeconds(p.At, now)
	}
	return v
}

type houseView struct {
	ID       alarms.HouseID
	Anchor   string
	Name     string
	Sentence string
	Facts    string // season and daypart
	Sky      string // "day", "night" or "": not known
	Season   alarms.Season
	Seasons  []seasonChoice // the others
	InSeason []string       // what this season takes out, and why
	Worst    string
	Newest   ago
	Heard    bool
	Places   []placeView
	Probes   []probeView
	Loop     *loopView    // nil: none
	Section  *sectionView // nil: it has no form
	Vents    *ventsView   // nil: they are not asked for
	ProbeSum string       // of its probes, in a few words
	ProbesAt string       // address of the page of probes, "": there is none
	Token    string       // as in alarmsView
}

type placeView struct {
	Name      string
	Points    []pointView
	Exposures []exposureView
}

// exposureView is for how long a place has been beyond a limit.
type exposureView struct {
	Anchor  string
	Words   string
	Source  string // of the rule
	Reached bool   // so long that it does harm
}

// exposures lists what a place has been exposed to at all.
func exposures(pl alarms.PlacePicture) []exposureView {
	var out []exposureView
	for _, x := range pl.Exposures {
		if x.Any() || x.Reached {
			out = append(out, exposureView{Anchor: anchor(append([]string{"exposure"}, strings.Split(string(x.Alarm), "/")...)...), Words: x.Sentence, Source: x.Source, Reached: x.Reached})
		}
	}
	return out
}

type pointView struct {
	Anchor   string
	Name     string // of the quantity
	Value    string
	Unit     string
	Standing standing
	Trend    string
	Live     bool
	At       ago
	Old      string // why the value is not of now
	Strip    *strip
}

func (w words) house(h alarms.HousePicture, now time.Time) houseView {
	v := houseView{ID: h.ID, Anchor: anchor("house", string(h.ID)), Name: h.Name, Sentence: h.Sentence,
		Facts: houseFacts(h), Season: h.Season, Seasons: otherSeasons(h.Season), InSeason: h.InSeason, Worst: h.Worst.String(), Newest: w.ago(h.Newest, now), Heard: !h.Newest.IsZero()}
	live, beyond := false, false
	for _, pl := range h.Places {
		pv := placeView{Name: pl.Name, Exposures: exposures(pl)}
		for _, pt := range pl.Points {
			live = live || pt.HasValue && pt.Live
			beyond = beyond || pt.Level != alarms.Within
			pv.Points = append(pv.Points, w.point(h.ID, pl, pt, now))
		}
		v.Places = append(v.Places, pv)
		for _, pr := range pl.Probes {
			v.Probes = append(v.Probes, w.probe(pl.Name, pr, now))
		}
	}
	v.Loop = loopOf(h)
	if h.Worst == alarms.NoPriority && (!live || beyond) {
		v.Worst = "unknown" // no alarm is no sign that all is well
	}
	return v
}

var seasonWords = map[alarms.Season]string{
	alarms.SeasonOpen: "Season: open", alarms.SeasonChanging: "Season: changing over", alarms.SeasonWinter: "Season: winter"}

func houseFacts(h alarms.HousePicture) string {
	facts := seasonWords[h.Season]
	if facts == "" && h.Season != "" {
		facts = "Season: " + string(h.Season)
	}
	if h.Daypart != alarms.Always {
		if facts != "" {
			facts += ", "
		}
		facts += h.Daypart.String()
	}
	return facts
}

func (w words) point(house alarms.HouseID, pl alarms.PlacePicture, p alarms.PointPicture, now time.Time) pointView {
	st := w.stand(p)
	if !anyLimit(p.Limits) && slices.ContainsFunc(pl.Exposures, func(x alarms.ExposurePicture) bool { return x.Quantity == p.Quantity }) {
		st.Words += "; hours beyond a limit are counted"
	}
	v := pointView{
		Anchor: anchor("point", string(house), string(pl.ID), string(p.Quantity)),
		Name:   p.Quantity.Word(), Standing: st, Live: p.HasValue && p.Live, At: w.ago(p.At, now),
	}
	if p.HasValue {
		v.Value, v.Unit = w.parts(p.Quantity, p.Value)
		if p.Shows != "" { // "closed" of a contact is easily taken for its shutter
			v.Value = saysIt(p.Shows)
		}
	}
	if p.HasValue && !p.Live {
		v.Old = "last known " + w.clock(p.At, now) + ", " + age(p.At, now)
		if p.Retained {
			v.Old = "a stored value, received " + w.clock(p.At, now) + "; when it was measured is not known"
		}
	}
	if v.Live && p.Rate != nil {
		v.Trend = w.trend(p.Quantity, *p.Rate)
	}
	v.Strip = stripOf(p, st, pl.Name+", "+v.Name+": "+st.Words)
	return v
}

// saysIt is what a contact says of its drive, to follow its name.
func saysIt(shows string) string { return "says it " + shows }

// trend writes a rate per hour as the core's sentences do.
func (w words) trend(q alarms.Quantity, perHour float64) string {
	return strings.ReplaceAll(w.manner.text(w.core.Course(q, perHour)), " °", noBreak+"°")
}

type probeView struct {
	ID          alarms.ProbeID
	Anchor      string
	Out         bool // of service
	Name, Place string
	Heard       ago
	Ever        bool
	Interval    string
	State       string // "", "silent", "out of service"
	Faults      []string
	Battery     string
	Signal      string
	Counts      string
}

func (w words) probe(place string, p alarms.ProbePicture, now time.Time) probeView {
	v := probeView{ID: p.ID, Anchor: anchor("probe", string(p.ID)), Out: p.OutOf, Name: p.Name, Place: place, Heard: w.ago(p.Heard, now), Ever: !p.Heard.IsZero(),
		Interval: "interval not known yet",
		Counts:   fmt.Sprintf("%d readings taken, %d refused, %d unreadable", p.Readings, p.Refused, p.Garbled)}
	if p.Interval > 0 {
		v.Interval = "every " + alarms.Span(p.Interval)
		if p.Learned {
			v.Interval = "about every " + alarms.Span(p.Interval) + ", learned"
		}
	}
	switch {
	case p.OutOf:
		v.State = "out of service"
	case p.Silent:
		v.State = "silent"
	}
	for _, f := range p.Faults {
		v.Faults = append(v.Faults, faultWord(f))
	}
	if p.Battery != nil {
		v.Battery = "battery " + w.value(alarms.Battery, *p.Battery)
	}
	if p.Signal != nil {
		v.Signal = "signal " + w.value(alarms.Signal, *p.Signal)
	}
	return v
}

var faultWords = map[alarms.Fault]string{
	alarms.FaultRange:    "gives values its sensor cannot measure",
	alarms.FaultValue:    "gives the value of a broken or missing sensor",
	alarms.FaultStuck:    "has not changed for too long",
	alarms.FaultSpikes:   "jumps back and forth",
	alarms.FaultPinned:   "humidity stays at the top of its scale",
	alarms.FaultGarbled:  "sends what cannot be read",
	alarms.FaultOutlier:  "is far from its neighbours",
	alarms.FaultDisagree: "disagrees with its neighbour",
	alarms.FaultClock:    "its clock is wrong",
	alarms.FaultBattery:  "needs a new battery",
	alarms.FaultSignal:   "its radio is weak",
	alarms.FaultWitness:  "doubted as the witness of its circuit",
}

func faultWord(f alarms.Fault) string {
	if s, ok := faultWords[f]; ok {
		return s
	}
	return string(f)
}

var plainID = regexp.MustCompile(`^[a-z0-9-]+$`)

// anchor makes an element ID of names; odd names are hashed.
func anchor(parts ...string) string {
	id := ""
	for i, p := range parts {
		if !plainID.MatchString(p) {
			h := fnv.New64a()
			_, _ = h.Write([]byte(p)) // never fails
			p = fmt.Sprintf("x%x", h.Sum64())
		}
		if i > 0 {
			id += "_"
		}
		id += p
	}
	return id
}
