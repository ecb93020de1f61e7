package draw

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// By hand: between gutters of 80 and 90 there are 376-2*(3+15)-170 = 170 units,
// of which 2*11 stay free: 148 for a house 3.5 m wide, 42.286 a metre.
func TestPlaces(t *testing.T) {
	f := scenes.Forms()[0]
	p := plotOf(f, 2.3, 80, 90)
	wall, ground := p.at(service.Position{}), p.y0
	if math.Abs(wall.X-(80+18+11)) > 0.11 {
		t.Errorf("the wall is drawn at %.2f, want 109", wall.X)
	}
	for _, c := range []struct {
		at          service.Position
		right, down float64
	}{
		{service.Position{Across: 3.5, Height: 0}, 148, 0},
		{service.Position{Across: 2.6, Height: 1.05}, 109.94, -44.4},
		{service.Position{Across: 0, Height: 2.8}, 0, -118.4},
		{service.Position{Across: 1, Height: -1.5}, 42.29, 63.43},
		{service.Position{Across: 1, Height: -2.3}, 42.29, 97.26},
	} {
		got := p.at(c.at)
		if math.Abs(got.X-wall.X-c.right) > 0.11 || math.Abs(got.Y-ground-c.down) > 0.11 {
			t.Errorf("%+v is drawn %.2f right of the wall and %.2f below the ground, want %.2f and %.2f", c.at, got.X-wall.X, got.Y-ground, c.right, c.down)
		}
	}
	if p.broken {
		t.Error("2.3 m of ground fit on the scale of the house")
	}
	deep := plotOf(f, 6, 80, 90)
	if y := deep.at(service.Position{Across: 0, Height: -3}).Y - deep.y0; !deep.broken || math.Abs(y-sectionDeep/2) > 0.11 {
		t.Errorf("half of 6 m is drawn %.1f below the ground, want half of %v, and said to be smaller", y, sectionDeep)
	}
	tall := plotOf(service.Form{Width: 2, Eaves: 4, Ridge: 5}, 0, 80, 90)
	if got := tall.y0 - tall.at(service.Position{Across: 1, Height: 5}).Y; math.Abs(got-sectionTall) > 0.11 {
		t.Errorf("a tall house is %v high, want %v", got, sectionTall)
	}
	if x := p.at(service.Position{Across: 8, Height: 1}).X; x > p.right {
		t.Errorf("what is far outside is drawn at %v, in a gutter", x)
	}
}

// By hand: 10, 11 and 12 at least 4 apart are moved about their middle, 11.
func TestSpread(t *testing.T) {
	for _, c := range []struct{ want, gaps, got []float64 }{
		{[]float64{10, 11, 12}, []float64{0, 4, 4}, []float64{7, 11, 15}},
		{[]float64{10, 11, 30}, []float64{0, 4, 4}, []float64{8.5, 12.5, 30}},
		{[]float64{-9, 60}, []float64{0, 4}, []float64{0, 40}},
		{[]float64{38, 39}, []float64{0, 4}, []float64{36, 40}},
		{nil, nil, []float64{}},
	} {
		if got := spread(c.want, c.gaps, 0, 40); !reflect.DeepEqual(got, c.got) {
			t.Errorf("%v, %v apart, is spread to %v, want %v", c.want, c.gaps, got, c.got)
		}
	}
}

func TestNamesAreCutBetweenWords(t *testing.T) {
	for name, want := range map[string]string{
		"bench": "bench", "loop outlet, 1.5 m": "loop outlet", "long table by the door": "long table…", "longest table of all": "longest…",
		"seedlings table": "seedlings…", "Gewächshausfensterbrett": "Gewächsha…",
	} {
		if got := shortName(name, longestName); got != want {
			t.Errorf("%q is shortened to %q, want %q", name, got, want)
		}
	}
}

// sketched is the drawing of a house, and the sketch behind it.
func sketched(w words.Words, forms []service.Form, h alarms.HousePicture) *sketch {
	points := map[string]Reading{}
	for _, pl := range h.Places {
		for _, pt := range pl.Points {
			v := ReadingOf(w, h.ID, pl, pt, scenes.Noon)
			points[v.Anchor] = v
		}
	}
	for _, f := range forms {
		if f.House == h.ID {
			return sketchOf(w, f, h, points)
		}
	}
	return nil
}

// clear fails where a text leaves its gutter or lies on another, where leaders
// cross or pass through a dot, or where texts do not stand in the order of what
// they name.
func clear(t *testing.T, s *sketch) {
	t.Helper()
	for i, b := range s.blocks {
		if b.y < s.view.Top || b.y+b.h > s.view.Top+s.view.Height || b.port < 0 || b.port > b.h {
			t.Errorf("the text of %+v leaves the drawing from %v, %v high", *b, s.view.Top, s.view.Height)
		}
		if b.at.Y-b.room < s.view.Top || b.at.Y+b.room > s.view.Top+s.view.Height {
			t.Errorf("what the text of %+v names leaves the drawing from %v, %v high", *b, s.view.Top, s.view.Height)
		}
		if far := b.away(b.w); min(b.x, far) < 0 || max(b.x, far) > s.view.Width || b.left && b.x > s.plot.left-5 || !b.left && b.x < s.plot.right+5 {
			t.Errorf("the text of %+v leaves its gutter beside %v to %v", *b, s.plot.left, s.plot.right)
		}
		if (b.at.Y > s.plot.y0) != (b.spot.Height < 0) {
			t.Errorf("%+v is drawn on the wrong side of the ground at %v", *b, s.plot.y0)
		}
		for _, o := range s.blocks[i+1:] {
			if b.left != o.left {
				if l, r := b, o; l.at.X > r.at.X {
					t.Errorf("leaders to both gutters pass each other: %+v, %+v", *l, *r)
				}
				continue
			}
			up, low := b, o
			if up.y > low.y {
				up, low = o, b
			}
			if up.y+up.h > low.y {
				t.Errorf("texts lie on each other: %+v, %+v", *up, *low)
			}
			if low.at.Y-up.at.Y < up.room+low.room-0.01 {
				t.Errorf("what the texts name is not in their order, or too near: %+v, %+v", *up, *low)
			}
		}
	}
}

func TestNoTextLiesOnAnother(t *testing.T) {
	p := scenes.Garden(scenes.Noon)
	for _, core := range []alarms.Words{{}, {Fahrenheit: true}} {
		for _, h := range p.Houses {
			s := sketched(words.New(core), scenes.Forms(), h)
			if len(s.blocks) < 4 {
				t.Fatalf("%s: only %d texts", h.ID, len(s.blocks))
			}
			clear(t, s)
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
		f := service.Form{House: "h", LeanTo: n%2 == 0, Right: r.IntN(2) == 0, Width: between(0.8, 14), Eaves: eaves, Ridge: eaves + between(0, 4),
			Places: map[alarms.PlaceID]service.Position{}, Drives: map[alarms.DriveID]service.Position{}}
		h := alarms.HousePicture{ID: "h", Name: "H", Daypart: alarms.Daypart(r.IntN(3))}
		anywhere := func() service.Position {
			return service.Position{Across: between(-3, f.Width+3), Height: between(-4, f.Ridge+1)}
		}
		for i := range 1 + r.IntN(9) {
			pl := alarms.PlacePicture{ID: alarms.PlaceID(fmt.Sprintf("p%d", i)), Name: strings.Repeat("wide name ", 1+r.IntN(3))}
			for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity, alarms.Soil}[:1+r.IntN(3)] {
				pt := alarms.PointPicture{Quantity: q, HasValue: true, Value: between(-30, 60), Live: r.IntN(3) > 0}
				if r.IntN(2) == 0 {
					pt.Limits = scenes.Limits(2, 5, 30, 35)
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
		clear(t, sketched(words.New(alarms.Words{}), []service.Form{f}, h))
		if t.Failed() {
			t.Fatalf("seed %d, house %d: %+v", seed, n, f)
		}
	}
}

// Room is kept for the words of every state.
func TestNothingMovesWithTheValues(t *testing.T) {
	w, h := words.New(alarms.Words{}), scenes.Garden(scenes.Noon).Houses[0]
	before := sketched(w, scenes.Forms(), h)
	for i := range h.Places {
		for j := range h.Places[i].Points {
			h.Places[i].Points[j].Value, h.Places[i].Points[j].Live = -12.3, false
		}
	}
	for i := range h.Drives {
		h.Drives[i].State, h.Drives[i].Does = alarms.DriveStanding, "stands still"
	}
	after := sketched(w, scenes.Forms(), h)
	for i, b := range before.blocks {
		if a := after.blocks[i]; b.x != a.x || b.y != a.y || b.at != a.at {
			t.Errorf("text of %+v moved from %v, %v to %v, %v", b.spot, b.x, b.y, a.x, a.y)
		}
	}
	if before.view.Air == nil || after.view.Air != nil {
		t.Error("the way of the air is drawn while the exhaust fan runs, and only then")
	}
}
