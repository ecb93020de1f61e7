package page

import "telltale/alarms"

// loopView is the ground loop of a house, in the core's words.
type loopView struct {
	Anchor string
	Says   []string
	Pipes  []pipeView
}

type pipeView struct{ Anchor, Name, Words string }

func loopOf(h alarms.HousePicture) *loopView {
	l := h.Loop
	if l == nil {
		return nil
	}
	v := &loopView{Anchor: anchor("loop", string(h.ID)), Says: []string{l.Sentence, l.Depths, l.Sums}}
	for _, p := range l.Pipes {
		v.Pipes = append(v.Pipes, pipeView{anchor("pipe", string(h.ID), string(p.Outlet)), p.Name, p.Sentence})
	}
	return v
}
