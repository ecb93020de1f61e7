package alarms

import (
	"math"
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
	if err := plan.check(); err != nil {
		t.Fatal(err)
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
		"no place":        {func(h *House) { h.Controls[0].Place = "roof" }, "with a temperature probe (got \"roof\")"},
		"cold place":      {func(h *House) { h.Controls[0].Place = "door" }, "with a temperature probe (got \"door\")"},
		"set point":       {func(h *House) { h.Controls[0].Stages[0].SetPoint = math.NaN() }, "the set point must be from -50 to 100"},
		"differential":    {func(h *House) { h.Controls[0].Stages[0].Differential = -1 }, "the differential must be from 0.01 to 50 K (got -1)"},
		"no differential": {func(h *House) { h.Controls[0].Stages[0].Differential = 1e-20 }, "the differential must be from 0.01 to 50 K (got 1e-20)"},
		"tolerance":       {func(h *House) { h.Controls[0].Stages[0].Tolerance = math.Inf(1) }, "the tolerance must be from 0 to 50 K (got +Inf)"},
		"no humidity": {func(h *House) {
			h.Controls = append(h.Controls, Control{ID: "second", Place: "bench", Stages: []Stage{{Mode: Drying, SetPoint: 85, Drives: []DriveID{"shutter"}}}})
		}, "control second needs a place of the house with a humidity probe"},
		"times":      {func(h *House) { h.Drives[0].Start = -1 }, "the times to start and to stop must be above 0"},
		"what shows": {func(h *House) { h.Drives[0].Evidence[0].Quantity = Voltage }, "what shows that a drive runs is one of"},
		"usual warmth": {func(h *House) {
			h.Drives[0].Evidence[0] = Evidence{Probe: "bench-1", Quantity: Temperature, Above: At(20), UsualLow: At(21)}
		}, "no temperature is usual"},
		"drives nothing":   {func(h *House) { h.Controls[0].Stages[0].Drives = nil }, "drives nothing"},
		"unknown drive":    {func(h *House) { h.Controls[0].Stages[0].Drives[0] = "fan" }, "names drive \"fan\", which the house does not have"},
		"two alike":        {func(h *House) { h.Controls[0].Stages[1].Name = "hot" }, "two stages called hot"},
		"crossed":          {func(h *House) { h.Controls[0].Stages[1].SetPoint = 28 }, "stage cold heats up to 30 °C, but stage hot cools from 29.5 °C"},
		"season":           {func(h *House) { h.Controls[0].Stages[0].Seasons = []Season{"summer"} }, "names season \"summer\""},
		"one name":         {func(h *House) { h.Drives[1].ID = "bench" }, "names must differ"},
		"taken word":       {func(h *House) { h.Selectors[0].ID = "season" }, "not \"season\""},
		"kind":             {func(h *House) { h.Drives[0].Kind = "fan" }, "is of kind \"fan\""},
		"with itself":      {func(h *House) { h.Drives[0].With = []DriveID{"exhaust"} }, "bound to itself"},
		"with and never":   {func(h *House) { h.Drives[1].Never = []DriveID{"exhaust"} }, "must run with drive shutter and must not"},
		"with one barred":  {func(h *House) { h.Drives[1].Barred = []Season{SeasonOpen} }, "which alone is barred in season open"},
		"starts":           {func(h *House) { h.Drives[0].MaxStarts = -1 }, "must be above 0 (got -1)"},
		"no drive":         {func(h *House) { h.Drives[0].With = nil }, "drive shutter is driven by nothing"},
		"turns":            {func(h *House) { h.Drives[2].Runs[0].OffFor = 0 }, "needs a time on and a time off"},
		"barred run":       {func(h *House) { h.Drives[2].Barred = []Season{SeasonWinter} }, "is barred in season winter and shall run then"},
		"stage and season": {func(h *House) { h.Drives[2].Runs[0].Season = SeasonOpen }, "follows control thermostat in season open"},
		"evidence":         {func(h *House) { h.Drives[0].Evidence[0].Quantity = Speed }, "no probe of the house measures that"},
		"no threshold":     {func(h *House) { h.Drives[0].Evidence[0].Above = Limit{} }, "needs the value from which the drive runs"},
		"contact":          {func(h *House) { h.Drives[1].Evidence[0].UsualLow = At(1) }, "takes no figures"},
		"usual": {func(h *House) { h.Drives[0].Evidence[0].UsualLow, h.Drives[0].Evidence[0].UsualHigh = At(2), At(1) },
			"must rise from low to high (got 2 and 1)"},
		"evidence twice": {func(h *House) { h.Drives[0].Evidence = append(h.Drives[0].Evidence, h.Drives[0].Evidence[0]) }, "is named twice"},
		"one position":   {func(h *House) { h.Selectors[0].Positions = h.Selectors[0].Positions[:1] }, "needs two positions or more"},
		"position names": {func(h *House) { h.Selectors[0].Positions[1].Name = "automatic" }, "a name of its own"},
		"starts where":   {func(h *House) { h.Selectors[0].At = "half" }, "starts in position \"half\""},
		"says nothing":   {func(h *House) { h.Selectors[0].Positions[1].Off = []DriveID{"exhaust"} }, "position off does not say what becomes of drive shutter"},
		"drive twice":    {func(h *House) { h.Selectors[0].Positions[1].On = []DriveID{"exhaust"} }, "names drive exhaust twice"},
		"two selectors": {func(h *House) { h.Selectors = append(h.Selectors, h.Selectors[1]); h.Selectors[2].ID = "third" },
			"drive loop hangs on selector loop-switch and on selector third"},
		"no contact":     {func(h *House) { h.Selectors[0].Probe = "bench-1" }, "which is no contact of the house"},
		"none closed":    {func(h *House) { h.Selectors[0].Positions[0].Closed = false }, "two positions and one of them is closed (got 2 and 0)"},
		"closed alone":   {func(h *House) { h.Selectors[0].Probe = "" }, "a closed contact and no probe"},
		"two tellers":    {func(h *House) { h.Selectors[1].Probe = "switch-2" }, "one of them is enough"},
		"season missing": {func(h *House) { h.Selectors[1].Positions[1].Seasons = nil }, "each of [\"open\" \"changing\" \"winter\"] needs its position"},
	} {
		h := fanHouse()
		c.spoil(&h)
		err := Plan{Houses: []House{h}}.check()
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q in it", name, err, c.want)
		}
	}
}
