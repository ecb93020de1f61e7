package alarms

import "telltale/alarms/control"

// causes returns the likeliest cause of a verdict, with what shows beside it,
// and what to look at first. See control.Causes for the table.
func (m *mechanism) causes(f *control.Finding) (cause, check string) {
	o := control.Observed{Kind: f.Kind}
	if f.Drive >= 0 {
		d := m.drives[f.Drive]
		o.Drive, o.Signs = driveKinds[d.Kind], m.judge.Signs(f.Drive)
		o.Signs |= m.house.needs() | m.house.coverSign(d)
		if m.house.feed(d).lost() {
			o.Signs |= control.FeedLost
		}
		if d.Kind == LoopFan {
			o.Signs |= m.house.outletSigns()
		}
	}
	return control.Causes(o)
}

// needs is what h needs now, air or warmth, by its dials and its limits.
func (h *house) needs() (s control.Sign) {
	for _, m := range h.mechanisms {
		s |= m.judge.Needs()
	}
	for _, p := range h.places {
		if pt := p.point(Temperature); pt != nil && pt.banded && p != h.outside {
			if pt.high.alarm.Condition != Within {
				s |= control.NeedsAir
			}
			if pt.low.alarm.Condition != Within {
				s |= control.NeedsWarmth
			}
		}
	}
	return s
}

// outletSigns says whether air from the loop's pipes is like that of the house.
func (h *house) outletSigns() control.Sign {
	if h.loop == nil {
		return 0
	}
	alike := 0
	for _, p := range h.loop.pipes {
		if p.noFlow.Condition != Within {
			alike++
		}
	}
	switch alike {
	case 0:
		return 0
	case len(h.loop.pipes):
		return control.AllOutletsLikeHouse
	}
	return control.OneOutletLikeHouse
}
