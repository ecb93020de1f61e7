package forms

import (
	"slices"
	"strings"
	"testing"

	"telltale/alarms/tongue"
)

// A house with its first place is made by its names alone, without coordinates, form or
// probe; what else is said stands where it belongs, and nothing else of the file moves.
func TestANewHouse(t *testing.T) {
	d, out := filled(t, small, "house/+", map[string]string{called: "Low House", "place.+place0": "Potting shelf"})
	plus, minus := added(out)
	want := []string{"[house.low-house]", `name = "Low House"`, "[house.low-house.place.potting-shelf]", `name = "Potting shelf"`}
	if out.Wrong() || len(minus) > 0 || !slices.Equal(slices.DeleteFunc(plus, func(l string) bool { return l == "" }), want) {
		t.Fatalf("+%q -%q %q", plus, minus, out.Problems)
	}
	if out.At != "house/low-house" || !strings.Contains(strings.Join(out.Warnings, "\n"), "has no probe, so nothing watches it") {
		t.Errorf("at %q, to know: %q", out.At, out.Warnings)
	}
	if out.Form.Drawn == nil || !out.Form.Drawn.Plain {
		t.Errorf("it is drawn as %+v", out.Form.Drawn)
	}
	text := d.Text()
	// The list goes on from there: its place, its shape, and a further one.
	var below []string
	for _, thing := range Things(d, tongue.English) {
		if strings.HasPrefix(thing.At, "house/low-house") {
			below = append(below, thing.At)
		}
	}
	for _, at := range []string{"house/low-house/form", "house/low-house/place/potting-shelf", "house/low-house/place/+"} {
		if !slices.Contains(below, at) {
			t.Errorf("%s is not offered among %q", at, below)
		}
	}
	d, out = filled(t, text, "house/low-house/place/+", map[string]string{called: "door", "directions": "left of the path"})
	plus, _ = added(out)
	if out.Wrong() || !strings.Contains(d.Text(), "[house.low-house.place.door]\ndirections = \"left of the path\"\n") || strings.Contains(strings.Join(plus, " "), "name =") || out.At != "house/low-house/place/door" {
		t.Errorf("+%q %q at %q\n%s", plus, out.Problems, out.At, d.Text())
	}
}

func TestANewHouseWithItsShape(t *testing.T) {
	d, out := filled(t, small, "house/+", map[string]string{called: "Low House", "latitude": "50,5", "longitude": "-10", "place.+place0": "bench", "place.+place0.crop": "tomato",
		"form.roof": "ridge", "form.width": "2.4", "form.eaves": "1.2", "form.ridge": "2"})
	if out.Wrong() {
		t.Fatalf("%q %+v", out.Problems, out.Form)
	}
	for _, want := range []string{"latitude = 50.5\nlongitude = -10\n", "[house.low-house.form]\nroof = \"ridge\"\nwidth = 2.4\neaves = 1.2\nridge = 2\n", "[house.low-house.place.bench]\ncrop = \"tomato\"\n"} {
		if !strings.Contains(d.Text(), want) {
			t.Errorf("%q is missing in\n%s", want, d.Text())
		}
	}
	if f := out.Form.Drawn; f == nil || f.House != "low-house" || f.Plain || f.LeanTo || f.Width != 2.4 || len(f.Places) != 1 {
		t.Errorf("it is drawn as %+v", f)
	}
}

// What is wrong with a new house or place stands at its field, also where it is of its
// place or its form; names of others are not taken twice.
func TestWhatIsWrongWithANewHouse(t *testing.T) {
	good := map[string]string{called: "Low House", "place.+place0": "bench"}
	for _, c := range []struct{ at, field, value, says string }{
		{"house/+", called, "", "Say what it is called."},
		{"house/+", called, "!?", "Say what it is called."},
		{"house/+", called, "Long House", "There is one called long-house already."},
		{"house/+", called, "watch", "Something else is called watch already: choose another name."},
		{"house/+", "place.+place0", "", "Say what it is called."},
		{"house/+", "place.+place0.crop", "stone", "stone"},
		{"house/+", "latitude", "95", "95"},
		{"house/+", "form.width", "wide", "wide"},
		{"house/long-house/place/+", called, "bench", "There is one called bench already."},
		{"house/long-house/place/+", called, "Exhaust", "Something else is called exhaust already: choose another name."},
		{"house/long-house/place/+", "crop", "stone", "stone"},
	} {
		v := map[string]string{c.field: c.value}
		for name, value := range good {
			if _, given := v[name]; !given {
				v[name] = value
			}
		}
		if c.at != "house/+" && c.field != called {
			v[called] = "door"
		}
		if c.field == "latitude" {
			v["longitude"] = "10"
		}
		if c.field == "form.width" {
			v["form.roof"], v["form.eaves"], v["form.ridge"] = "ridge", "1.2", "2"
		}
		_, out := filled(t, small, c.at, v)
		at := map[string]string{called: out.Form.Named.Wrong}
		for _, g := range out.Form.Groups {
			for _, f := range g.Fields {
				at[f.Name] = f.Wrong
			}
		}
		if !out.Wrong() || !strings.Contains(at[c.field], c.says) || len(out.Problems) > 0 {
			t.Errorf("%s, %s = %q: at the field %q, else %q", c.at, c.field, c.value, at[c.field], out.Problems)
		}
	}
	if _, out := filled(t, small, "house/+", map[string]string{called: "Low House", "place.+place0": "bench", "latitude": "50"}); !out.Wrong() || !strings.Contains(strings.Join(out.Problems, "\n"), "give both or neither") {
		t.Errorf("half of the coordinates: %q", out.Problems)
	}
}

// Limits of a place that has no probe are refused: nobody would keep what they promise.
func TestLimitsNeedAProbe(t *testing.T) {
	d, out := filled(t, small, "house/long-house/place/+", map[string]string{called: "door"})
	if out.Wrong() {
		t.Fatal(out.Problems)
	}
	if _, out = filled(t, d.Text(), "house/long-house/place/door/+", map[string]string{called: "temperature", "low": "4"}); !out.Wrong() {
		t.Error("limits were taken that nothing watches")
	}
}

func TestANewHouseInGerman(t *testing.T) {
	f, there := Of(draft(t, small), tongue.German, "house/+")
	if !there || f.Title != "Ein weiteres Haus" || f.Named.Hint != "So nennen es Meldungen, und danach heißen Alarme: einmal wählen." {
		t.Fatalf("%t %q %+v", there, f.Title, f.Named)
	}
	var titles []string
	for _, g := range f.Groups {
		titles = append(titles, g.Title)
	}
	if want := []string{"", "Wie es aussieht, für die Zeichnung", "Was die meisten lassen, wie es ist", "Ort 1"}; !slices.Equal(titles, want) {
		t.Errorf("got %q, want %q", titles, want)
	}
}
