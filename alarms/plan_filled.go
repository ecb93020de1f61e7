package alarms

// Filled returns p with nothing left to default: as an Engine judges by it.
func (p Plan) Filled() Plan { return p.withDefaults() }
