package page

import (
	"testing"

	"telltale/alarms"
)

// The ground loop stands below the places of its house, in the core's words;
// a house without one shows nothing of it.
func TestTheGroundLoopIsShown(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	_, before := st.get("/")
	wantNone(t, before, "Ground loop")
	f.change(func(p *alarms.Picture) {
		p.Houses[0].Loop = &alarms.LoopPicture{
			Sentence: "The loop fan runs and brings 640 W of heat.",
			Depths:   "The house wants warmth: the pipe at 2.3 m is the better one now; its air leaves at 10.2 °C.",
			Sums:     "Today so far it brought 4.1 kWh of heat.",
			Pipes: []alarms.PipePicture{
				{Outlet: "upper", Depth: 1.5, Sentence: "The pipe at 1.5 m brings air of 9.2 °C, 300 W of heat."},
				{Outlet: "lower", Depth: 2.3, Sentence: "The pipe at 2.3 m brings air of 10.2 °C, 340 W of heat."},
			},
		}
	})
	_, text := st.get("/")
	wantAll(t, reading(text), "Ground loop", "brings 640 W of heat", "the pipe at 2.3 m is the better one now", "4.1 kWh of heat",
		"The pipe at 1.5 m brings air of 9.2 °C", "The pipe at 2.3 m brings air of 10.2 °C")
}
