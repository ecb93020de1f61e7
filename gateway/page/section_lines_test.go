package page

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// span is a box in the units of a drawing.
type span struct{ left, top, right, bottom float64 }

func (a span) touches(b span) bool {
	return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom
}

// stroke is a straight line with half its width.
type stroke struct{ x0, y0, x1, y1, half float64 }

// crosses reports whether any of a stroke lies in a box: the line is cut to the box (Liang
// and Barsky 1984), which is as much larger as the stroke is wide.
func (s stroke) crosses(b span) bool {
	b = span{b.left - s.half, b.top - s.half, b.right + s.half, b.bottom + s.half}
	from, to := 0.0, 1.0
	dx, dy := s.x1-s.x0, s.y1-s.y0
	for _, e := range [][2]float64{{-dx, s.x0 - b.left}, {dx, b.right - s.x0}, {-dy, s.y0 - b.top}, {dy, b.bottom - s.y0}} {
		switch p, q := e[0], e[1]; {
		case p == 0 && q <= 0:
			return false
		case p < 0:
			from = max(from, q/p)
		case p > 0:
			to = min(to, q/p)
		}
	}
	return from < to
}

// inked is what of a drawing has ink: its texts, and all else.
type inked struct {
	texts   []inkedText
	strokes []stroke
	marks   []span // circles, filled shapes and small drawings
	whole   span
}

type inkedText struct {
	span
	says string
}

// inkOf reads a drawing. A text is as long as it is set to (textLength, SVG 2, section
// 11.5), whatever font the reader has.
func inkOf(t *testing.T, svg string) (in inked) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	var within []string // small drawings, of which only the box counts
	var text *inkedText
	var groups []string // their classes
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return in
		}
		if err != nil {
			t.Fatalf("%v in %s", err, svg)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			a := map[string]string{}
			for _, one := range e.Attr {
				a[one.Name.Local] = one.Value
			}
			n := func(name string) float64 {
				if a[name] == "" {
					return 0
				}
				v, err := strconv.ParseFloat(a[name], 64)
				if err != nil {
					t.Fatalf("%s of %v: %v", name, a, err)
				}
				return v
			}
			if len(within) > 0 || e.Name.Local == "svg" && a["x"] != "" {
				if len(within) == 0 {
					in.marks = append(in.marks, span{n("x"), n("y"), n("x") + n("width"), n("y") + n("height")})
				}
				within = append(within, e.Name.Local)
				continue
			}
			switch e.Name.Local {
			case "svg":
				box := strings.Fields(a["viewBox"])
				top, _ := strconv.ParseFloat(box[1], 64)
				high, _ := strconv.ParseFloat(box[3], 64)
				wide, _ := strconv.ParseFloat(box[2], 64)
				in.whole = span{0, top, wide, top + high}
			case "rect":
				b := span{n("x"), n("y"), n("x") + n("width"), n("y") + n("height")}
				if a["class"] != "earth" {
					in.marks = append(in.marks, b)
					break
				}
				in.strokes = append(in.strokes, stroke{b.left, b.top, b.right, b.top, 0}, stroke{b.left, b.top, b.left, b.bottom, 0}, stroke{b.right, b.top, b.right, b.bottom, 0})
			case "circle":
				in.marks = append(in.marks, span{n("cx") - n("r"), n("cy") - n("r"), n("cx") + n("r"), n("cy") + n("r")})
			case "path":
				half := 0.9
				if a["class"] == "bore" {
					half = 2.3
				}
				in.strokes = append(in.strokes, strokesOf(t, a["d"], half)...)
			case "text":
				x, long, size, below := n("x"), n("textLength"), 13.0, 0.22
				if a["class"] == "num" {
					size, below = 25, 0.16
					if strings.Contains(strings.Join(groups, " "), " next") {
						size = 18
					}
				}
				if long <= 0 {
					t.Fatalf("a text has no length: %v", a)
				}
				if a["text-anchor"] == "end" {
					x -= long
				}
				in.texts = append(in.texts, inkedText{span{x, n("y") - 0.8*size, x + long, n("y") + below*size}, ""})
				text = &in.texts[len(in.texts)-1]
			case "g":
				groups = append(groups, a["class"])
			case "tspan":
			default:
				t.Fatalf("what is a %s in a drawing?", e.Name.Local)
			}
		case xml.EndElement:
			if len(within) > 0 {
				within = within[:len(within)-1]
			} else if e.Name.Local == "text" {
				text = nil
			} else if e.Name.Local == "g" {
				groups = groups[:len(groups)-1]
			}
		case xml.CharData:
			if text != nil {
				text.says += string(e)
			}
		}
	}
}

var pathStep = regexp.MustCompile(`[MLHVCZmlhvcz]|-?(?:\d+\.?\d*|\.\d+)(?:e-?\d+)?`)

// strokesOf are the lines of a path; a curve is as many short ones.
func strokesOf(t *testing.T, path string, half float64) (out []stroke) {
	t.Helper()
	steps := pathStep.FindAllString(path, -1)
	var x, y, x0, y0 float64
	kind, i := "", 0
	next := func() float64 {
		v, err := strconv.ParseFloat(steps[i], 64)
		if err != nil {
			t.Fatalf("%q in %q", steps[i], path)
		}
		i++
		return v
	}
	to := func(nx, ny float64) {
		out = append(out, stroke{x, y, nx, ny, half})
		x, y = nx, ny
	}
	for i < len(steps) {
		if c := steps[i]; c[0] >= 'A' {
			kind = c
			i++
			if kind == "z" || kind == "Z" {
				to(x0, y0)
				continue
			}
		}
		switch kind {
		case "M":
			x, y = next(), next()
			x0, y0, kind = x, y, "L"
		case "L":
			a, b := next(), next()
			to(a, b)
		case "l":
			a, b := next(), next()
			to(x+a, y+b)
		case "H":
			to(next(), y)
		case "h":
			to(x+next(), y)
		case "V":
			to(x, next())
		case "v":
			to(x, y+next())
		case "C":
			p := [4][2]float64{{x, y}, {next(), next()}, {next(), next()}, {next(), next()}}
			for k := 1; k <= 24; k++ {
				u := float64(k) / 24
				at := func(d int) float64 {
					return math.Pow(1-u, 3)*p[0][d] + 3*u*(1-u)*(1-u)*p[1][d] + 3*u*u*(1-u)*p[2][d] + u*u*u*p[3][d]
				}
				to(at(0), at(1))
			}
		default:
			t.Fatalf("what is %q in the path %q?", kind, path)
		}
	}
	return out
}

// onLines are the texts of a drawing that lie on a line, a mark or another text of it, or
// leave it.
func (in inked) onLines() (bad []string) {
	for i, text := range in.texts {
		if text.left < in.whole.left || text.right > in.whole.right || text.top < in.whole.top || text.bottom > in.whole.bottom {
			bad = append(bad, fmt.Sprintf("%q leaves the drawing: %+v of %+v", text.says, text.span, in.whole))
		}
		for _, s := range in.strokes {
			if s.crosses(text.span) {
				bad = append(bad, fmt.Sprintf("%q %+v lies on a line: %+v", text.says, text.span, s))
			}
		}
		for _, m := range in.marks {
			if m.touches(text.span) {
				bad = append(bad, fmt.Sprintf("%q %+v lies on a mark: %+v", text.says, text.span, m))
			}
		}
		for _, o := range in.texts[i+1:] {
			if o.touches(text.span) {
				bad = append(bad, fmt.Sprintf("%q %+v lies on %q %+v", text.says, text.span, o.says, o.span))
			}
		}
	}
	return bad
}

// drawnIn is the drawing of a house as the page has it.
func drawnIn(t *testing.T, v *views, w words.Words, f service.Form, h alarms.HousePicture) string {
	t.Helper()
	var b bytes.Buffer
	if err := v.write(&b, w.Tongue, "front", "section", draw.SectionOf(w, []service.Form{f}, h, draw.ReadingsOf(w, h, noon))); err != nil {
		t.Fatal(err)
	}
	_, drawing, _ := strings.Cut(b.String(), "<svg class=\"drawing")
	drawing, _, whole := strings.Cut(drawing, "</svg>\n<p class")
	if !whole {
		t.Fatalf("no drawing: %s", b.String())
	}
	return "<svg class=\"drawing" + drawing + "</svg>"
}

// oddHouse is a house by chance: any form, with places, drives and pipes anywhere, whose
// names are long.
func oddHouse(r *rand.Rand) (service.Form, alarms.HousePicture) {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	eaves := between(0.4, 4)
	f := service.Form{House: "h", LeanTo: r.IntN(2) == 0, Right: r.IntN(2) == 0, Width: between(0.8, 14), Eaves: eaves, Ridge: eaves + between(0, 4), Plain: r.IntN(5) == 0,
		Places: map[alarms.PlaceID]service.Position{}, Drives: map[alarms.DriveID]service.Position{}}
	for range r.IntN(3) {
		from := between(0, f.Width*0.7)
		f.Bench = append(f.Bench, service.Bench{From: from, To: between(from, f.Width), Height: between(0.1, f.Eaves)})
	}
	h := alarms.HousePicture{ID: "h", Name: "H", Daypart: alarms.Daypart(r.IntN(3))}
	anywhere := func() service.Position {
		return service.Position{Across: between(-4, f.Width+4), Height: between(-5, f.Ridge+2)}
	}
	names := []string{"bench", "Wide name of many words, by the door", "Gewächshausfensterbrettverlängerung", "MMMMWWWWMMMM WWWW", "il", "屋根の下の温度計"}
	for i := range 1 + r.IntN(9) {
		pl := alarms.PlacePicture{ID: alarms.PlaceID(fmt.Sprintf("p%d", i)), Name: names[r.IntN(len(names))]}
		for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity, alarms.Soil, alarms.Light, alarms.Moisture}[r.IntN(2) : 2+r.IntN(4)] {
			pt := alarms.PointPicture{Quantity: q, HasValue: r.IntN(9) > 0, Value: between(-30, 120), At: noon, Live: r.IntN(4) > 0}
			if r.IntN(2) == 0 {
				pt.Limits = scenes.Limits(2, 5, 30, 35)
				pt.Level, pt.Side = alarms.Level(r.IntN(3)), []alarms.Side{alarms.LowSide, alarms.HighSide}[r.IntN(2)]
			}
			pl.Points = append(pl.Points, pt)
		}
		h.Places, f.Places[pl.ID] = append(h.Places, pl), anywhere()
	}
	for i := range r.IntN(5) {
		d := alarms.DrivePicture{ID: alarms.DriveID(fmt.Sprintf("d%d", i)), Name: names[r.IntN(len(names))], Kind: alarms.DriveKinds[r.IntN(len(alarms.DriveKinds))],
			State: alarms.DriveRunning, Does: []string{"runs", "probably stands still", "steht wahrscheinlich still", "is open"}[r.IntN(4)], Evidenced: r.IntN(2) == 0}
		h.Drives, f.Drives[d.ID] = append(h.Drives, d), anywhere()
	}
	if r.IntN(2) == 0 {
		h.Loop = &alarms.LoopPicture{}
		for i := range 1 + r.IntN(4) {
			h.Loop.Pipes = append(h.Loop.Pipes, alarms.PipePicture{Outlet: alarms.PlaceID(fmt.Sprintf("p%d", 2*i)), Depth: between(0.3, 8), Moving: r.IntN(2) == 0})
		}
	}
	return f, h
}

// TestNoTextLiesOnALine draws the garden's houses, and houses of any form by chance with
// long names, in both languages and units: by the lengths to which texts are set none lies
// on a line, a mark or another text.
func TestNoTextLiesOnALine(t *testing.T) {
	v, err := readViews()
	if err != nil {
		t.Fatal(err)
	}
	in := []words.Words{}
	for _, tongue := range tongue.Tongues() {
		for _, fahrenheit := range []bool{false, true} {
			in = append(in, words.New(alarms.Words{}).In(words.Locale{Tongue: tongue, Fahrenheit: fahrenheit, Decimal: tongue.Decimal()}))
		}
	}
	texts := 0
	for _, w := range in {
		for _, forms := range [][]service.Form{scenes.Forms(), scenes.Plain()} {
			for i, h := range scenes.Garden(noon).Houses {
				ink := inkOf(t, drawnIn(t, &v, w, forms[i], h))
				if len(ink.texts) < 6 || len(ink.strokes) < 20 {
					t.Fatalf("%s: only %d texts and %d lines are drawn", h.ID, len(ink.texts), len(ink.strokes))
				}
				texts += len(ink.texts)
				for _, bad := range ink.onLines() {
					t.Errorf("%s in %q, plain %t: %s", h.ID, w.Tongue, forms[i].Plain, bad)
				}
			}
		}
	}
	const seed = 20261201
	r := rand.New(rand.NewPCG(seed, 7))
	for n := range 150 {
		f, h := oddHouse(r)
		for _, bad := range inkOf(t, drawnIn(t, &v, in[n%len(in)], f, h)).onLines() {
			t.Errorf("seed %d, house %d: %s", seed, n, bad)
		}
		if t.Failed() {
			t.Fatalf("form %+v, house %+v", f, h)
		}
	}
}

// What is meant to be found is found: a leader through a text, a text on a text, one on a
// mark, one that leaves.
func TestTextsOnLinesAreFound(t *testing.T) {
	const text = `<text class="named" x="20" y="40" text-anchor="start" textLength="30">bench</text>`
	for with, want := range map[string]string{
		"":                                     "",
		`<path d="M0 0L60 60"/>`:               "on a line",
		`<path d="M10 50C20 20 30 20 60 50"/>`: "on a line",
		`<path d="M0 0h10l5 60"/>`:             "",
		`<circle cx="48" cy="36" r="3"/>`:      "on a mark",
		`<circle cx="56" cy="36" r="3"/>`:      "",
		`<svg x="10" y="30" width="12" height="12"><path d="M0 0"/></svg>`:                 "on a mark",
		`<text class="named" x="60" y="46" text-anchor="end" textLength="20">on</text>`:    "lies on",
		`<text class="named" x="10" y="20" text-anchor="end" textLength="20">out</text>`:   "leaves",
		`<text class="named" x="60" y="60" text-anchor="end" textLength="20">below</text>`: "",
		`<rect class="earth" x="40" y="0" width="30" height="70"/>`:                        "on a line",
	} {
		bad := strings.Join(inkOf(t, `<svg class="drawing" viewBox="0 0 100 80">`+text+with+`</svg>`).onLines(), "\n")
		if want == "" && bad != "" || !strings.Contains(bad, want) {
			t.Errorf("%s: got %q, want %q", with, bad, want)
		}
	}
}
