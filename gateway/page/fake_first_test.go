package page

import (
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config/forms"
	"telltale/gateway/decode"
	"telltale/gateway/page/scenes"
)

// fakeFirst is a broker with some topics and a file that the test sets.
type fakeFirst struct {
	mu       sync.Mutex
	arrivals Arrivals
	ps       []decode.Proposal
	why      string
	garden   Garden
	draft    Draft
	wishes   []Wish
	written  []Wish
	by       string
	given    []string // names that were given accounts
	writeErr error
}

var _ First = (*fakeFirst)(nil)

func newFakeFirst() *fakeFirst {
	temperature := decode.Read{Quantity: alarms.Temperature, At: "/air/t"}
	return &fakeFirst{
		arrivals: Arrivals{Up: true, Why: "Connected to the broker at 127.0.0.1:1883.", Broker: "127.0.0.1:1883", Topics: []Arrival{
			{Topic: "thimble-garth/bench-1", Count: 12, Last: noon.Add(-12 * time.Second), Every: 30 * time.Second,
				Payload: `{"air":{"t":21.4,"rh":0.63},"battery":87,"at":"2026-06-21T12:01:58Z"}`, Size: 70,
				Seems: tongue.Keep("Seems to be %s: %s.", "JSON", tongue.Keep("temperature"))},
			{Topic: "thimble-garth/ridge-1", Count: 3, Last: noon.Add(-40 * time.Second), Payload: "24.9", Size: 4, Probes: []string{"ridge-1"},
				Seems: tongue.Keep("Seems to be %s: %s.", tongue.Keep("a plain number"), tongue.Keep("what it measures it does not say"))},
			{Topic: "workshop/" + strings.Repeat("a-very-long-level/", 8) + "raw", Count: 1, Retained: true, Last: noon, Payload: "ff fe 00 01", Binary: true, Size: 900,
				Seems: tongue.Keep("It is binary, not text. Let the probe send a number, JSON, SenML or line protocol.")},
		}},
		ps: []decode.Proposal{{Form: "json", Clock: decode.Clock{At: "/at"}, Measured: noon, Spots: []decode.Spot{
			{Where: "/air/t", Sent: "21.4", Use: 0, Sure: decode.Likely, Why: tongue.Keep("Its name says what it is, and the number is usual for that."),
				Choices: []decode.Choice{{Read: temperature, Value: 21.4}, {Read: decode.Read{Quantity: alarms.Temperature, At: "/air/t", Unit: "°F"}, Value: -5.9}, {Read: decode.Read{Quantity: alarms.Humidity, At: "/air/t"}, Value: 21.4}}},
			{Where: "/air/rh", Sent: "0.63", Use: 0, Sure: decode.Unsure, Why: tongue.Keep("Its name says what it is, and the number is usual for that."), Ask: tongue.Keep("Is it a ratio from 0 to 1? Then 1 is 100 %."),
				Choices: []decode.Choice{{Read: decode.Read{Quantity: alarms.Humidity, At: "/air/rh", Unit: "ratio"}, Value: 63}, {Read: decode.Read{Quantity: alarms.Humidity, At: "/air/rh"}, Value: 0.63}}},
			{Where: "/uptime", Sent: "4711", Use: -1, Why: tongue.Keep("By its name it is %s.", tongue.Keep("about the probe itself, not what it measures")),
				Choices: []decode.Choice{{Read: decode.Read{Quantity: alarms.Power, At: "/uptime"}, Value: 4711}}},
		}}},
		garden: Garden{File: "thimble-garth.toml"},
		draft: Draft{Mark: "m1", Probe: "bench-1", Place: tomatoPlace(), Gives: []Given{{alarms.Temperature, 21.4, "/air/t"}, {alarms.Humidity, 63, "/air/rh"}},
			Lines: []forms.Line{{Move: "~", Text: ""}, {Move: " ", Text: "[page]"}, {Move: "-", Text: `name = "old"`}, {Move: "+", Text: `name = "Thimble Garth"`}, {Move: "+", Text: ""}, {Move: "+", Text: "[house.long-house]"},
				{Move: "+", Text: `temperature = { from = "/air/t" } # ` + strings.Repeat("long ", 30)}}, Warnings: []tongue.Saying{tongue.Put("there is no [heartbeat]: nobody elsewhere would notice if this machine or the watch stopped")}},
	}
}

func (f *fakeFirst) Arrivals() Arrivals {
	f.mu.Lock()
	defer f.mu.Unlock()
	a := f.arrivals
	a.Topics = slices.Clone(a.Topics)
	return a
}

func (f *fakeFirst) Proposals(topic string) ([]decode.Proposal, string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if topic != "thimble-garth/bench-1" {
		return nil, "No payload has come yet."
	}
	return f.ps, f.why
}

func (f *fakeFirst) GiveAccount(_ context.Context, name, mark, by string) (ProbeAccount, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if mark != f.garden.Mark {
		return ProbeAccount{}, ErrFirstChanged
	}
	if f.writeErr != nil {
		return ProbeAccount{}, f.writeErr
	}
	f.given, f.by = append(f.given, name), by
	return ProbeAccount{User: "bench-1", Password: "gv5rr4sejqk2mzaw", Topic: "thimble-garth", Port: "1883", File: "secrets/probe-bench-1"}, nil
}

func (f *fakeFirst) Garden() (Garden, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.garden, nil
}

// tomatoPlace is as a configuration with the crop would give it.
func tomatoPlace() alarms.Place {
	return alarms.Place{ID: "bench", Bands: []alarms.Band{
		{Quantity: alarms.Temperature, When: alarms.Day, Limits: scenes.Limits(0, 10, 32.2, 37), Source: "a handbook; another handbook (from memory)"}},
		Exposures: []alarms.Exposure{{ID: "mould", Says: "grey mould can set in", Quantity: alarms.Humidity, AtLeast: alarms.At(93), Time: 8 * time.Hour,
			Gap: time.Hour, Source: "a third one"}}}
}

func (f *fakeFirst) Crops() []CropPlace { return []CropPlace{{"tomato", tomatoPlace()}} }

func (f *fakeFirst) Draft(w Wish) (Draft, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.wishes = append(f.wishes, w)
	return f.draft, nil
}

func (f *fakeFirst) Write(_ context.Context, w Wish, mark, by string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if mark != f.draft.Mark {
		return ErrFirstChanged
	}
	if f.writeErr == nil {
		f.written, f.by = append(f.written, w), by
	}
	return f.writeErr
}

// change changes what the fake says.
func (f *fakeFirst) change(with func(*fakeFirst)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	with(f)
}
