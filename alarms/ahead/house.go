package ahead

import (
	"math"
	"slices"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/thermal"
	"telltale/alarms/timing"
)

// HouseHost is a house, as the model of its air sees it.
type HouseHost interface {
	Plan() *alarms.House
	Air() float64     // °C, where the bulb of its thermostats hangs, NaN for not known
	Outside() float64 // °C, likewise
	// Share is at which share of its power d runs now, NaN where that is not known.
	Share(d *alarms.Drive) float64
	// Wanted reports whether season and selectors let d run now.
	Wanted(d *alarms.Drive) bool
	// Fails reports whether it is found that d does not do its work.
	Fails(d *alarms.Drive) bool
	// Basis tells a house from one with another season, other positions, or another plan
	// of what the model rests on; Probes tells those that are believed now, of the air
	// and of that outside, and what they are corrected by.
	Basis() uint64
	Probes() uint64
	// Alarm makes an alarm of the house, after all others.
	Alarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm
}

// modelled are the drives that the model of a house knows, as thermal numbers them.
var modelled = [...]struct {
	kind alarms.DriveKind
	side alarms.Side // on which a limit is near if it fails
}{
	thermal.ExhaustFan: {alarms.ExhaustFan, alarms.HighSide},
	thermal.LoopFan:    {alarms.LoopFan, alarms.LowSide},
	thermal.Heater:     {alarms.Heater, alarms.LowSide},
}

// House is the air of a house: what it is like, and what comes if a drive fails.
type House struct {
	host  HouseHost
	panel *lifecycle.Panel
	kinds [len(modelled)][]*alarms.Drive
	model *thermal.House // nil: nothing was heard yet
	houseState
	drifts drifts
}

// houseState is what is known of the drives since the model's last step.
type houseState struct {
	At    timing.Instant         `json:"at"`
	Seen  timing.Instant         `json:"seen"`
	Share [len(modelled)]float64 `json:"share"` // as last seen; less than 0: not known
	Ran   [len(modelled)]float64 `json:"ran"`   // s at full power
	Lost  [len(modelled)]bool    `json:"lost"`  // it was not known for a while
}

// SavedHouse is a House in a snapshot.
type SavedHouse struct {
	Model []byte `json:"model"`
	houseState
	Drift *driftState `json:"drift,omitempty"`
}

// NewHouse returns the air of a house of which nothing was heard.
func NewHouse(host HouseHost, panel *lifecycle.Panel) *House {
	h := &House{host: host, panel: panel}
	h.drifts.build(h)
	for i, m := range modelled {
		for k := range host.Plan().Drives {
			if d := &host.Plan().Drives[k]; d.Kind == m.kind {
				h.kinds[i] = append(h.kinds[i], d)
			}
		}
	}
	return h
}

func (h *House) begin() *thermal.House {
	return thermal.New(h.host.Plan().Latitude, h.host.Plan().Longitude)
}

// Look takes how the drives run now.
func (h *House) Look(now timing.Instant) {
	if h.model == nil {
		return
	}
	passed := now.Since(h.Seen).Seconds()
	for i := range modelled {
		share := h.share(h.kinds[i])
		if share < 0 || h.Share[i] < 0 {
			h.Lost[i] = true
		} else { // it switched somewhere in between
			h.Ran[i] += (h.Share[i] + share) / 2 * passed
		}
		h.Share[i] = share
	}
	h.Seen = now
}

// share is that of all of a kind together, less than 0 where it is not known.
func (h *House) share(all []*alarms.Drive) float64 {
	sum := 0.0
	for _, d := range all {
		sum += h.host.Share(d)
	}
	switch {
	case len(all) == 0:
		return 0
	case math.IsNaN(sum):
		return -1
	}
	return sum / float64(len(all))
}

// Reading takes a reading of the air, and reports whether the model took it: about once
// a minute.
func (h *House) Reading(now timing.Instant) bool {
	air := h.host.Air()
	if math.IsNaN(air) {
		return false
	}
	if h.model == nil {
		h.model, h.Seen, h.At = h.begin(), now, 0
	}
	h.Look(now)
	if h.At != 0 && now.Since(h.At) < every {
		return false
	}
	in := thermal.In{At: now.UTC(), Wall: h.panel.Clock.At(now), Air: air, Outside: h.host.Outside()}
	for i := range modelled {
		switch passed := now.Since(h.At).Seconds(); {
		case h.Lost[i] || h.Share[i] < 0:
			in.Drives[i] = math.NaN()
		case h.At == 0:
			in.Drives[i] = h.Share[i]
		default:
			in.Drives[i] = min(h.Ran[i]/passed, 1)
		}
	}
	h.model.Step(in)
	h.At, h.Ran, h.Lost = now, [len(modelled)]float64{}, [len(modelled)]bool{}
	h.drifts.step(now)
	return true
}

// Draw adds what comes of p, where the bulb hangs, if a drive fails, and what the house
// is like.
func (h *House) Draw(p *Place, o *alarms.OutlookPicture) {
	if h.model == nil {
		return
	}
	for i, m := range modelled {
		var wanted []alarms.DriveID
		for _, d := range h.kinds[i] {
			if h.host.Wanted(d) {
				wanted = append(wanted, d.ID)
			}
		}
		if len(wanted) == 0 {
			continue
		}
		hand, limit, ok := h.inHand(thermal.Drive(i), p)
		for k, id := range wanted { // of several it is not known what one does
			if ok {
				o.Drives = append(o.Drives, alarms.DriveFailure{Drive: id, With: slices.Delete(slices.Clone(wanted), k, k+1), Side: m.side, Limit: limit,
					Known: hand.Known, Holds: hand.Holds, Soon: hand.Soon, Middle: hand.Middle, Late: hand.Late})
			}
		}
	}
	for _, f := range h.model.Figures() {
		name := figures[f.Kind]
		o.Figure = append(o.Figure, alarms.FigurePicture{Name: name.name, Unit: name.unit, Value: f.Value, From: f.From, To: f.To})
	}
}

// inHand is how long there is until the next limit of p if all drives of a kind fail; ok
// is false where there is none, or it is not known how warm it is.
func (h *House) inHand(d thermal.Drive, p *Place) (hand thermal.Hand, limit float64, ok bool) {
	_, low, high, known := p.host.Temperature()
	air := h.host.Air()
	if !known || math.IsNaN(air) {
		return hand, 0, false
	}
	s, side := p.side(modelled[d].side), thermal.High
	if s.of == alarms.LowSide {
		side = thermal.Low
	}
	v := s.furthest(low, high)
	if limit, ok = s.next(v); !ok {
		return hand, 0, false
	}
	return h.model.InHand(d, side, limit-(v-air), h.panel.Now.UTC()), limit, true
}

// Left is the time in hand of p, where the bulb hangs, of those drives that fail by what is
// found. Where one of a kind still does its work, nothing is known of it.
func (h *House) Left(p *Place, among func(*alarms.Drive) bool) (left lifecycle.Hand) {
	if h.model == nil {
		return left
	}
	for i, all := range h.kinds {
		works := func(d *alarms.Drive) bool { return h.host.Wanted(d) && !h.host.Fails(d) }
		if !slices.ContainsFunc(all, among) || slices.ContainsFunc(all, works) || !slices.ContainsFunc(all, h.host.Wanted) {
			continue
		}
		hand, limit, ok := h.inHand(thermal.Drive(i), p)
		if until := h.At.Add(hand.Soon); ok && hand.Soon > 0 && (left.Until == 0 || until < left.Until) {
			left = lifecycle.Hand{Until: until, Limit: limit}
		}
	}
	return left
}

// next is the first limit of s that v has not reached; ok is false for none.
func (s *side) next(v float64) (limit float64, ok bool) {
	for l := range s.levels {
		if one := s.place.host.Limit(s.of, level(l)); one.Set && s.of.Sign()*v < s.of.Sign()*one.Value {
			return one.Value, true
		}
	}
	return 0, false
}

// figures are what they are called in a picture, and their units.
var figures = [...]struct{ name, unit string }{
	thermal.Warming:  {alarms.FigureWarming, "K/h"},
	thermal.Loss:     {alarms.FigureLoss, "1/h"},
	thermal.Exchange: {alarms.FigureExchange, "1/h"},
	thermal.LoopHeat: {alarms.FigureLoop, "K/h"},
	thermal.Heating:  {alarms.FigureHeating, "K/h"},
}

// Save returns what Load goes on from; nil where nothing was heard yet.
func (h *House) Save() *SavedHouse {
	if h.model == nil {
		return nil
	}
	return &SavedHouse{h.model.Save(), h.houseState, h.drifts.save()}
}

// Load lets h go on from s, which may be nil. A model that cannot be read begins anew.
func (h *House) Load(s *SavedHouse) {
	if s == nil {
		return
	}
	h.model, h.houseState = h.begin(), s.houseState
	if err := h.model.Load(s.Model); err != nil {
		h.model = h.begin()
	}
	h.drifts.load(s.Drift)
}
