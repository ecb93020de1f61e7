package alarms

const (
	defaultWarmBelow = 12.0
	defaultCoolAbove = 22.0
)

// withDefaults returns a copy of l, of house h, in which nothing is left to
// default.
func (l *Loop) withDefaults(h *House) *Loop {
	if l == nil {
		return nil
	}
	c := *l
	c.Priority = orPriority(c.Priority, Medium)
	if !c.WarmBelow.Set {
		c.WarmBelow = At(defaultWarmBelow)
		if c.CoolAbove.Set {
			c.WarmBelow.Value = min(c.WarmBelow.Value, c.CoolAbove.Value)
		}
	}
	if !c.CoolAbove.Set {
		c.CoolAbove = At(max(defaultCoolAbove, c.WarmBelow.Value))
	}
	if !c.Runs.given() {
		c.Runs = h.firstEvidence(c.Fan)
	}
	if c.FanPower == "" && c.Runs.Quantity == Power {
		c.FanPower = c.Runs.Probe
	}
	c.Pipes = append([]Pipe(nil), c.Pipes...)
	return &c
}

// firstEvidence returns the evidence of a drive that is trusted most, the zero
// value where there is none.
func (h *House) firstEvidence(id DriveID) Evidence {
	for i := range h.Drives {
		if d := &h.Drives[i]; d.ID == id && len(d.Evidence) > 0 {
			return d.Evidence[0]
		}
	}
	return Evidence{}
}
