package page

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"

	"telltale/alarms"
	"telltale/alarms/crop"
)

// firstWarning is what every page says while the set-up is not done, or nobody
// is told.
type firstWarning struct {
	Unwatched, MayAct bool
	Untold, Why       string // of what nobody is told, and why
}

// firstView is the list of what arrives.
type firstView struct {
	frame
	Status  string
	Waiting bool // nothing has come yet
	Broker  string
	Near    bool // only this machine reaches it
	File    string
	Watches bool
	Topics  []topicView
	Further string
}

// topicView is one topic that arrived.
type topicView struct {
	ID, Topic, Link string
	Facts           []string
	Payload         string
	Seems           string
	Probes          string // that read it already
}

func (w words) topicView(a Arrival, now time.Time) topicView {
	v := topicView{ID: anchor("topic", a.Topic), Topic: a.Topic, Link: topicLink(a.Topic, 0), Payload: a.Payload,
		Probes: strings.Join(a.Probes, ", ")}
	if len(a.Probes) == 0 {
		v.Seems = a.Seems
	}
	switch {
	case a.Retained:
		v.Facts = append(v.Facts, "kept by the broker, nothing new so far")
	case a.Count == 1:
		v.Facts = append(v.Facts, "one message, "+age(a.Last, now))
	default:
		v.Facts = append(v.Facts, fmt.Sprintf("%d messages, the newest %s", a.Count, age(a.Last, now)))
	}
	if a.Every > 0 {
		v.Facts = append(v.Facts, "about every "+alarms.Span(max(a.Every.Round(time.Second), time.Second)))
	}
	if a.Binary {
		v.Facts = append(v.Facts, fmt.Sprintf("%d bytes, not text", a.Size))
	}
	return v
}

func topicLink(topic string, part int) string {
	q := url.Values{"topic": {topic}}
	if part > 0 {
		q.Set("part", fmt.Sprint(part))
	}
	return "/first/topic?" + q.Encode()
}

// optionView is one choice of a list.
type optionView struct {
	Value, Words string
	Chosen       bool
}

// spotView is one value of a payload with the ways to read it.
type spotView struct {
	ID, Where, Sent, Sure, Why, Ask string
	Options                         []optionView
}

// sureWords say how far a proposal can be trusted.
var sureWords = map[string]string{"sure": "Sure", "likely": "Likely", "unsure": "Please check"}

func (w words) spotView(n int, s Spot, chosen []WishRead, posted bool) spotView {
	v := spotView{ID: fmt.Sprintf("read-%d", n), Where: s.Where, Sent: s.Sent, Why: s.Why, Ask: s.Ask}
	if s.Use >= 0 {
		v.Sure = sureWords[s.Sure]
	}
	use := ""
	if !posted && s.Use >= 0 {
		use = s.Choices[s.Use].Read.encode()
	}
	var own *WishRead
	for i := range chosen {
		if len(s.Choices) > 0 && chosen[i].samePlace(s.Choices[0].Read) {
			own, use = &chosen[i], chosen[i].encode()
		}
	}
	v.Options = append(v.Options, optionView{"", "leave it out", use == ""})
	found := use == ""
	for _, c := range s.Choices {
		value := c.Read.encode()
		v.Options = append(v.Options, optionView{value, w.choice(c), value == use})
		found = found || value == use
	}
	if !found && own != nil { // the payload has changed since it was chosen
		v.Options = append(v.Options, optionView{use, own.words(), true})
	}
	return v
}

// choice says how a value is read and what that gives.
func (w words) choice(c SpotChoice) string {
	return c.Read.words() + ": " + strings.ReplaceAll(w.value(c.Read.Quantity, c.Value), noBreak, " ")
}

func (r WishRead) words() string {
	said := string(r.Quantity)
	switch {
	case r.Inverted:
		said += ", the other way round"
	case r.Unit == "ratio":
		said += ", sent as a ratio"
	case r.Unit != "":
		said += ", sent in " + r.Unit
	}
	switch r.Factor {
	case 0.1:
		said += ", sent in tenths"
	case 0.01:
		said += ", sent in hundredths"
	}
	return said
}

// chosen are the words in the degrees that the form chose for the garden.
func (w words) chosen(degrees string) words {
	if degrees != "" {
		m := w.manner
		m.fahrenheit = degrees == "°F"
		return w.in(m)
	}
	return w
}

// holdsView is what is told of at a place, with its sources.
type holdsView struct {
	Name, Words string // of the crop, "" for none
	Figures     []string
	Sources     []string
	Advice      []string // of the crop, told to nobody
	Trust       string   // how far the figures of the crop can be trusted
}

// holds lists what a plan has told of a place.
func (w words) holds(cropName string, p *alarms.Place) holdsView {
	v := holdsView{}
	if c, ok := crop.Lookup(cropName); ok {
		v.Name, v.Words, v.Trust = c.Name, c.Plain, c.Trust()
		for _, a := range c.Advice {
			v.Advice = append(v.Advice, w.manner.text(w.advised(a)))
		}
	}
	for _, h := range p.Holdings(w.core) {
		v.Figures = append(v.Figures, w.manner.text(h.Says))
		for _, source := range strings.Split(h.Source, "; ") {
			if source != "" && !slices.Contains(v.Sources, source) {
				v.Sources = append(v.Sources, source)
			}
		}
	}
	return v
}

// advised writes a bound within which a crop does well.
func (w words) advised(a crop.Advice) string {
	q := map[crop.Unit]alarms.Quantity{crop.Celsius: alarms.Temperature, crop.Percent: alarms.Humidity, crop.Kilopascal: alarms.VPD}[a.Figure.Unit]
	bound := " at least "
	if a.AtMost {
		bound = " at most "
	}
	return a.Of + bound + w.core.Value(q, a.Figure.Value)
}

// cropViews are all crops in the order of their names.
func (w words) cropViews(all []CropPlace) []holdsView {
	var out []holdsView
	for i := range all {
		out = append(out, w.holds(all[i].Crop, &all[i].Place))
	}
	return out
}

// probeNow is what the watch knows of a probe that was just set up.
type probeNow struct {
	Known   bool
	Watched bool // a live reading has been taken
	Name    string
	Place   string
	Values  []string
	Age     string
	Faults  []string
}

func (w words) probeNow(p alarms.Picture, id alarms.ProbeID, now time.Time) probeNow {
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				if pr.ID != id {
					continue
				}
				n := probeNow{Known: true, Watched: pr.Readings > 0, Name: pr.Name, Place: h.Name + ", " + pl.Name, Age: age(pr.Heard, now)}
				for _, f := range pr.Faults {
					n.Faults = append(n.Faults, string(f))
				}
				for _, pt := range pl.Points {
					if pt.Probe == id && pt.Live && !pt.Quantity.Derived() {
						n.Values = append(n.Values, string(pt.Quantity)+" "+w.value(pt.Quantity, pt.Value))
					}
				}
				return n
			}
		}
	}
	return probeNow{Name: string(id)}
}

// visible shows each sign in text from strangers that cannot be seen, among
// them those that turn the direction of what follows.
func visible(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) || r == '\t' {
			return r
		}
		return unicode.ReplacementChar
	}, text)
}
