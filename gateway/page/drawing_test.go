package page

import (
	"slices"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/words"
)

// Every reading is in the drawing or beside it, once, and in the list of all.
func TestEveryReadingIsShownOnce(t *testing.T) {
	f := newFake()
	f.picture = scenes.Garden(scenes.Noon)
	_, text := start(t, Options{Watch: f, Forms: scenes.Forms()}).get("/")
	n := 0
	for _, h := range f.picture.Houses {
		for _, pl := range h.Places {
			for _, pt := range pl.Points {
				id := words.Anchor("point", string(h.ID), string(pl.ID), string(pt.Quantity))
				_, placed := scenes.Forms()[map[alarms.HouseID]int{"long-house": 0, "low-house": 1}[h.ID]].Places[pl.ID]
				drawn := 0
				if placed && slices.Contains([]alarms.Quantity{alarms.Temperature, alarms.Soil, alarms.Surface, alarms.Humidity}, pt.Quantity) {
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
	f.picture = scenes.Garden(scenes.Noon)
	f.change(func(p *alarms.Picture) {
		bench := p.Houses[0].Places[0].Points
		bench[0].Value, bench[0].Level, bench[0].Side = 37.4, alarms.Inner, alarms.HighSide
		p.Houses[0].Places[1].Points[0].Live = false
		p.Houses[1].Places[0].Points[0].Value = 39.5
	})
	_, text := start(t, Options{Watch: f, Forms: scenes.Forms()}).get("/")
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

// TestAHouseWithoutAFormIsDrawnPlain: with its numbers, said not to be as it is, and
// with the lines that would draw it so.
func TestAHouseWithoutAFormIsDrawnPlain(t *testing.T) {
	f := newFake()
	f.change(allWell)
	_, text := start(t, Options{Watch: f, Forms: scenes.Plain()}).get("/")
	for _, want := range []string{`class="drawing plain"`, "A plain house: what Long House looks like, and where in it the probes hang, nobody has said yet.",
		"[house.long-house.form]\nroof = \"ridge\"", `<a href="/help/config">`, `<tspan class="fig">31.3</tspan>`} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not have %q", want)
		}
	}
	if _, text := start(t, Options{Watch: f, Forms: scenes.Forms()}).get("/"); strings.Contains(text, "plain") {
		t.Error("a house with a form is drawn plain")
	}
}
