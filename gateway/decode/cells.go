package decode

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// Cells reads the cells of one column of a table.
type Cells struct{ read read }

// NewCells prepares to read a quantity; of Read the unit, the factor and
// Inverted count. The error says what does not go together.
func NewCells(where string, in Read) (*Cells, error) {
	in.At, in.Measurement, in.Tags = "", "", nil
	ready, err := prepareAll([]Source{{Probe: "it", Filter: "#", Form: Number, Where: where, Reads: []Read{in}}})
	if err != nil {
		return nil, err
	}
	return &Cells{ready[0].reads[0]}, nil
}

// Value is a cell in the core's unit; a cause and a sentence say what is wrong
// with a bad one.
func (c *Cells) Value(text []byte) (v float64, cause Cause, detail string) {
	v, f := c.read.text(text)
	return v, f.cause, f.detail
}

// Weigh says what a column with such a header measures, by a sample of its
// cells, as Propose does for a payload. degrees is the unit of temperatures
// whose header states none, where it is known. A Spot that is not proposed
// says in Ask what must be known first, or in Why what speaks against it, in English.
func Weigh(header string, cells []string, degrees string) Spot {
	name, unit := headerUnit(header)
	names := slices.DeleteFunc(nameWords(name), func(w string) bool { return slices.Contains(meanWords, w) })
	if odd := stranger(names); odd != "" {
		return Spot{Use: -1, Why: say.English(tongue.Keep(byItsName, odd))}
	}
	if q, _ := named(names); q == "" && len(names) > 0 && unit == "" {
		if last := names[len(names)-1]; last == "c" || last == "f" { // inside_c
			names = append(names, "temperature")
		}
	}
	p := &proposer{form: JSON}
	values := middle(cells)
	for _, c := range values {
		p.addText(Read{}, names, nil, unit, []byte(c))
	}
	if len(p.found) == 0 {
		return Spot{Use: -1, Why: "There is no number in it."}
	}
	s := p.spot(p.found[0])
	asked, _ := tongue.Kept(s.Ask)
	s.Why, s.Ask = say.English(s.Why), say.English(s.Ask)
	s.Why = strings.Replace(s.Why, "The payload states", "Its header states", 1)
	if asked.Text == askShare {
		s.Use, s.Ask, s.Why = -1, "", fmt.Sprintf("Its header states %s, but not of what.", unit)
	}
	q, _ := named(names)
	if q == alarms.Temperature && unit == "" {
		if q = warmth(names); unitWord(names, q) == "" {
			p.degrees(&s, q, degrees)
		}
	}
	return s
}

// meanWords mark values that are means: as good as readings.
var meanWords = []string{"avg", "mean", "average", "mittel", "mittelwert"}

// headerUnit parts a header such as "RH (%)" or "Air [°C]" from its unit, if
// it is one that we know.
func headerUnit(header string) (name, unit string) {
	for _, pair := range []string{"()", "[]"} {
		from, to := strings.LastIndexByte(header, pair[0]), strings.LastIndexByte(header, pair[1])
		if from < 0 || to < from {
			continue
		}
		text := strings.TrimSpace(header[from+1 : to])
		known := slices.Clone(radiation)
		for _, r := range table {
			for _, u := range r.units {
				known = append(append(known, u.name), u.also...)
			}
		}
		for _, s := range known {
			if strings.EqualFold(s, strings.ReplaceAll(text, " ", "")) {
				return header[:from] + header[to+1:], s
			}
		}
	}
	return header, ""
}

// middle are the cells but for the fortieth part that is lowest, and highest:
// what a probe gives when it fails says nothing of its unit.
func middle(cells []string) []string {
	type cell struct {
		text  string
		value float64
	}
	var numbers []cell
	var out []string
	for _, c := range cells {
		if v, _, ok, _ := scanNumber([]byte(c)); ok {
			numbers = append(numbers, cell{c, v})
		} else if _, ok := contactWord([]byte(c)); ok {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(numbers, func(a, b cell) int { return cmp.Compare(a.value, b.value) })
	cut := len(numbers) / 40
	for _, c := range numbers[cut : len(numbers)-cut] {
		out = append(out, c.text)
	}
	return out
}

const askDegrees = "Are they °C or °F? Neither the header nor the numbers say."

// degrees settles °C or °F by many values of a place where plants stand: common
// practice, no source. No house is at 36 °C or more nine readings of ten, nor
// is it at 58 °C one of twenty; one that is below 33 °F half of the time holds no
// plants.
func (p *proposer) degrees(s *Spot, q alarms.Quantity, known string) {
	v := slices.Clone(p.found[0].values)
	slices.Sort(v)
	tenth, half, most := v[len(v)/10], v[len(v)/2], v[len(v)*19/20]
	if half > 130 { // kelvin, or tenths: Propose knows
		return
	}
	unit, why := "", ""
	switch {
	case known != "":
		unit, why = known, fmt.Sprintf("Its name says what it is; the others are in %s too, or it was said so.", known)
	case tenth >= 36 || half > 40 && most >= 58:
		unit, why = "°F", fmt.Sprintf("Its name says what it is; half of its values are above %g, which in °C no house would be.", half)
	case half <= 33 && most < 58:
		unit, why = "°C", fmt.Sprintf("Its name says what it is; half of its values are up to %g, usual in °C.", half)
	default:
		s.Use, s.Why, s.Ask = -1, fmt.Sprintf("Its name says what it is, but half of its values are up to %g, one in twenty from %g on.", half, most), askDegrees
		return
	}
	r := Read{Quantity: q, Unit: unit}
	got, _ := p.try(p.found[0], r)
	s.Choices, s.Use, s.Sure, s.Why, s.Ask = []Choice{{Read: r, Value: got}}, 0, Likely, why, ""
}
