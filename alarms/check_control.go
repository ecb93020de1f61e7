package alarms

import "telltale/alarms/control"

// causes returns the likeliest cause of a verdict, with what shows beside it,
// and what to look at first. See control.Causes for the table.
func (m *mechanism) causes(f *control.Finding) (cause, check string) {
	o := control.Observed{Kind: f.Kind}
	if f.Drive >= 0 {
		d := m.drives[f.Drive]
		o.Drive, o.Signs = driveKinds[d.Kind], m.judge.Signs(f.Drive)
		if m.poweredDown() {
			o.Signs |= control.ProbesSilent
		}
		if d.Kind == LoopFan {
			o.Signs |= m.house.outletSigns()
		}
	}
	return control.Causes(o)
}

// poweredDown reports whether the house, or a circuit of it, is silent as a whole.
func (m *mechanism) poweredDown() bool {
	for _, n := range m.house.nodes {
		if n.Told && n.alarm.probe == nil {
			return true
		}
	}
	return false
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
