package alarms

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

// fanHouse has a two-stage thermostat, a fan with its shutter, a loop fan by
// the season, a heater and a box of selectors.
func fanHouse() House {
	open := []Season{SeasonOpen, SeasonChanging}
	return House{ID: "long-house",
		Places: []Place{{ID: "bench", Probes: []Probe{
			{ID: "bench-1", Streams: []Stream{{Quantity: Temperature}}},
			{ID: "clamp-1", Streams: []Stream{{Quantity: Current}, {Quantity: Power}}},
			{ID: "switch-1", Streams: []Stream{{Quantity: Contact}}},
		}}, {ID: "door", Probes: []Probe{{ID: "switch-2", Streams: []Stream{{Quantity: Contact}}}}}},
		Controls: []Control{{ID: "thermostat", Place: "bench", Stages: []Stage{
			{Name: "hot", Mode: Cooling, SetPoint: 29.5, Drives: []DriveID{"exhaust"}},
			{Name: "cold", Mode: Heating, SetPoint: 9, Differential: 2, Drives: []DriveID{"warmth", "loop"}, Seasons: open},
		}}},
		Drives: []Drive{
			{ID: "exhaust", Kind: ExhaustFan, With: []DriveID{"shutter"}, Never: []DriveID{"warmth"}, Barred: []Season{SeasonWinter},
				Evidence: []Evidence{{Probe: "clamp-1", Quantity: Current, Above: At(0.1)}}},
			{ID: "shutter", Kind: IntakeShutter, Evidence: []Evidence{{Probe: "switch-1", Quantity: Contact}}},
			{ID: "loop", Kind: LoopFan, Runs: []Run{{Season: SeasonWinter, On: true, OnFor: time.Hour, OffFor: time.Hour}}},
			{ID: "warmth", Kind: Heater, Effect: -1},
		},
		Selectors: []Selector{
			{ID: "fan-switch", Probe: "switch-2", Positions: []Position{
				{Name: "automatic", Follow: []DriveID{"exhaust", "shutter"}, Closed: true},
				{Name: "off", Off: []DriveID{"exhaust", "shutter"}}}},
			{ID: "loop-switch", Positions: []Position{
				{Name: "automatic", Follow: []DriveID{"loop"}, Seasons: open},
				{Name: "on", On: []DriveID{"loop"}, Seasons: []Season{SeasonWinter}}}},
		},
	}
}

func TestControlDefaults(t *testing.T) {
	given := fanHouse()
	given.Drives = append(given.Drives, Drive{ID: "second", Kind: LoopFan, Runs: []Run{{Season: SeasonOpen, On: true}}})
	plan := Plan{Houses: []House{given}}
	if found := plan.Check(); found != nil {
		t.Fatal(found)
	}
	h := plan.withDefaults().Houses[0]
	c := h.Controls[0]
	if s := c.Stages[0]; c.Name != "thermostat" || s.Differential != 2.8 || s.Tolerance != 1.5 || c.Stages[1].Differential != 2 {
		t.Errorf("got the control %+v, want a differential of 2.8 and 2 K and a tolerance of 1.5 K", c)
	}
	for i, want := range []Drive{
		{Name: "exhaust fan", Start: 2 * time.Minute, Stop: 2 * time.Minute, Effect: 15 * time.Minute, Priority: High},
		{Name: "intake shutter", Start: 3 * time.Minute, Stop: 3 * time.Minute, Effect: -1, Priority: Medium},
		{Name: "loop", Start: 2 * time.Minute, Stop: 2 * time.Minute, Effect: -1, Priority: Medium},
		{Name: "heater", Start: 2 * time.Minute, Stop: 2 * time.Minute, Effect: -1, Priority: High},
	} {
		d := h.Drives[i]
		if d.Name != want.Name || d.Start != want.Start || d.Stop != want.Stop || d.Effect != want.Effect ||
			d.Priority != want.Priority || d.MaxStarts != 10 {
			t.Errorf("got the drive %+v, want %+v and 10 starts", d, want)
		}
	}
	if e := h.Drives[1].Evidence[0]; e.Above != At(0.5) {
		t.Errorf("got the contact %+v, want it to count from 0.5", e)
	}
	if h.Selectors[0].At != "automatic" || h.Selectors[1].Name != "loop-switch" {
		t.Errorf("got the selectors %+v", h.Selectors)
	}
	if given.Controls[0].Stages[0].Differential != 0 || given.Drives[1].Evidence[0].Above.Set || given.Drives[0].Name != "" {
		t.Error("the plan handed in was changed")
	}
}

func TestControlChecks(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(h *House)
		want  string
	}{
		"no stage":        {func(h *House) { h.Controls[0].Stages = nil }, "has no stage"},
		"no place":        {func(h *House) { h.Controls[0].Place = "roof" }, "control.thermostat.place: is no place of house long-house (got \"roof\"); it has bench, door"},
		"cold place":      {func(h *House) { h.Controls[0].Place = "door" }, "must have a temperature probe, or the thermostat cannot be judged (got \"door\")"},
		"set point":       {func(h *House) { h.Controls[0].Stages[0].SetPoint = math.NaN() }, "stage.hot.set-point: must be from -30 °C to 70 °C (got NaN °C)"},
		"differential":    {func(h *House) { h.Controls[0].Stages[0].Differential = -1 }, "stage.hot.differential: must be from 0.05 K to 30 K (got -1 K)"},
		"no differential": {func(h *House) { h.Controls[0].Stages[0].Differential = 1e-20 }, "stage.hot.differential: must be from 0.05 K to 30 K (got 1e-20 K)"},
		"tolerance":       {func(h *House) { h.Controls[0].Stages[0].Tolerance = math.Inf(1) }, "stage.hot.tolerance: must be from 0.05 K to 30 K (got +Inf K)"},
		"no humidity": {func(h *House) {
			h.Controls = append(h.Controls, Control{ID: "second", Place: "bench", Stages: []Stage{{Mode: Drying, SetPoint: 85, Drives: []DriveID{"shutter"}}}})
		}, "control.second.place: must have a humidity probe, or the humidistat cannot be judged"},
		"times":      {func(h *House) { h.Drives[0].Start = -1 }, "drive.exhaust.start-within: must be above 0 and at most 2h0m0s"},
		"what shows": {func(h *House) { h.Drives[0].Evidence[0].Quantity = Voltage }, "must be \"contact\", \"current\", \"power\", \"speed\", \"position\" or \"temperature\" (got \"voltage\")"},
		"usual warmth": {func(h *House) {
			h.Drives[0].Evidence[0] = Evidence{Probe: "bench-1", Quantity: Temperature, Above: At(20), UsualLow: At(21)}
		}, "no temperature is usual"},
		"drives nothing":   {func(h *House) { h.Controls[0].Stages[0].Drives = nil }, "drives nothing"},
		"unknown drive":    {func(h *House) { h.Controls[0].Stages[0].Drives[0] = "fan" }, "stage.hot.drives.#0: is no drive of house long-house (got \"fan\"); it has exhaust"},
		"two alike":        {func(h *House) { h.Controls[0].Stages[1].Name = "hot" }, "stage.hot: is the name of two stages"},
		"crossed":          {func(h *House) { h.Controls[0].Stages[1].SetPoint = 28 }, "stage cold heats from 28 °C up to 30 °C, yet stage hot cools from 29.5 °C"},
		"season":           {func(h *House) { h.Controls[0].Stages[0].Seasons = []Season{"summer"} }, "stage.hot.seasons.#0: must be \"open\", \"changing\" or \"winter\" (got \"summer\")"},
		"one name":         {func(h *House) { h.Drives[1].ID = "bench" }, "a place of this house has the same name"},
		"taken word":       {func(h *House) { h.Selectors[0].ID = "season" }, "must not be named \"season\""},
		"kind":             {func(h *House) { h.Drives[0].Kind = "fan" }, "\"grow-light\" or \"misting\" (got \"fan\")"},
		"with itself":      {func(h *House) { h.Drives[0].With = []DriveID{"exhaust"} }, "must name another drive (got \"exhaust\", which is this one)"},
		"with and never":   {func(h *House) { h.Drives[1].Never = []DriveID{"exhaust"} }, "exhaust.with.#0: must not be named under never-with too (got \"shutter\")"},
		"with one barred":  {func(h *House) { h.Drives[1].Barred = []Season{SeasonOpen} }, "shutter is barred in open (house.long-house.drive.shutter.barred), so it could not run with exhaust then"},
		"starts":           {func(h *House) { h.Drives[0].MaxStarts = -1 }, "max-starts-per-hour: must be above 0 (got -1)"},
		"no drive":         {func(h *House) { h.Drives[0].With = nil }, "drive.shutter: is driven by nothing"},
		"turns":            {func(h *House) { h.Drives[2].Runs[0].OffFor = 0 }, "needs a time on and a time off"},
		"barred run":       {func(h *House) { h.Drives[2].Barred = []Season{SeasonWinter} }, "loop.runs.winter: wants it to run, yet it is barred in winter"},
		"stage and season": {func(h *House) { h.Drives[2].Runs[0].Season = SeasonOpen }, "control.thermostat.stage.cold] drives it in open already"},
		"evidence":         {func(h *House) { h.Drives[0].Evidence[0].Quantity = Speed }, "evidence.#0.quantity: is not measured by probe clamp-1 (got \"speed\"); it measures current, power"},
		"no threshold":     {func(h *House) { h.Drives[0].Evidence[0].Above = Limit{} }, "evidence.#0.above: is missing: give the current from which the drive counts as running"},
		"contact":          {func(h *House) { h.Drives[1].Evidence[0].UsualLow = At(1) }, "is not for a contact: closed means that the drive runs"},
		"usual": {func(h *House) { h.Drives[0].Evidence[0].UsualLow, h.Drives[0].Evidence[0].UsualHigh = At(2), At(1) },
			"must be above usual-low (got 1 A, usual-low is 2 A)"},
		"evidence twice": {func(h *House) { h.Drives[0].Evidence = append(h.Drives[0].Evidence, h.Drives[0].Evidence[0]) }, "evidence.#1: current of probe clamp-1 is evidence of this drive already"},
		"one position":   {func(h *House) { h.Selectors[0].Positions = h.Selectors[0].Positions[:1] }, "needs two positions or more"},
		"position names": {func(h *House) { h.Selectors[0].Positions[1].Name = "automatic" }, "needs a name of its own (got \"automatic\")"},
		"starts where":   {func(h *House) { h.Selectors[0].At = "half" }, "starts-at: must be a position of this selector: \"automatic\" or \"off\" (got \"half\")"},
		"says nothing":   {func(h *House) { h.Selectors[0].Positions[1].Off = []DriveID{"exhaust"} }, "position.off: does not say what becomes of shutter"},
		"drive twice":    {func(h *House) { h.Selectors[0].Positions[1].On = []DriveID{"exhaust"} }, "is named under \"on\" too (got \"exhaust\")"},
		"two selectors": {func(h *House) { h.Selectors = append(h.Selectors, h.Selectors[1]); h.Selectors[2].ID = "third" },
			"selector.third: drive loop hangs on selector loop-switch too"},
		"no contact":     {func(h *House) { h.Selectors[0].Probe = "bench-1" }, "must measure a contact, which tells the position (got \"bench-1\")"},
		"none closed":    {func(h *House) { h.Selectors[0].Positions[0].Closed = false }, "two positions, one of them with closed = true (this selector has 2, closed = true stands in 0)"},
		"closed alone":   {func(h *House) { h.Selectors[0].Probe = "" }, "is for a selector with a probe"},
		"two tellers":    {func(h *House) { h.Selectors[1].Probe = "switch-2" }, "is not for a selector with a probe, which tells the position already"},
		"season missing": {func(h *House) { h.Selectors[1].Positions[1].Seasons = nil }, "has no position for season \"winter\""},
	} {
		h := fanHouse()
		c.spoil(&h)
		found := Plan{Houses: []House{h}}.Check()
		if !slices.ContainsFunc(found, func(p Problem) bool { return strings.Contains(p.Error(), c.want) }) {
			t.Errorf("%s: got %v, want %q in it", name, found, c.want)
		}
	}
}
