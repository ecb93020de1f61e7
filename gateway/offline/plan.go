package offline

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/score"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
	"telltale/gateway/record"
)

// The limits of a recording without a config and a crop, °C: where frost comes
// near, where cold and heat begin to harm most crops, and where they kill;
// common practice, no source.
const usualLimits = "temperature = { low-low = %g, low = %g, high = %g, high-high = %g }\n"

var usualDegrees = [4]float64{2, 5, 35, 40}

// outside is the place by which the core knows the weather.
const outside = "outside"

// guessed is a plan in the making: what a config for these files would say.
type guessed struct {
	house      string
	fahrenheit bool
	places     []guessedPlace
	fan        alarms.Quantity // by which a fan is shown; empty: none is
}

type guessedPlace struct {
	id, name string
	probes   []guessedProbe
}

type guessedProbe struct {
	id         string
	quantities []alarms.Quantity
	every      time.Duration
}

// ofUse are the quantities that are of use without a config.
var ofUse = []alarms.Quantity{alarms.Temperature, alarms.Humidity, alarms.Soil, alarms.Surface}

// byGuess reads whatever columns seem to measure.
func (r *Recording) byGuess(o ReplayOptions) error {
	if _, ok := crop.Lookup(o.Crop); o.Crop != "" && !ok {
		return asked{fmt.Errorf("the crop %q is not known%s", o.Crop, config.OrList(o.Crop, crop.Names(), "crops"))}
	}
	first := o.Files[0]
	g := &guessed{house: strings.TrimSuffix(strings.TrimSuffix(filepath.Base(first), ".gz"), filepath.Ext(strings.TrimSuffix(first, ".gz")))}
	if len(o.Columns) > 0 {
		if err := r.named(o); err != nil {
			return err
		}
		for _, t := range r.tapes {
			for _, i := range t.taken() {
				k := t.takes[i]
				at := g.at(string(k.probe))
				at.add(k.probe, k.quantity, t.table.Series[i].Every)
				g.fahrenheit = g.fahrenheit || k.unit == "°F"
			}
		}
	} else {
		for _, t := range r.tapes {
			if err := g.tape(t, o); err != nil {
				return fmt.Errorf("%s: %w", t.name, err)
			}
			t.want()
		}
	}
	return r.plan(g, o)
}

// tape says of each series what it is taken for.
func (g *guessed) tape(t *tape, o ReplayOptions) error {
	for i, w := range weighAll(t, o) {
		s := &t.table.Series[i]
		switch {
		case w.fan && g.fan != "":
			t.said = append(t.said, fmt.Sprintf("  %q is ignored: one fan is looked at, and there is one already.", s.Name()))
		case w.fan:
			g.fan = w.quantity()
			if err := t.take(i, score.FanProbe, w.spot.Choices[0].Read, true); err != nil {
				return err
			}
			t.said = append(t.said, fmt.Sprintf("  %q shows when a fan ran: nothing is judged by it, but what can be inferred of the fan is held against it.", s.Name()))
		case w.spot.Use < 0 && w.spot.Ask != "":
			return &record.Unsure{What: fmt.Sprintf("column %q: %s %s", s.Name(), w.spot.Why, w.spot.Ask), Flag: "--degrees C or --degrees F"}
		case w.spot.Use < 0:
			t.said = append(t.said, fmt.Sprintf("  %q is ignored. %s", s.Name(), w.spot.Why))
		case !slices.Contains(ofUse, w.quantity()):
			t.said = append(t.said, fmt.Sprintf("  %q is ignored: it seems to be %s, which has no limits without a config.", s.Name(), w.words()))
		default:
			at := g.at(placeName(s))
			probe := at.probe(w.quantity())
			if err := t.take(i, probe, w.spot.Choices[w.spot.Use].Read, false); err != nil {
				return err
			}
			at.add(probe, w.quantity(), s.Every)
			g.fahrenheit = g.fahrenheit || w.spot.Choices[w.spot.Use].Read.Unit == "°F"
			t.said = append(t.said, strings.TrimRight(fmt.Sprintf("  %q is %s, place %q. %s %s", s.Name(), w.words(), at.name, w.spot.Why, w.spot.Ask), " "))
		}
	}
	return nil
}

// at is the place of that name.
func (g *guessed) at(name string) *guessedPlace {
	var taken []string
	for i := range g.places {
		if g.places[i].name == name {
			return &g.places[i]
		}
		taken = append(taken, g.places[i].id)
	}
	g.places = append(g.places, guessedPlace{id: edit.NewID(name, "place", taken, "season"), name: name})
	return &g.places[len(g.places)-1]
}

// probe is the first probe of the place that does not measure q yet.
func (p *guessedPlace) probe(q alarms.Quantity) alarms.ProbeID {
	for _, pr := range p.probes {
		if !slices.Contains(pr.quantities, q) {
			return alarms.ProbeID(pr.id)
		}
	}
	return alarms.ProbeID(fmt.Sprintf("%s-%d", p.id, len(p.probes)+1))
}

func (p *guessedPlace) add(probe alarms.ProbeID, q alarms.Quantity, every time.Duration) {
	i := slices.IndexFunc(p.probes, func(pr guessedProbe) bool { return pr.id == string(probe) })
	if i < 0 {
		i = len(p.probes)
		p.probes = append(p.probes, guessedProbe{id: string(probe)})
	}
	pr := &p.probes[i]
	if !slices.Contains(pr.quantities, q) {
		pr.quantities = append(pr.quantities, q)
	}
	if every > 0 && (pr.every == 0 || every < pr.every) {
		pr.every = every
	}
}

// plan makes the plan that a config with these places would make.
func (r *Recording) plan(g *guessed, o ReplayOptions) error {
	if len(g.places) == 0 {
		return fmt.Errorf("no column was found that is a temperature or a humidity: say --column HEADER=NAME/temperature for each. The columns are %s", seriesNames(r.tapes[0]))
	}
	zone := r.tapes[0].table.Zone
	c, problems := config.Parse("the guess", []byte(g.text(o.Crop)), os.LookupEnv)
	if err := problems.Err(); err != nil {
		return fmt.Errorf("these columns cannot be judged without a config: %w", err)
	}
	r.Plan = c.Plan
	r.Plan.Words.Zone = zone
	for i := range r.Plan.Houses {
		r.Plan.Houses[i].Day.Zone = zone
	}
	if g.fan != "" {
		r.fan = score.FanAside(r.Plan.Houses[0].ID, g.fan)
	}
	r.tapes[len(r.tapes)-1].said = append(r.tapes[len(r.tapes)-1].said, g.said(o.Crop))
	return nil
}

// said tells the limits.
func (g *guessed) said(crop string) string {
	if crop != "" {
		return fmt.Sprintf("Limits: those of %s, at every place but outside; day is from 06:00 to 18:00. A config says more.", crop)
	}
	l, unit := g.limits(), "°C"
	if g.fahrenheit {
		unit = "°F"
	}
	return fmt.Sprintf("Limits: the usual ones for temperature, low-low %g, low %g, high %g, high-high %g %s, at every place but outside. --crop or a config says others.", l[0], l[1], l[2], l[3], unit)
}

func (g *guessed) limits() (out [4]float64) {
	for i, c := range usualDegrees {
		if out[i] = c; g.fahrenheit {
			out[i] = c*9/5 + 32
		}
	}
	return out
}

// text is the config.
func (g *guessed) text(crop string) string {
	var b strings.Builder
	b.WriteString("[nobody-told]\nbecause = \"recorded readings are judged\"\n")
	if g.fahrenheit {
		b.WriteString("[words]\ntemperature = \"°F\"\n")
	}
	fmt.Fprintf(&b, "[house.recorded]\nname = %s\nday-from = \"06:00\"\nday-to = \"18:00\"\n", quoted(g.house))
	for _, p := range g.places {
		fmt.Fprintf(&b, "[house.recorded.place.%s]\nname = %s\n", p.id, quoted(p.name))
		l := g.limits()
		switch {
		case p.id == outside || !p.measures(alarms.Temperature):
		case crop != "":
			fmt.Fprintf(&b, "crop = %s\n", quoted(crop))
		default:
			fmt.Fprintf(&b, usualLimits, l[0], l[1], l[2], l[3])
		}
		for _, pr := range p.probes {
			fmt.Fprintf(&b, "[probe.%s]\nplace = \"recorded/%s\"\ntopic = \"%s\"\nform = \"json\"\n", pr.id, p.id, pr.id)
			if pr.every >= time.Second && pr.every <= 12*time.Hour {
				fmt.Fprintf(&b, "every = \"%ds\"\n", int64(pr.every/time.Second))
			}
			for _, q := range pr.quantities {
				fmt.Fprintf(&b, "%s = { from = \"/%s\" }\n", q, q)
			}
		}
	}
	return b.String()
}

func (p *guessedPlace) measures(q alarms.Quantity) bool {
	return slices.ContainsFunc(p.probes, func(pr guessedProbe) bool { return slices.Contains(pr.quantities, q) })
}

// quoted writes text for the config, without what a terminal would act on.
func quoted(text string) string {
	return edit.Quoted(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == utf8.RuneError {
			return ' '
		}
		return r
	}, text))
}
