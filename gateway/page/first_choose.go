package page

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/decode"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/words"
)

// firstForm is the page on which somebody chooses how a topic is watched.
type firstForm struct {
	frame
	values   url.Values
	Problems []formProblem
	Topic    string
	Why      string // there is no proposal
	Part     int
	Parts    []optionView
	Measured string
	Spots    []spotView
	Wheres   []optionView
	Garden   Garden
	Crops    []holdsView
	Limits   []limitsView
	Degrees  []optionView
	Security []optionView
}

type limitsView struct {
	Quantity, Unit string
	Fields         []fieldView
}

type fieldView struct{ Name, Words string }

// Field is what stands in a field.
func (f firstForm) Field(name string) string { return f.values.Get(name) }

// Wrong is what is wrong with a field.
func (f firstForm) Wrong(name string) string {
	for _, p := range f.Problems {
		if p.Field == name {
			return p.Say
		}
	}
	return ""
}

func (s setup) firstTopic(w http.ResponseWriter, r *http.Request) error {
	return s.showFirstForm(w, r, http.StatusOK, r.URL.Query(), nil, false)
}

func (s setup) firstChange(w http.ResponseWriter, r *http.Request) error {
	return s.showFirstForm(w, r, http.StatusOK, r.PostForm, nil, true)
}

// showFirstForm shows the form with the values given, or with those proposed.
func (s setup) showFirstForm(w http.ResponseWriter, r *http.Request, status int, v url.Values, problems []formProblem, posted bool) error {
	topic := v.Get("topic")
	if topic == "" || len(topic) > 512 {
		return answer.Say(answer.Invalid, "Choose a topic first.")
	}
	garden, err := s.options.First.Garden()
	if err != nil {
		return &answer.Error{Kind: answer.Away, Say: "The configuration cannot be read. %s", Args: []any{err}, Err: err}
	}
	say := inChosenDegrees(s.wordsOf(r), v.Get("degrees"))
	f := firstForm{frame: s.frame(r, "Set up %s", answer.Tidy(topic, 60)), values: v, Problems: problems, Topic: topic, Garden: garden,
		Crops: cropViews(say, s.options.First.Crops())}
	ps, why := s.options.First.Proposals(topic)
	f.Part, _ = strconv.Atoi(v.Get("part"))
	f.Part = max(0, min(f.Part, len(ps)-1))
	f.Why = say.Core.Kept(why, time.Time{})
	var reads []decode.Read
	if len(ps) > 0 {
		reads = f.propose(say, ps, posted)
	}
	f.Limits = limitsViews(say, garden, reads)
	if !posted {
		f.defaults(garden, say.Fahrenheit)
	}
	f.Wheres = wheres(say, garden, f.Field("where"))
	f.Degrees = options(f.Field("degrees"), "°C", "°F")
	f.Security = options(f.Field("security"), "starttls", "tls", "none")
	return s.render(w, r, status, "first-topic", f)
}

// propose shows how the payload can be read, and returns how it is by the form.
func (f *firstForm) propose(w words.Words, ps []decode.Proposal, posted bool) (reads []decode.Read) {
	p := ps[f.Part]
	chosen := (&wishForm{v: f.values, w: w}).reads()
	reads = slices.Clone(chosen)
	for i, spot := range p.Spots {
		if !posted && spot.Use >= 0 {
			reads = append(reads, spot.Choices[spot.Use].Read)
		}
		f.Spots = append(f.Spots, spotViewOf(w, i, spot, chosen, posted))
	}
	if !p.Measured.IsZero() {
		f.Measured = w.ClockSeconds(p.Measured, p.Measured)
	}
	f.values.Set("form", string(p.Form))
	f.values.Set("time-from", p.Clock.At)
	f.values.Set("time-unit", string(p.Clock.Unit))
	for i, one := range ps {
		if len(ps) > 1 {
			f.Parts = append(f.Parts, optionView{topicLink(f.Topic, i), one.Of + ": " + w.Core.Kept(one.Measures(), p.Measured), i == f.Part})
		}
	}
	return reads
}

// defaults fills in what is likely.
func (f *firstForm) defaults(g Garden, fahrenheit bool) {
	f.values.Set("probe", probeName(f.Topic))
	f.values.Set("where", "/")
	if len(g.Houses) > 0 {
		f.values.Set("where", g.Houses[0].ID+"/")
	}
	f.values.Set("degrees", "°C")
	if fahrenheit {
		f.values.Set("degrees", "°F")
	}
	f.values.Set("tell", "nobody")
	f.values.Set("security", "starttls")
}

// probeName is the last level of a topic that does not name a quantity.
func probeName(topic string) string {
	levels := strings.Split(strings.Trim(topic, "/"), "/")
	for i := len(levels) - 1; i >= 0; i-- {
		if l := strings.ToLower(levels[i]); l != "" && !alarms.Quantity(l).Known() && !slices.Contains([]string{"state", "status", "value", "data", "temp", "climate"}, l) {
			return answer.Tidy(strings.ReplaceAll(levels[i], "_", " "), 40)
		}
	}
	return "probe 1"
}

// wheres are the places that a probe may hang at.
func wheres(w words.Words, g Garden, chosen string) []optionView {
	var out []optionView
	for _, h := range g.Houses {
		for _, p := range h.Places {
			said := h.Name + ", " + p.Name
			if p.Crop != "" {
				said += " (" + p.Crop + ")"
			}
			out = append(out, optionView{Value: h.ID + "/" + p.ID, Words: said})
		}
		out = append(out, optionView{Value: h.ID + "/", Words: w.Say("a new place in %s", h.Name)})
	}
	out = append(out, optionView{Value: "/", Words: w.Say("a new house")})
	for i := range out {
		out[i].Chosen = out[i].Value == chosen
	}
	return out
}

func options(chosen string, values ...string) []optionView {
	return walk.Each(values, func(v string) optionView { return optionView{v, v, v == chosen} })
}

// limitsViews are the fields for limits of the air's quantities, and of what else is
// read.
func limitsViews(w words.Words, g Garden, reads []decode.Read) []limitsView {
	var out []limitsView
	for _, q := range limited {
		air := q == alarms.Temperature || q == alarms.Humidity
		if !air && !slices.ContainsFunc(reads, func(r decode.Read) bool { return r.Quantity == q }) {
			continue
		}
		v := limitsView{Quantity: string(q), Unit: q.Facts().Unit}
		if q.Absolute() {
			v.Unit = w.Say("in the degrees chosen above")
			if g.Watches {
				v.Unit = map[bool]string{false: "°C", true: "°F"}[g.Fahrenheit]
			}
		}
		for _, l := range alarms.LimitNames {
			v.Fields = append(v.Fields, fieldView{limitField(q, l), l})
		}
		out = append(out, v)
	}
	return out
}
