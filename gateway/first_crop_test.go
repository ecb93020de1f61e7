package gateway

import (
	"slices"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

// A limit that is promised before anything is written is one that the engine
// then judges by, and every limit that it judges by was promised.
func TestNoCropPromisesWhatDoesNotHold(t *testing.T) {
	var f *first
	places := f.Crops()
	if len(places) != len(crop.Names()) {
		t.Fatalf("%d crops can be read, of %d", len(places), len(crop.Names()))
	}
	for _, one := range places {
		e, err := engine.New(alarms.Plan{Houses: []alarms.House{{ID: "h", Places: []alarms.Place{one.Place}}}})
		if err != nil {
			t.Fatalf("%s: %v", one.Crop, err)
		}
		place := e.Picture().Houses[0].Places[0]
		promised := map[alarms.Quantity]bool{}
		for _, h := range say.Holdings(&one.Place, say.Locale{}) {
			q := alarms.Temperature // an exposure to it does not name it
			for _, other := range alarms.Quantities {
				if strings.HasPrefix(h.Says, say.Locale{}.Word(other)) || strings.Contains(h.Says, " of "+say.Locale{}.Word(other)+" at") || strings.Contains(h.Says, " of "+say.Locale{}.Word(other)+" above") || strings.Contains(h.Says, " of "+say.Locale{}.Word(other)+" below") {
					q = other
				}
			}
			promised[q] = true
			if h.Source == "" {
				t.Errorf("%s: %q names no source", one.Crop, h.Says)
			}
		}
		for _, pt := range place.Points {
			banded := slices.ContainsFunc(one.Place.Bands, func(b alarms.Band) bool { return b.Quantity == pt.Quantity })
			counted := slices.ContainsFunc(place.Exposures, func(x alarms.ExposurePicture) bool { return x.Quantity == pt.Quantity })
			if promised[pt.Quantity] != (banded || counted) {
				t.Errorf("%s, %s: promised %v, in force %v", one.Crop, pt.Quantity, promised[pt.Quantity], banded || counted)
			}
		}
	}
}

// The tomato's limits of humidity and of the vapour pressure deficit are counted
// in hours, and no limit is promised that is told at once.
func TestTomatoIsShownAsItIsWatched(t *testing.T) {
	var f *first
	for _, one := range f.Crops() {
		if one.Crop != "tomato" {
			continue
		}
		var says []string
		for _, h := range say.Holdings(&one.Place, say.Locale{}) {
			says = append(says, h.Says)
			if strings.HasPrefix(h.Says, "humidity:") || strings.HasPrefix(h.Says, "vapour") {
				t.Errorf("promised: %q", h.Says)
			}
		}
		all := strings.Join(says, "\n")
		for _, want := range []string{"temperature by day: ", "temperature by night: ", " of humidity at ", " in one spell"} {
			if !strings.Contains(all, want) {
				t.Errorf("%q is missing in:\n%s", want, all)
			}
		}
	}
}
