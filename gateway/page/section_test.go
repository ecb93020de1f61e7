package page

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// By hand: the drawing is 344 wide and the house takes 61 % of that, so 3.5 m
// are 209.84 units and a metre 59.954.
func TestPlaces(t *testing.T) {
	f := drawnForms()[0]
	p := plotOf(f, 2.3, sectionSky, 48)
	wall, ground := p.at(Position{}), p.y0
	for _, c := range []struct {
		at          Position
		right, down float64
	}{
		{Position{3.5, 0}, 209.84, 0},
		{Position{2.6, 1.05}, 155.88, -62.95},
		{Position{0, 2.8}, 0, -167.87},
		{Position{1, -1.5}, 59.95, 89.93},
		{Position{1, -2.3}, 59.95, 137.89},
	} {
		got := p.at(c.at)
		if math.Abs(got.X-wall.X-c.right) > 0.11 || math.Abs(got.Y-ground-c.down) > 0.11 {
			t.Errorf("%+v is drawn %.2f right of the wall and %.2f below the ground, want %.2f and %.2f", c.at, got.X-wall.X, got.Y-ground, c.right, c.down)
		}
	}
	if p.broken {
		t.Error("2.3 m of ground fit on the scale of the house")
	}
	deep := plotOf(f, 6, sectionSky, 48)
	if y := deep.at(Position{0, -3}).Y - deep.y0; !deep.broken || math.Abs(y-sectionDeep/2) > 0.11 {
		t.Errorf("half of 6 m is drawn %.1f below the ground, want half of %v, and said to be smaller", y, sectionDeep)
	}
	tall := plotOf(Form{Width: 2, Eaves: 4, Ridge: 5}, 0, sectionSky, 30)
	if got := tall.y0 - tall.at(Position{1, 5}).Y; math.Abs(got-sectionTall) > 0.11 {
		t.Errorf("a tall house is %v high, want %v", got, sectionTall)
	}
	if x := p.at(Position{8, 1}).X; x > sectionWidth {
		t.Errorf("what is far outside is drawn at %v, off the drawing", x)
	}
}

func TestInside(t *testing.T) {
	lean, ridge := drawnForms()[0], drawnForms()[1]
	for _, c := range []struct {
		form Form
		at   Position
		want bool
	}{
		{lean, Position{0.1, 2.7}, true}, {lean, Position{3.4, 2.7}, false}, {lean, Position{3.4, 1.7}, true},
		{lean, Position{-0.1, 1}, false}, {lean, Position{1, -0.1}, false},
		{ridge, Position{1.2, 1.95}, true}, {ridge, Position{0.1, 1.95}, false},
	} {
		if got := c.form.inside(c.at); got != c.want {
			t.Errorf("%+v in a house of %v by %v m: got %v, want %v", c.at, c.form.Width, c.form.Ridge, got, c.want)
		}
	}
}

func TestCrossing(t *testing.T) {
	b := box{10, 10, 10, 10}
	for _, c := range []struct {
		l    line
		want bool
	}{
		{line{point{0, 15}, point{30, 15}}, true}, {line{point{0, 0}, point{30, 30}}, true}, {line{point{12, 12}, point{13, 13}}, true},
		{line{point{0, 5}, point{30, 5}}, false}, {line{point{0, 15}, point{9, 15}}, false}, {line{point{0, 12}, point{12, 0}}, false},
	} {
		if got := c.l.crosses(b); got != c.want {
			t.Errorf("%+v through %+v: got %v, want %v", c.l, b, got, c.want)
		}
	}
}

// seen is the drawing of a house, and the sketch behind it.
func sketched(t *testing.T, w words, forms []Form, h alarms.HousePicture) *sketch {
	t.Helper()
	points := map[string]pointView{}
	for _, pl := range w.house(h, noon).Places {
		for _, pt := range pl.Points {
			points[pt.Anchor] = pt
		}
	}
	var last *sketch
	var keep arrangements
	for _, f := range forms {
		if f.House != h.ID {
			continue
		}
		s, ok := keep.arrange(func(sky float64) *sketch {
			s := &sketch{words: w, house: h, form: f}
			s.prepare(sky, points)
			return s
		})
		if !ok {
			t.Fatalf("there is no room for the text of %s", h.ID)
		}
		for _, f := range s.finish {
			f()
		}
		s.lists(points)
		last = s
	}
	if last == nil {
		t.Fatalf("%s has no form", h.ID)
	}
	return last
}

// apart fails where text lies on other text, on a mark, or off the drawing.
func apart(t *testing.T, s *sketch) {
	t.Helper()
	for i, b := range s.blocks {
		if !b.box.within(s.canvas.all) {
			t.Errorf("the text at %+v leaves the drawing: %+v", b.at, b.box)
		}
		for _, o := range s.blocks[i+1:] {
			if b.box.meets(o.box, 0) {
				t.Errorf("the texts of %+v and %+v lie on each other: %+v, %+v", b.at, o.at, b.box, o.box)
			}
		}
		for _, o := range s.canvas.solid {
			if b.box.meets(o, 0) {
				t.Errorf("the text of %+v lies on the mark %+v", b.at, o)
			}
		}
	}
}

func TestNoTextLiesOnAnother(t *testing.T) {
	p := drawnScene(noon)
	for _, core := range []alarms.Words{{}, {Fahrenheit: true}} {
		for _, h := range p.Houses {
			s := sketched(t, newWords(core), drawnForms(), h)
			if len(s.blocks) < 4 {
				t.Fatalf("%s: only %d texts", h.ID, len(s.blocks))
			}
			apart(t, s)
		}
	}
}

// Houses by chance, of any form, with probes and drives anywhere.
func TestNoTextLiesOnAnotherInAnyHouse(t *testing.T) {
	const seed = 20261125
	r := rand.New(rand.NewPCG(seed, 1))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	kinds := alarms.DriveKinds
	for n := range 40 {
		eaves := between(0.5, 4)
		f := Form{House: "h", LeanTo: n%2 == 0, Right: r.IntN(2) == 0, Width: between(0.8, 14), Eaves: eaves, Ridge: eaves + between(0, 4),
			Places: map[alarms.PlaceID]Position{}, Drives: map[alarms.DriveID]Position{}}
		h := alarms.HousePicture{ID: "h", Name: "H", Daypart: alarms.Daypart(r.IntN(3))}
		anywhere := func() Position { return Position{between(-3, f.Width+3), between(-4, f.Ridge+1)} }
		for i := range 1 + r.IntN(9) {
			pl := alarms.PlacePicture{ID: alarms.PlaceID(fmt.Sprintf("p%d", i)), Name: strings.Repeat("wide name ", 1+r.IntN(3))}
			for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity, alarms.Soil}[:1+r.IntN(3)] {
				pt := alarms.PointPicture{Quantity: q, HasValue: true, Value: between(-30, 60), Live: r.IntN(3) > 0}
				if r.IntN(2) == 0 {
					pt.Limits = limits(2, 5, 30, 35)
				}
				pl.Points = append(pl.Points, pt)
			}
			h.Places, f.Places[pl.ID] = append(h.Places, pl), anywhere()
		}
		for i := range r.IntN(5) {
			d := alarms.DrivePicture{ID: alarms.DriveID(fmt.Sprintf("d%d", i)), Name: "some drive", Kind: kinds[r.IntN(len(kinds))],
				State: alarms.DriveRunning, Does: "runs", Evidenced: true}
			h.Drives, f.Drives[d.ID] = append(h.Drives, d), anywhere()
		}
		if r.IntN(2) == 0 {
			h.Loop = &alarms.LoopPicture{Pipes: []alarms.PipePicture{{Outlet: "p0", Depth: between(0.3, 8)}, {Outlet: "x", Depth: between(0.3, 8)}}}
		}
		apart(t, sketched(t, newWords(alarms.Words{}), []Form{f}, h))
		if t.Failed() {
			t.Fatalf("seed %d, house %d: %+v", seed, n, f)
		}
	}
}

// Text that has grown into its room stays in it, and what is kept for a house
// is what is found anew.
func TestNothingMovesWithTheValues(t *testing.T) {
	w, h := newWords(alarms.Words{}), drawnScene(noon).Houses[0]
	before := sketched(t, w, drawnForms(), h)
	for i := range h.Places {
		for j := range h.Places[i].Points {
			h.Places[i].Points[j].Value, h.Places[i].Points[j].Live = -12.3, false
		}
	}
	for i := range h.Drives {
		h.Drives[i].State, h.Drives[i].Does = alarms.DriveStanding, "stands still"
	}
	after := sketched(t, w, drawnForms(), h)
	for i := range before.blocks {
		if !reflect.DeepEqual(before.blocks[i].box, after.blocks[i].box) {
			t.Errorf("text of %+v moved from %+v to %+v", before.blocks[i].at, before.blocks[i].box, after.blocks[i].box)
		}
	}
	if before.view.Air == nil || after.view.Air != nil {
		t.Error("the way of the air is drawn while the exhaust fan runs, and only then")
	}
}

// Every reading is in the drawing or beside it, once, and in the list of all.
func TestEveryReadingIsShownOnce(t *testing.T) {
	f := newFake()
	f.picture = drawnScene(noon)
	_, text := start(t, Options{Watch: f, Forms: drawnForms()}).get("/")
	n := 0
	for _, h := range f.picture.Houses {
		for _, pl := range h.Places {
			for _, pt := range pl.Points {
				id := pointAnchor(h.ID, pl.ID, pt.Quantity)
				_, placed := drawnForms()[map[alarms.HouseID]int{"long-house": 0, "low-house": 1}[h.ID]].Places[pl.ID]
				drawn := 0
				if placed && drawnQuantities[pt.Quantity] {
					drawn = 1
				}
				if got := strings.Count(text, `id="`+id+`_drawn"`); got != drawn {
					t.Errorf("%s is drawn %d times, want %d", id, got, drawn)
				}
				for _, one := range []string{id, id + "_read"} {
					if got := strings.Count(text, `id="`+one+`"`); got != 1 {
						t.Errorf("%s is there %d times, want once", one, got)
					}
				}
				n++
			}
		}
	}
	if n < 15 {
		t.Fatalf("only %d readings", n)
	}
	read := reading(text)
	wantAll(t, read, "bench: temperature 31.3 °C ; humidity 52 %", "exhaust fan: runs.", "intake shutter: is open.",
		"bench vapour pressure deficit 2.20 kPa", "exhaust fan current 0.33 A , power 68 W", "Pipe at 1.5 m: air moves in it.",
		"Seen along the house: 3.5 m wide, 2.8 m high, 6.0 m long.")
}

// What asks for a look is said by word and shape, and an old value is struck.
func TestDrawingSaysHowReadingsStand(t *testing.T) {
	f := newFake()
	f.picture = drawnScene(noon)
	f.change(func(p *alarms.Picture) {
		bench := p.Houses[0].Places[0].Points
		bench[0].Value, bench[0].Level, bench[0].Side = 37.4, alarms.Inner, alarms.HighSide
		p.Houses[0].Places[1].Points[0].Live = false
		p.Houses[1].Places[0].Points[0].Value = 39.5
	})
	_, text := start(t, Options{Watch: f, Forms: drawnForms()}).get("/")
	part := func(id string) string {
		at := strings.Index(text, `<g id="`+id+`_drawn"`)
		if at < 0 {
			t.Fatalf("%s is not drawn", id)
		}
		return text[at : at+strings.Index(text[at:], "</g>")]
	}
	wantAll(t, part("point_long-house_bench_temperature"), `class="number far-beyond"`, `class="danger"`, "far too hot", ">37.4<")
	wantAll(t, part("point_long-house_ridge_temperature"), ` old"`, "last known")
	wantAll(t, part("point_low-house_bench_temperature"), `class="number near"`, `class="nearly"`, "near its limit")
	wantAll(t, part("point_long-house_intake_temperature"), `class="number "`, ">25.4<")
	wantAll(t, reading(text), "bench: temperature 37.4 °C , far too hot", "ridge: temperature 32.7 °C , last known")
}

func TestWorstMark(t *testing.T) {
	for _, c := range []struct {
		what string
		how  func(*alarms.Picture)
		want string
	}{
		{"all well", func(*alarms.Picture) {}, "none"},
		{"broker lost", func(p *alarms.Picture) { p.Link = false }, "unknown"},
		{"nothing heard", func(p *alarms.Picture) { p.Newest = time.Time{} }, "unknown"},
		{"one house medium", func(p *alarms.Picture) { p.Houses[1].Worst = alarms.Medium }, "medium"},
		{"an alarm of no house", func(p *alarms.Picture) {
			p.Alarms = []alarms.AlarmPicture{{ID: "watch/broker/silent", State: alarms.Unacknowledged, Priority: alarms.High}}
		}, "high"},
	} {
		f := newFake()
		f.picture = drawnScene(noon)
		f.change(c.how)
		_, text := start(t, Options{Watch: f}).get("/")
		well := text[strings.Index(text, `<div class="well">`):]
		if want := `<div class="well"><svg class="mark ` + c.want + `"`; !strings.HasPrefix(well, want) {
			t.Errorf("%s: got %.60q, want %s", c.what, well, want)
		}
	}
}

// BenchmarkSection compares drawing a house whose arrangement is kept with
// finding it anew.
func BenchmarkSection(b *testing.B) {
	w, h := newWords(alarms.Words{}), drawnScene(noon).Houses[0]
	draw := func(k *arrangements) { k.sectionOf(w, drawnForms(), h, map[string]pointView{}) }
	var kept arrangements
	draw(&kept)
	var fast, slow time.Duration
	for b.Loop() {
		began := time.Now()
		draw(&kept)
		middle := time.Now()
		draw(&arrangements{})
		fast, slow = fast+middle.Sub(began), slow+time.Since(middle)
	}
	b.ReportMetric(float64(slow)/float64(fast), "anew/kept")
}
