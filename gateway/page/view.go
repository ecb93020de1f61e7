package page

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/words"
)

type topView struct {
	Sentence string
	Mark     string // of the worst, as of a house
	Clock    string // of the watch
	Zone     string
	Link     string
	Newest   words.Ago
	Heard    bool
	Calm     bool     // no alarm is open
	Reached  bool     // the broker is
	Still    string   // the watch stands still since this clock time
	Away     []string // sentences, of people who are not at hand
	NoHand   bool     // nobody is at hand
}

func topViewOf(w words.Words, p alarms.Picture, now time.Time, still bool) topView {
	v := topView{Sentence: p.Sentence, Clock: w.ClockSeconds(now, now), Zone: now.In(w.Zone).Format("MST"),
		Newest: w.Ago(p.Newest, now), Heard: !p.Newest.IsZero(), Reached: p.Link}
	switch since := w.Clock(p.LinkSince, now); {
	case p.LinkSince.IsZero() && p.Link:
		v.Link = w.Say("Broker reached")
	case p.LinkSince.IsZero():
		v.Link = w.Say("Broker lost")
	case p.Link:
		v.Link = w.Say("Broker reached since %s", since)
	default:
		v.Link = w.Say("Broker lost since %s", since)
	}
	if still {
		v.Still = w.ClockSeconds(p.At, now)
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
	Newest   words.Ago
	Heard    bool
	Places   []placeView
	Loop     *loopView     // nil: none
	Section  *draw.Section // nil: it has no form
	Vents    *ventsView    // nil: they are not asked for
	ProbeSum string        // of its probes, in a few words
	ProbesAt string        // address of the page of probes, "": there is none
	Ahead    []placeSays   // of the day or the night
}

// placeSays is a sentence about one place.
type placeSays struct{ Place, Says string }

type placeView struct {
	Name      string
	Points    []draw.Reading
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
			out = append(out, exposureView{Anchor: words.Anchor(append([]string{"exposure"}, strings.Split(string(x.Alarm), "/")...)...), Words: x.Sentence, Source: x.Source, Reached: x.Reached})
		}
	}
	return out
}

func houseViewOf(w words.Words, h alarms.HousePicture, now time.Time) houseView {
	v := houseView{ID: h.ID, Anchor: words.Anchor("house", string(h.ID)), Name: h.Name, Sentence: h.Sentence,
		Facts: houseFacts(w, h), Season: h.Season, Seasons: otherSeasons(h.Season), InSeason: h.InSeason, Worst: h.Worst.String(), Newest: w.Ago(h.Newest, now), Heard: !h.Newest.IsZero()}
	live, beyond := false, false
	for _, pl := range h.Places {
		pv := placeView{Name: pl.Name, Exposures: exposures(pl)}
		for _, pt := range pl.Points {
			live = live || pt.HasValue && pt.Live
			beyond = beyond || pt.Level != alarms.Within
			pv.Points = append(pv.Points, draw.ReadingOf(w, h.ID, pl, pt, now))
		}
		v.Places = append(v.Places, pv)
	}
	v.Loop = loopOf(h)
	if h.Worst == alarms.NoPriority && (!live || beyond) {
		v.Worst = "unknown" // no alarm is no sign that all is well
	}
	return v
}

var seasonWords = map[alarms.Season]tongue.Text{
	alarms.SeasonOpen: "Season: open", alarms.SeasonChanging: "Season: changing over", alarms.SeasonWinter: "Season: winter"}

var daypartWords = map[alarms.Daypart]tongue.Text{alarms.Day: "day", alarms.Night: "night"}

func houseFacts(w words.Words, h alarms.HousePicture) string {
	facts := w.Say(seasonWords[h.Season])
	if facts == "" && h.Season != "" {
		facts = w.Say("Season: %s", h.Season)
	}
	if h.Daypart != alarms.Always {
		if facts != "" {
			facts += ", "
		}
		facts += w.Say(daypartWords[h.Daypart])
	}
	return facts
}

// faultWords are faults of probes, to follow a colon.
var faultWords = map[alarms.Fault]tongue.Text{
	alarms.FaultRange:    "it gives values its sensor cannot measure.",
	alarms.FaultValue:    "it gives the value of a broken or missing sensor.",
	alarms.FaultStuck:    "it has not changed for too long.",
	alarms.FaultSpikes:   "it jumps back and forth.",
	alarms.FaultPinned:   "humidity stays at the top of its scale.",
	alarms.FaultGarbled:  "it sends what cannot be read.",
	alarms.FaultOutlier:  "it is far from its neighbours.",
	alarms.FaultDisagree: "it disagrees with its neighbour.",
	alarms.FaultClock:    "its clock is wrong.",
	alarms.FaultBattery:  "it needs a new battery.",
	alarms.FaultSignal:   "its radio is weak.",
	alarms.FaultWitness:  "it doubted as the witness of its circuit.",
}

// houseView is a house on the front page, drawn where its form is known.
func (s *Server) houseView(w words.Words, h alarms.HousePicture, now time.Time) houseView {
	v := houseViewOf(w, h, now)
	vents := ventsOf(h)
	v.Vents = &vents
	v.ProbeSum = probeSum(w, h)
	if h.Daypart != alarms.Always {
		v.Sky = h.Daypart.String()
	}
	if s.tends() {
		v.ProbesAt = "/probes"
	}
	main := alarms.PlaceID("")
	if s.looksBack() {
		main = s.options.Course.MainPlace(h.ID)
	}
	v.Ahead = daysAhead(h, main)
	points := map[string]draw.Reading{}
	for _, pl := range v.Places {
		for _, pt := range pl.Points {
			points[pt.Anchor] = pt
		}
	}
	v.Section = draw.SectionOf(w, s.options.Forms, h, points)
	return v
}

// daysAhead says what the day, or the night, will likely bring to the main place,
// and to others where they are likely to reach a limit.
func daysAhead(h alarms.HousePicture, main alarms.PlaceID) (out []placeSays) {
	for i := range h.Places {
		p := &h.Places[i]
		if p.Outlook == nil {
			continue
		}
		if main == "" { // the first of which anything is expected
			main = p.ID
		}
		for _, d := range p.Outlook.Days {
			if d.Sentence != "" && (p.ID == main || d.Reaches != nil) {
				out = append(out, placeSays{words.Capital(p.Name), d.Sentence})
			}
		}
	}
	return out
}

// probeSum says in one line how the probes of a house are.
func probeSum(w words.Words, h alarms.HousePicture) string {
	all, ill, out := 0, 0, 0
	for _, pl := range h.Places {
		all += len(pl.Probes)
		for _, p := range pl.Probes {
			switch {
			case p.OutOf:
				out++
			case p.Silent || p.Heard.IsZero() || len(p.Faults) > 0:
				ill++
			}
		}
	}
	say := func(n int, one, many tongue.Text, of ...any) string {
		if n == 1 {
			return w.Say(one, of...)
		}
		return w.Say(many, append([]any{n}, of...)...)
	}
	switch {
	case all == 0:
		return ""
	case ill == 0 && out == 0:
		return say(all, "One probe watches, and it is heard.", "%d probes watch, and all are heard.")
	case ill == 0:
		return say(out, "One probe is out of service, of %d.", "%d probes are out of service, of %d.", all)
	case out == 0:
		return say(ill, "One probe needs a look, of %d.", "%d probes need a look, of %d.", all)
	}
	return say(ill, "One probe needs a look and %d out of service, of %d.", "%d probes need a look and %d out of service, of %d.", out, all)
}

// worstMark is the mark of the whole garden: what is worst of its houses and
// of the open alarms that are of none.
func worstMark(v *frontView) string {
	ranks := []string{"none", "unknown", "low", "medium", "high"}
	worst := 0
	take := func(mark string) { worst = max(worst, slices.Index(ranks, mark)) }
	for _, h := range v.Houses {
		take(h.Worst)
	}
	for _, a := range v.Alarms.Open {
		take(a.Priority)
	}
	if len(v.Houses) == 0 || !v.Top.Heard || !v.Top.Reached || v.Top.Still != "" {
		take("unknown")
	}
	return ranks[worst]
}
