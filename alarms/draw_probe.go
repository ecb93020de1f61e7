package alarms

func (e *Engine) drawProbe(pr *probe) ProbePicture {
	pp := ProbePicture{ID: pr.plan.ID, Name: pr.plan.Name, Circuit: pr.plan.Circuit, Learned: pr.plan.Every == 0,
		Interval: pr.plan.Every, Silent: pr.node.silent(), OutOf: pr.Out, Garbled: pr.GarbledN}
	var faults faultSet
	for _, st := range pr.streams {
		faults |= st.Faults
		pp.Readings += st.Taken
		pp.Refused += st.Refused
		if heard := st.Heard.time(); heard.After(pp.Heard) {
			pp.Heard = heard
		}
		if st.leaf && pp.Interval == 0 {
			pp.Interval = st.interval()
		}
		v := st.Value
		switch {
		case !st.Has:
		case st.plan.Quantity == Battery:
			pp.Battery = &v
		case st.plan.Quantity == Signal:
			pp.Signal = &v
		}
	}
	pp.Faults = faults.names()
	pp.Values = e.drawValues(pr)
	pp.Calibrations = e.drawCalibrations(pr)
	if a := pr.node.alarm; pr.Out && a.State == OutOfService {
		pp.OutSince, pp.OutBy, pp.OutNote = a.Changed.time(), a.By, a.Note
	}
	return pp
}

// drawValues lists what pr measures, in the order of the plan.
func (e *Engine) drawValues(pr *probe) []ProbeValue {
	all := make([]ProbeValue, 0, len(pr.streams))
	for _, st := range pr.streams {
		v := ProbeValue{Quantity: st.plan.Quantity, Live: st.usable() && e.link.up()}
		switch {
		case st.Has:
			v.HasValue, v.Value, v.At = true, st.Value, st.ValueAt.time()
		case st.Held:
			v.HasValue, v.Value, v.At, v.Retained = true, st.Retained, st.HeldAt.time(), true
		}
		all = append(all, v)
	}
	return all
}
