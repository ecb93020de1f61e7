package draw

import (
	"cmp"
	"strings"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

// readLine is one place in the lists of a drawing: its readings in words.
type readLine struct {
	Anchor string
	Name   string
	Values []readValue
}

type readValue struct {
	Anchor string
	Name   string // of the quantity
	Value  string
	Words  string
	Mark   string // where it asks for a look
	Old    bool
}

// lists writes the readings of the drawing as a list, and those that are not
// in it as another. Each reading is in one of them.
func (s *sketch) lists(points map[string]Reading) {
	for _, pl := range s.house.Places {
		in := readLine{Anchor: words.Anchor("reads", string(s.house.ID), string(pl.ID)), Name: pl.Name}
		out := in
		out.Anchor += "_beside"
		_, placed := s.form.Places[pl.ID]
		for _, pt := range pl.Points {
			v := points[pointAnchor(s.house.ID, pl.ID, pt.Quantity)]
			if placed && drawn(pt.Quantity) {
				in.Values = append(in.Values, readOf(s.words, pt, v))
				continue
			}
			out.Values = append(out.Values, readOf(s.words, pt, v))
		}
		if len(in.Values) > 0 {
			s.view.Reads = append(s.view.Reads, in)
		}
		if len(out.Values) > 0 {
			s.view.Beside = append(s.view.Beside, out)
		}
	}
}

func readOf(w words.Words, pt alarms.PointPicture, v Reading) readValue {
	r := readValue{Anchor: v.Anchor + "_read", Name: v.Name, Value: strings.TrimSpace(v.Value + v.Unit), Words: briefly(w, pt, v.Standing), Old: !v.Live}
	r.Value = cmp.Or(r.Value, "–")
	switch v.Standing.Mark {
	case "near", "beyond", "far-beyond":
		r.Mark = v.Standing.Mark
	}
	return r
}
