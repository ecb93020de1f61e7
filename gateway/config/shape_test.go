package config

import (
	"math"
	"reflect"
	"testing"

	"telltale/alarms"
	"telltale/gateway/page/service"
)

func TestFormIsRead(t *testing.T) {
	c := load(t, "every-key.toml")
	if len(c.Forms) != 1 || c.Forms[0].Plain {
		t.Fatalf("got the forms %+v, want that of Long House", c.Forms)
	}
	f := c.Forms[0]
	if f.House != "long-house" || !f.LeanTo || !f.Right || f.Width != 3.5 || f.Length != 6 || f.Eaves != 1.7 || f.Ridge != 2.8 {
		t.Errorf("got %+v", f)
	}
	if want := []service.Bench{{From: 0.2, To: 1.4, Height: 0.8}}; !reflect.DeepEqual(f.Bench, want) {
		t.Errorf("got the benches %v, want %v", f.Bench, want)
	}
	if got, want := f.Places["bench"], at(1, 0.9); got != want {
		t.Errorf("the bench's probes hang at %v, want %v", got, want)
	}
	if got, want := f.Drives["exhaust"], at(3.5, 2.5); got != want {
		t.Errorf("the exhaust fan sits at %v, want %v", got, want)
	}
}

// A house of which nobody has said the form is a plain one, in which names that say
// nothing hang apart from each other and within it.
func TestAHouseWithoutAFormIsPlain(t *testing.T) {
	c, problems := Parse("plain.toml", []byte(`nobody-told = { because = "a test" }
[house.shed]
[house.shed.place.outside]
[house.shed.place.bench]
[probe.c]
place = "shed/outside"
topic = "c"
temperature = {}
[probe.d]
place = "shed/bench"
topic = "d"
temperature = {}
[house.shed.place.kit]
[house.shed.place.kat]
[probe.a]
place = "shed/kit"
topic = "a"
temperature = {}
[probe.b]
place = "shed/kat"
topic = "b"
temperature = {}
`), func(string) (string, bool) { return "", false })
	if problems.Err() != nil {
		t.Fatal(problems.Err())
	}
	if len(c.Forms) != 1 || !c.Forms[0].Plain || len(c.Forms[0].Places) != 4 {
		t.Fatalf("got the forms %+v, want a plain one with four places", c.Forms)
	}
	f := c.Forms[0]
	if f.Places["outside"].Across <= f.Width || f.Places["kit"] == f.Places["kat"] {
		t.Errorf("got the places %v of a house %g m wide", f.Places, f.Width)
	}
	for _, id := range []alarms.PlaceID{"kit", "kat", "bench"} {
		if p := f.Places[id]; p.Across <= 0 || p.Across >= f.Width || p.Height <= 0 || p.Height >= f.Eaves {
			t.Errorf("%s hangs at %v, want it within the house", id, p)
		}
	}
}

// By hand: halfway across, a roof that falls from 2.8 m to 1.7 m is at 2.25 m;
// a ridge roof is there at its top, and a quarter across halfway up its slope.
func TestRoof(t *testing.T) {
	for _, c := range []struct {
		form         service.Form
		across, want float64
	}{
		{service.Form{LeanTo: true, Width: 3.5, Eaves: 1.7, Ridge: 2.8}, 0, 2.8},
		{service.Form{LeanTo: true, Width: 3.5, Eaves: 1.7, Ridge: 2.8}, 1.75, 2.25},
		{service.Form{LeanTo: true, Width: 3.5, Eaves: 1.7, Ridge: 2.8}, 9, 1.7},
		{service.Form{LeanTo: true, Right: true, Width: 3.5, Eaves: 1.7, Ridge: 2.8}, 0, 1.7},
		{service.Form{Width: 2.4, Eaves: 1.2, Ridge: 2}, 1.2, 2},
		{service.Form{Width: 2.4, Eaves: 1.2, Ridge: 2}, 0.6, 1.6},
	} {
		if got := (&shapeSite{Form: c.form}).roof(c.across); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("the roof of %+v at %v m: got %v, want %v", c.form, c.across, got, c.want)
		}
	}
}

// Where the file says nothing, a name or a part in the house's work says where
// something is, and always inside the form or where it must be.
func TestSpotsFollowFromWhatThingsAre(t *testing.T) {
	f := service.Form{LeanTo: true, Width: 3.5, Eaves: 1.7, Ridge: 2.8, Bench: []service.Bench{{From: 2.3, To: 3.3, Height: 0.8}}}
	site := &shapeSite{Form: f, pipes: []buried{{"deep-outlet", 2.3}}}
	for id, good := range map[string]func(service.Position) bool{
		"outside":     func(s service.Position) bool { return s.Across > f.Width },
		"ridge":       func(s service.Position) bool { return s.Height > f.Eaves && s.Height < site.roof(s.Across) },
		"bench-north": func(s service.Position) bool { return s.Across > 2.3 && s.Across < 3.3 && s.Height > 0.8 },
		"deep-outlet": func(s service.Position) bool { return s.Height == -2.3 && s.Across > 0 && s.Across < f.Width },
		"bed":         func(s service.Position) bool { return s.Height < 0.3 && s.Across > 0 && s.Across < f.Width },
	} {
		spot, ok := site.placeSpot(alarms.PlaceID(id))
		if !ok || !good(spot) {
			t.Errorf("%s: got %+v, %v", id, spot, ok)
		}
	}
	if spot, ok := site.placeSpot("tool-store"); ok {
		t.Errorf("nothing says where a tool store is, got %+v", spot)
	}
	first, second := site.driveSpot("exhaust-fan", 0), site.driveSpot("exhaust-fan", 1)
	if first == second || first.Across != 0 || first.Height < f.Eaves {
		t.Errorf("two exhaust fans sit at %v and %v, want both high on the high wall and apart", first, second)
	}
}
