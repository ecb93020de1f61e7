package offline

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"telltale/alarms"
	"telltale/alarms/score"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/record"
)

// byConfig reads what the config's probes measure.
func (r *Recording) byConfig(o ReplayOptions) error {
	r.Plan = o.Config.Plan
	r.fan = score.FanOf(&r.Plan)
	known := map[alarms.ProbeID]*alarms.Probe{}
	var names []string
	for i := range r.Plan.Houses {
		for j := range r.Plan.Houses[i].Places {
			for k := range r.Plan.Houses[i].Places[j].Probes {
				p := &r.Plan.Houses[i].Places[j].Probes[k]
				known[p.ID], names = p, append(names, string(p.ID))
			}
		}
	}
	slices.Sort(names)
	var errs []error
	for _, c := range o.Columns {
		switch p := known[c.Probe]; {
		case p == nil:
			errs = append(errs, fmt.Errorf("column %q: the config has no probe %q%s", c.Header, c.Probe, config.OrList(string(c.Probe), names, "probes")))
		case !p.Gives(c.Quantity):
			errs = append(errs, fmt.Errorf("column %q: the probe %s does not measure %s%s", c.Header, c.Probe, c.Quantity, config.OrList(string(c.Quantity), walk.Each(p.Streams, func(s alarms.Stream) string { return string(s.Quantity) }), "it measures")))
		}
	}
	if err := errors.Join(errs...); err != nil {
		return asked{err}
	}
	if len(o.Columns) > 0 {
		return r.named(o)
	}
	for _, t := range r.tapes {
		if t.lines != nil {
			continue
		}
		for i, w := range weighAll(t, o) {
			t.said = append(t.said, t.ofConfig(i, w, known))
		}
		t.want()
		if !t.used() {
			return fmt.Errorf("%s: none of its columns is named like a probe of the config: say for each that is wanted --column HEADER=PROBE/QUANTITY. The columns are %s, the probes %s",
				t.name, seriesNames(t), strings.Join(names, ", "))
		}
	}
	return nil
}

// ofConfig gives a series to the probe that it is named after.
func (t *tape) ofConfig(i int, w weighed, known map[alarms.ProbeID]*alarms.Probe) string {
	s := &t.table.Series[i]
	words := record.Words(s.Key + " " + s.Header)
	var of []string
	for id, p := range known {
		if w.spot.Use >= 0 && p.Gives(w.quantity()) && (contains(words, record.Words(string(id))) || p.Name != "" && contains(words, record.Words(p.Name))) {
			of = append(of, string(id))
		}
	}
	slices.SortFunc(of, func(a, b string) int { return len(b) - len(a) }) // bench-10 before bench-1
	if len(of) == 0 || len(of) > 1 && len(of[0]) == len(of[1]) {
		return fmt.Sprintf("  %q is ignored: no probe of the config is called so and measures such; --column says otherwise.", s.Name())
	}
	if err := t.take(i, alarms.ProbeID(of[0]), w.spot.Choices[w.spot.Use].Read, false); err != nil {
		return fmt.Sprintf("  %q is ignored: %v.", s.Name(), err)
	}
	return fmt.Sprintf("  %q is %s of %s. %s", s.Name(), w.words(), of[0], w.spot.Why)
}

func contains(words, all []string) bool {
	for _, w := range all {
		if !slices.Contains(words, w) {
			return false
		}
	}
	return len(all) > 0
}

// named reads the columns that were named, each in the files that have it.
func (r *Recording) named(o ReplayOptions) error {
	var errs []error
	for _, c := range o.Columns {
		found := false
		for _, t := range r.tapes {
			if t.lines != nil {
				continue
			}
			for i := range t.table.Series {
				s := &t.table.Series[i]
				if !slices.Contains([]string{s.Header, s.Key, s.Name()}, c.Header) {
					continue
				}
				found = true
				if err := t.column(i, c, o); err != nil {
					errs = append(errs, fmt.Errorf("%s: %w", t.name, err))
				}
			}
		}
		if !found {
			for _, t := range r.tapes {
				errs = append(errs, asked{fmt.Errorf("%s: there is no column %q%s", t.name, c.Header, cmp.Or(config.Meant(c.Header, headers(t)).Error(), "; it has "+seriesNames(t)))})
			}
		}
	}
	for _, t := range r.tapes {
		if t.lines == nil {
			t.want()
		}
	}
	return errors.Join(errs...)
}

// column reads a series as --column says; a unit that it does not state is
// guessed.
func (t *tape) column(i int, c Column, o ReplayOptions) error {
	w := weighed{spot: decode.Spot{Choices: []decode.Choice{{Read: decode.Read{Quantity: c.Quantity, Unit: c.Unit}}}}}
	if c.Unit == "" {
		guess := weighAll(t, o)[i].spot
		if guess.Use < 0 || guess.Choices[guess.Use].Read.Quantity != c.Quantity {
			guess = decode.Weigh(string(c.Quantity), t.table.Series[i].Samples, o.Degrees)
		}
		switch {
		case guess.Use >= 0 && guess.Choices[guess.Use].Read.Quantity == c.Quantity:
			w.spot = guess
		case guess.Ask != "" && o.Degrees == "":
			return &record.Unsure{What: fmt.Sprintf("column %q: %s %s", c.Header, guess.Why, guess.Ask), Flag: "the unit in --column, or --degrees C or F"}
		}
	}
	t.said = append(t.said, strings.TrimRight(fmt.Sprintf("  %q is %s of %s, as --column says. %s", t.table.Series[i].Name(), w.words(), c.Probe, w.spot.Why), " "))
	return t.take(i, c.Probe, w.spot.Choices[w.spot.Use].Read, false)
}

// seriesNames lists the columns of a table, in quotes as headers may be anything.
func seriesNames(t *tape) string {
	const most = 20
	names := headers(t)
	out := walk.Each(names[:min(most, len(names))], strconv.Quote)
	if n := len(names) - most; n > 0 {
		out = append(out, fmt.Sprintf("and %d more", n))
	}
	return strings.Join(out, ", ")
}

func headers(t *tape) []string {
	return walk.Each(t.table.Series, func(s record.Series) string { return s.Name() })
}

// weighed is what a series may be.
type weighed struct {
	spot decode.Spot
	fan  bool // what a fan did
}

func (w weighed) quantity() alarms.Quantity { return w.spot.Choices[w.spot.Use].Read.Quantity }

// words are quantity and unit.
func (w weighed) words() string {
	r := w.spot.Choices[w.spot.Use].Read
	text := string(r.Quantity)
	if unit := cmp.Or(r.Unit, r.Quantity.Facts().Unit); unit != "" {
		text += " in " + unit
	}
	if r.Factor != 0 {
		text += fmt.Sprintf(", times %g", r.Factor)
	}
	return text
}

var (
	fanWords     = []string{"fan", "fans", "exhaust", "blower", "ventilator", "ventilators", "lüfter"}
	noFanWords   = []string{"circulation", "haf", "mixing", "setpoint", "target", "temp", "temperature", "humidity", "rh", "loop", "intake"}
	outsideWords = []string{"outside", "outdoor", "outdoors", "external", "exterior", "weather", "weatherstation", "ambient", "aussen", "außen", "aussentemperatur", "außentemperatur", "extérieur", "exterior", "buiten", "esterno"}
)

func some(words, of []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(of, w) })
}

// weighAll weighs the series of a table; those whose unit nothing tells go by
// the others.
func weighAll(t *tape, o ReplayOptions) []weighed {
	all := make([]weighed, len(t.table.Series))
	found := map[string]bool{}
	for i := range all {
		all[i] = weigh(t, i, o.Degrees)
		if s := all[i].spot; s.Use >= 0 && s.Choices[s.Use].Read.Quantity == alarms.Temperature {
			found[cmp.Or(s.Choices[s.Use].Read.Unit, "°C")] = true
		}
	}
	for i, w := range all {
		switch {
		case o.Degrees != "":
		case found["°F"]: // 25 outside is a frost then
			all[i] = weigh(t, i, "°F")
		case found["°C"] && w.spot.Use < 0 && w.spot.Ask != "":
			all[i] = weigh(t, i, "°C")
		}
	}
	return all
}

func weigh(t *tape, i int, degrees string) weighed {
	s := &t.table.Series[i]
	words := record.Words(s.Key + " " + s.Header)
	if some(words, fanWords) && !some(words, noFanWords) {
		if w, ok := weighFan(s); ok {
			return w
		}
	}
	name := s.Name()
	if !t.table.Headed && s.Key == "" {
		name = unnamed(t, i)
	}
	w := weighed{spot: decode.Weigh(name, s.Samples, degrees)}
	if !t.table.Headed && s.Key == "" && w.spot.Use >= 0 {
		w.spot.Why = "The file has no header: this is by its place and its numbers alone."
	}
	return w
}

// unnamed names a column of a table without a header by its place: temperature
// comes first, humidity next, if the numbers suit.
func unnamed(t *tape, i int) string {
	if i == 0 {
		return "temperature"
	}
	if w := decode.Weigh("humidity", t.table.Series[i].Samples, ""); i == 1 && w.Use >= 0 && w.Choices[w.Use].Read.Factor == 0 {
		return "humidity"
	}
	return ""
}

// weighFan takes a column that is named after a fan for what it did: its speed
// in per cent, or on and off.
func weighFan(s *record.Series) (weighed, bool) {
	for _, r := range []decode.Read{{Quantity: alarms.Contact}, {Quantity: alarms.Speed, Unit: "ratio"}, {Quantity: alarms.Speed}} {
		c, err := decode.NewCells("fan", r)
		if err != nil {
			return weighed{}, false
		}
		good := 0
		for _, text := range s.Samples {
			if v, cause, _ := c.Value([]byte(text)); cause == "" && v >= 0 && v <= 100 {
				good++
			}
		}
		if good > 0 && good >= len(s.Samples)*9/10 {
			spot := decode.Spot{Choices: []decode.Choice{{Read: r}}, Sure: decode.Likely, Why: "By its name it shows what a fan did."}
			return weighed{spot: spot, fan: true}, true
		}
	}
	return weighed{}, false
}

// placeName is where a series hangs, by the words of its name that do not say
// what it measures.
func placeName(s *record.Series) string {
	words := record.Words(s.Name())
	if some(words, outsideWords) {
		return outside
	}
	words = slices.DeleteFunc(words, decode.Speaks)
	if len(words) == 0 {
		return "inside"
	}
	return strings.Join(words, " ")
}
