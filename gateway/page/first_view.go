package page

import (
	"fmt"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"

	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/decode"
	"telltale/gateway/loopback"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/words"
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
	Garden  Garden
	Typed   string // name of a new probe
	Wrong   string // with it
	Look    string // address of the list of what arrives
	File    string
	Watches bool
	Topics  []topicView
	Further string
	Trust   bool // there is a page for that
}

// given is what a visitor types into a probe, or lets it read.
type given struct {
	frame
	ProbeAccount
	Address, URL, Line string
	Near               bool // only this machine reaches it
	QR                 draw.QR
	List               firstView // what arrives from it
}

// givenTo says how the visitor of r, by whose way in the probe finds the broker too,
// types an account into a probe.
func givenTo(r *http.Request, a ProbeAccount) (g given, err error) {
	g.ProbeAccount, g.Address = a, a.Host
	if at, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr); ok && g.Address == "" {
		g.Address = at.AddrPort().Addr().Unmap().WithZone("").String()
	}
	g.Near = loopback.Host(g.Address)
	u := url.URL{Scheme: "mqtt", User: url.UserPassword(a.User, a.Password), Host: net.JoinHostPort(g.Address, a.Port), Path: "/" + a.Topic}
	if a.TLS {
		u.Scheme = "mqtts"
	}
	g.URL = u.String()
	g.Line = "mosquitto_pub -L '" + g.URL + "' -m 21.4"
	g.QR, err = draw.NewQR(g.URL)
	return g, err
}

// topicView is one topic that arrived.
type topicView struct {
	ID, Topic, Link string
	Facts           []string
	Payload         string
	Seems           string
	Probes          string // that read it already
}

func topicViewOf(w words.Words, a Arrival, now time.Time) topicView {
	v := topicView{ID: words.Anchor("topic", a.Topic), Topic: a.Topic, Link: topicLink(a.Topic, 0), Payload: a.Payload,
		Probes: strings.Join(a.Probes, ", ")}
	if len(a.Probes) == 0 {
		v.Seems = w.Core.Kept(a.Seems, now)
	}
	switch {
	case a.Retained:
		v.Facts = append(v.Facts, w.Say("kept by the broker, nothing new so far"))
	case a.Count == 1:
		v.Facts = append(v.Facts, w.Say("one message, %s", w.Age(a.Last, now)))
	default:
		v.Facts = append(v.Facts, w.Say("%d messages, the newest %s", a.Count, w.Age(a.Last, now)))
	}
	if a.Every > 0 {
		v.Facts = append(v.Facts, w.Say("about every %s", w.Core.Span(max(a.Every.Round(time.Second), time.Second))))
	}
	if a.Binary {
		v.Facts = append(v.Facts, w.Say("%d bytes, not text", a.Size))
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
var sureWords = map[decode.Sure]tongue.Text{decode.Certain: "Sure", decode.Likely: "Likely", decode.Unsure: "Please check"}

func spotViewOf(w words.Words, n int, s decode.Spot, chosen []decode.Read, posted bool) spotView {
	v := spotView{ID: fmt.Sprintf("read-%d", n), Where: s.Where, Sent: s.Sent, Why: w.Core.Kept(s.Why, time.Time{}), Ask: w.Core.Kept(s.Ask, time.Time{})}
	if s.Use >= 0 {
		v.Sure = w.Say(sureWords[s.Sure])
	}
	use := ""
	if !posted && s.Use >= 0 {
		use = encodeRead(s.Choices[s.Use].Read)
	}
	var own *decode.Read
	for i := range chosen {
		if len(s.Choices) > 0 && samePlace(chosen[i], s.Choices[0].Read) {
			own, use = &chosen[i], encodeRead(chosen[i])
		}
	}
	v.Options = append(v.Options, optionView{"", w.Say("leave it out"), use == ""})
	found := use == ""
	for _, c := range s.Choices {
		value := encodeRead(c.Read)
		v.Options = append(v.Options, optionView{value, choiceWords(w, c), value == use})
		found = found || value == use
	}
	if !found && own != nil { // the payload has changed since it was chosen
		v.Options = append(v.Options, optionView{use, readWords(w, *own), true})
	}
	return v
}

// choiceWords says how a value is read and what that gives.
func choiceWords(w words.Words, c decode.Choice) string {
	return readWords(w, c.Read) + ": " + strings.ReplaceAll(w.Value(c.Read.Quantity, c.Value), words.NoBreak, " ")
}

func readWords(w words.Words, r decode.Read) string {
	said := w.Say(decode.NameOf(r.Quantity))
	switch {
	case r.Inverted:
		said += w.Say(", the other way round")
	case r.Unit == "ratio":
		said += w.Say(", sent as a ratio")
	case r.Unit != "":
		said += w.Say(", sent in %s", r.Unit)
	}
	switch r.Factor {
	case 0.1:
		said += w.Say(", sent in tenths")
	case 0.01:
		said += w.Say(", sent in hundredths")
	}
	return said
}

// inChosenDegrees are the words in the degrees that the form chose for the garden.
func inChosenDegrees(w words.Words, degrees string) words.Words {
	if degrees != "" {
		w.Locale.Fahrenheit = degrees == "°F"
	}
	return w.In(w.Locale)
}

// holdsView is what is told of at a place, with its sources.
type holdsView struct {
	Name, Words string // of the crop, "" for none
	Figures     []string
	Sources     []string
	Advice      []string // of the crop, told to nobody
	Trust       string   // how far the figures of the crop can be trusted
}

// holdsOf lists what a plan has told of a place.
func holdsOf(w words.Words, cropName string, p *alarms.Place) holdsView {
	v := holdsView{}
	if c, ok := crop.Lookup(cropName); ok {
		v.Name, v.Words, v.Trust = c.Name, c.Plain, c.Trust()
		for _, a := range c.Advice {
			v.Advice = append(v.Advice, w.Text(advisedWords(w, a)))
		}
	}
	for _, h := range say.Holdings(p, w.Core) {
		v.Figures = append(v.Figures, h.Says)
		for _, source := range strings.Split(h.Source, "; ") {
			if source != "" && !slices.Contains(v.Sources, source) {
				v.Sources = append(v.Sources, source)
			}
		}
	}
	return v
}

// advisedWords writes a bound within which a crop does well.
func advisedWords(w words.Words, a crop.Advice) string {
	q := map[crop.Unit]alarms.Quantity{crop.Celsius: alarms.Temperature, crop.Percent: alarms.Humidity, crop.Kilopascal: alarms.VPD}[a.Figure.Unit]
	if a.AtMost {
		return w.Say("%s at most %s", a.Of, w.Core.Value(q, a.Figure.Value))
	}
	return w.Say("%s at least %s", a.Of, w.Core.Value(q, a.Figure.Value))
}

// cropViews are all crops in the order of their names.
func cropViews(w words.Words, all []CropPlace) []holdsView {
	var out []holdsView
	for i := range all {
		out = append(out, holdsOf(w, all[i].Crop, &all[i].Place))
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

func probeNowOf(w words.Words, p alarms.Picture, id alarms.ProbeID, now time.Time) probeNow {
	h, pl, pr, ok := placeOf(p, string(id))
	if !ok {
		return probeNow{Name: string(id)}
	}
	n := probeNow{Known: true, Watched: pr.Readings > 0, Name: pr.Name, Place: h.Name + ", " + pl.Name, Age: w.Age(pr.Heard, now)}
	for _, f := range pr.Faults {
		n.Faults = append(n.Faults, string(f))
	}
	for _, pt := range pl.Points {
		if pt.Probe == id && pt.Live && !pt.Quantity.Derived() {
			n.Values = append(n.Values, string(pt.Quantity)+" "+w.Value(pt.Quantity, pt.Value))
		}
	}
	return n
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
