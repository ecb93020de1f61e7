package alarms

func (e *Engine) drawProbe(pr *probe) ProbePicture {
	pp := ProbePicture{ID: pr.plan.ID, Name: pr.plan.Name, Circuit: pr.plan.Circuit, Learned: pr.plan.Every == 0,
		Interval: pr.plan.Every, Silent: pr.node.silent(), OutOf: pr.Out, Garbled: pr.GarbledN}
	var faults faultSet
	for _, st := range pr.streams {
		faults |= st.Faults
		pp.Readings += st.Taken
		pp.Refused += st.Refused
		if heard := e.wall(st.Heard); heard.After(pp.Heard) {
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
		pp.OutSince, pp.OutBy, pp.OutNote = e.wall(a.Changed), a.By, a.Note
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
			v.HasValue, v.Value, v.At = true, st.Value, e.wall(st.ValueAt)
		case st.Held:
			v.HasValue, v.Value, v.At, v.Retained = true, st.Retained, e.wall(st.HeldAt), true
		}
		if v.HasValue {
			v.Shows = st.shows(v.Value)
		}
		all = append(all, v)
	}
	return all
}

// shows is what value v of st says of the drive that a contact is evidence of:
// "is open", "runs". Which way round a contact works is known to the plan alone;
// what else a stream shows stands in its value.
func (st *stream) shows(v float64) string {
	if st.plan.Quantity == Contact && len(st.opens) > 0 {
		return "is " + map[bool]string{true: StateOpen, false: StateShut}[st.opens[0].plan.opens(v)]
	}
	if st.plan.Quantity != Contact || len(st.evidence) == 0 {
		return ""
	}
	of := st.evidence[0]
	d := of.m.drives[of.drive]
	words := verbs(d.Kind)
	if (v >= closedContact) != d.Evidence[of.index].Inverted {
		return words.runs
	}
	return words.stands
}
