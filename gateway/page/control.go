package page

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/words"
)

// controlView is what the thermostats of one house drive, and what people open and shut.
type controlView struct {
	Anchor    string
	House     alarms.HouseID
	Name      string // of the house
	Drives    []driveView
	Selectors []selectorView
	Openings  []openingView
	Figures   []placeSays // what the house was found to be like
	Hands     bool        // time in hand is said of a drive
	Any       bool        // there is something to show
}

type driveView struct {
	Anchor   string
	Name     string
	Shape    string // class: running, standing or unknown
	Guessed  bool   // what Shape says is only inferred
	Failing  bool
	Does     string
	Sentence string
	Facts    []string
	Hands    []placeSays // how long there is if it fails

	ID    alarms.DriveID
	Trial alarms.AlarmID // shelved while somebody tries something on it
	Tried string         // who does so until when; empty: nobody
	Tries []shelveChoice // for how long
}

// openingView is a door, a window or a lid.
type openingView struct {
	Anchor   string
	Name     string
	Shape    string // class: running (open), standing (shut) or unknown
	Guessed  bool   // never
	State    string
	Harms    bool // it should be shut now
	Sentence string
}

type selectorView struct {
	Anchor string
	Field  string // anchor of its form's field, another one for each position
	ID     alarms.SelectorID
	Name   string
	At     string
	Told   string   // how its position is known
	Others []string // positions it can be said to stand in
}

func controlOf(w words.Words, h alarms.HousePicture, now time.Time) controlView {
	v := controlView{Anchor: words.Anchor("house", string(h.ID)) + "-works", House: h.ID, Name: h.Name,
		Figures: figuresOf(h)}
	v.Any = len(h.Drives)+len(h.Selectors)+len(h.Openings)+len(v.Figures) > 0
	for _, d := range h.Drives {
		one := driveOf(w, h.ID, d)
		one.Hands = handsOf(h, d.ID)
		v.Hands = v.Hands || len(one.Hands) > 0
		if d.TrialBy != "" {
			one.Tried = w.Say("%s is trying something on it until %s", d.TrialBy, w.Clock(d.TrialUntil, now))
		}
		v.Drives = append(v.Drives, one)
	}
	for _, s := range h.Selectors {
		v.Selectors = append(v.Selectors, selectorOf(w, h.ID, s))
	}
	for _, o := range h.Openings {
		v.Openings = append(v.Openings, openingOf(w, h.ID, o))
	}
	return v
}

// handsOf says how long there is if a drive fails now: in each place until the
// limit that comes first.
func handsOf(h alarms.HousePicture, id alarms.DriveID) (out []placeSays) {
	for i := range h.Places {
		o := h.Places[i].Outlook
		if o == nil {
			continue
		}
		var first *alarms.DriveFailure
		for j := range o.Drives {
			if f := &o.Drives[j]; f.Drive == id && f.Sentence != "" && (first == nil || sooner(f, first)) {
				first = f
			}
		}
		if first != nil {
			out = append(out, placeSays{words.Capital(h.Places[i].Name), first.Sentence})
		}
	}
	return out
}

// sooner puts what comes before what does not, and before what is not known.
func sooner(a, b *alarms.DriveFailure) bool {
	rank := func(f *alarms.DriveFailure) int {
		switch {
		case !f.Known:
			return 2
		case f.Holds:
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a.Middle, b.Middle)) < 0
}

// figuresOf says what a house was found to be like, by its places.
func figuresOf(h alarms.HousePicture) (out []placeSays) {
	for i := range h.Places {
		if o := h.Places[i].Outlook; o != nil {
			for _, f := range o.Figure {
				if f.Sentence != "" {
					out = append(out, placeSays{words.Capital(h.Places[i].Name), f.Sentence})
				}
			}
		}
	}
	return out
}

// openingOf draws an open door like what runs, and a shut one like what stands.
var openingWords = map[string]tongue.Text{alarms.StateOpen: "open", alarms.StateShut: "shut|it is", alarms.StateUnknown: "not known"}

func openingOf(w words.Words, house alarms.HouseID, o alarms.OpeningPicture) openingView {
	shape := map[string]alarms.DriveState{alarms.StateOpen: alarms.DriveRunning, alarms.StateShut: alarms.DriveStanding}[o.State]
	return openingView{Anchor: words.Anchor("opening", string(house), string(o.ID)), Name: o.Name, State: w.Say(cmp.Or(openingWords[o.State], tongue.Text(o.State))), Harms: o.Harms,
		Shape: string(cmp.Or(shape, alarms.DriveUnknown)), Sentence: o.Sentence}
}

func driveOf(w words.Words, house alarms.HouseID, d alarms.DrivePicture) driveView {
	v := driveView{Anchor: words.Anchor("drive", string(house), string(d.ID)), Name: d.Name,
		Failing: d.Failing, Does: d.Does, Sentence: d.Sentence, ID: d.ID, Trial: d.Trial, Tries: tryChoices}
	v.Shape, v.Guessed = draw.DriveShape(d)
	if d.Call != "between" {
		say := callWords
		if d.Timed {
			say = timerWords
		}
		v.Facts = append(v.Facts, w.Say(say[d.Call]))
	}
	if d.Evidenced {
		v.Facts = append(v.Facts, ranToday(w, d))
	}
	if d.UsualDraw != "" {
		v.Facts = append(v.Facts, w.Say("Usually draws %s", d.UsualDraw))
	}
	return v
}

var callWords = map[string]tongue.Text{"called": "The thermostat asks for it", "not called": "The thermostat does not ask for it"}
var timerWords = map[string]tongue.Text{"called": "Its timer should have it on", "not called": "Its timer should have it off"}

// ranToday says how often and how long d ran today.
func ranToday(w words.Words, d alarms.DrivePicture) string {
	var ran, not tongue.Text = "Ran %s today", "Not run today"
	if d.Kind == alarms.IntakeShutter {
		ran, not = "Open %s today", "Not open today"
	}
	if d.RanToday == 0 {
		return w.Say(not)
	}
	starts := ""
	switch {
	case d.StartsToday == 1:
		starts = w.Say(", in one start")
	case d.StartsToday > 1:
		starts = w.Say(", in %d starts", d.StartsToday)
	}
	return w.Say(ran, w.Core.Span(d.RanToday)) + starts
}

// tellers are those who tell where a selector stands.
var tellers = map[string]tongue.Text{alarms.ToldByPerson: "a person", alarms.ToldByContact: "a contact", alarms.ToldBySeason: "the season"}

var toldWords = map[string]tongue.Text{
	alarms.ToldByPerson: "as a person said", alarms.ToldByContact: "as its contact tells", alarms.ToldBySeason: "by the season"}

func selectorOf(w words.Words, house alarms.HouseID, s alarms.SelectorPicture) selectorView {
	v := selectorView{Anchor: words.Anchor("selector", string(house), string(s.ID)), ID: s.ID, Name: s.Name, At: s.At, Told: w.Say(toldWords[s.Told]),
		Field: words.Anchor("selector", string(house), string(s.ID), s.At)}
	if s.Told == alarms.ToldByPerson {
		v.Others = slices.DeleteFunc(slices.Clone(s.Positions), func(p string) bool { return p == s.At })
	}
	return v
}

// tryChoices are for how long something may be tried on a drive.
var tryChoices = []shelveChoice{{"30m", "30 minutes"}, {"1h", "1 hour"}, {"2h", "2 hours"}, {"4h", "4 hours"}, {"8h", "8 hours"}, {"24h", "24 hours"}}

// try takes that somebody tries something on a drive.
func (s acts) try(w http.ResponseWriter, r *http.Request) error {
	long, err := time.ParseDuration(r.PostForm.Get("for"))
	if err != nil || !slices.ContainsFunc(tryChoices, func(c shelveChoice) bool { return c.Value == r.PostForm.Get("for") }) {
		return answer.Say(answer.Invalid, "Choose how long you will be trying it.")
	}
	for _, h := range s.watch.Picture().Houses {
		for _, d := range h.Drives {
			if string(h.ID) != r.PostForm.Get("house") || string(d.ID) != r.PostForm.Get("drive") {
				continue
			}
			return s.do(w, r, alarms.Input{Kind: alarms.Shelve, Alarm: d.Trial, Until: s.watch.Now().Add(long)}, "trying")
		}
	}
	return answer.Say(answer.Changed, "That drive is not there any more, so nothing was done.")
}

// setSelector takes where a person says that a selector switch stands.
func (s acts) setSelector(w http.ResponseWriter, r *http.Request) error {
	for _, h := range s.watch.Picture().Houses {
		for _, sel := range h.Selectors {
			if string(h.ID) == r.PostForm.Get("house") && string(sel.ID) == r.PostForm.Get("selector") {
				return s.turn(w, r, h.ID, sel)
			}
		}
	}
	return answer.Say(answer.Changed, "That switch is not there any more, so nothing was done.")
}

func (s acts) turn(w http.ResponseWriter, r *http.Request, house alarms.HouseID, sel alarms.SelectorPicture) error {
	to := r.PostForm.Get("position")
	if sel.Told != alarms.ToldByPerson {
		return answer.Say(answer.Invalid, "Where this switch stands is told by %s, so it cannot be set here.", tellers[sel.Told])
	}
	if !slices.Contains(sel.Positions, to) {
		return answer.Say(answer.Invalid, "Choose one of the positions of the switch.")
	}
	if sel.At == to { // somebody was quicker
		s.who(w, r)
		return s.done(w, r, "selector")
	}
	return s.do(w, r, alarms.Input{Kind: alarms.SetSelector, House: house, Selector: sel.ID, Position: to}, "selector")
}
