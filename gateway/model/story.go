package model

import (
	"fmt"
	"time"
)

// Story is a stretch of time in which something happens.
type Story struct {
	Name    string // lower-case words joined by hyphens
	Says    string // what happens, in a sentence
	Start   time.Time
	Length  time.Duration
	Weather Weather
	Fitted  Fitted
	Events  []Event
}

// Event is a fault that begins or ends in a story.
type Event struct {
	After time.Duration // from the start of the story
	Fault Fault
	On    bool
	Says  string // a sentence for people who watch
}

// Tell returns the garden at the start of a story, with all that will happen
// in it arranged. It is an error if the story names what is not there.
func Tell(st Story, seed uint64) (*Sim, error) {
	s := open(st.Start, seed, st.Weather, st.Fitted)
	for _, e := range st.Events {
		if err := s.schedule(s.start.Add(e.After), e.Fault, e.On); err != nil {
			return nil, fmt.Errorf("story %s: %w", st.Name, err)
		}
	}
	return s, nil
}

// Stories returns every story there is.
func Stories() []Story {
	return []Story{hotAfternoon(), frostyNight(), closedShutter(), sickProbes(), brokerAway(), weldedRelay()}
}

// Find returns a story by its name.
func Find(name string) (Story, bool) {
	for _, s := range Stories() {
		if s.Name == name {
			return s, true
		}
	}
	return Story{}, false
}

func hotAfternoon() Story {
	fan := Fault{Kind: FanDead, House: "long-house"}
	ridge := Fault{Kind: ProbeSilent, Probe: "ridge-1"}
	return Story{
		Name:  "hot-afternoon",
		Says:  "On a hot, clear July day the exhaust fan of Long House dies at 13:10; it is mended at 15:30, and in the evening the ridge probe falls silent.",
		Start: time.Date(2026, time.July, 14, 5, 0, 0, 0, time.UTC), Length: 19 * time.Hour,
		Weather: Weather{Fixed: true, Wind: 2, Warmer: 4.5},
		Events: []Event{
			{8*time.Hour + 10*time.Minute, fan, true, "The exhaust fan of Long House dies."},
			{10*time.Hour + 30*time.Minute, fan, false, "The exhaust fan of Long House is mended."},
			{12*time.Hour + 45*time.Minute, ridge, true, "The ridge probe falls silent."},
		},
	}
}

func frostyNight() Story {
	heater := Fault{Kind: HeaterDead, House: "low-house"}
	south := Fault{Kind: BreakerTripped, House: "long-house", Circuit: South}
	return Story{
		Name:  "frosty-night",
		Says:  "In a clear January night the heater of Low House fails from 21:30 to 01:00, and at 02:10 the breaker of Long House's south circuit trips for two hours.",
		Start: time.Date(2026, time.January, 21, 15, 0, 0, 0, time.UTC), Length: 20 * time.Hour,
		Weather: Weather{Fixed: true, Wind: 1.5, Warmer: -2.5},
		Events: []Event{
			{6*time.Hour + 30*time.Minute, heater, true, "The heater of Low House fails."},
			{10 * time.Hour, heater, false, "The heater of Low House works again."},
			{11*time.Hour + 10*time.Minute, south, true, "The breaker of Long House's south circuit trips: loop fan and loop probes are dead."},
			{13*time.Hour + 10*time.Minute, south, false, "The breaker is switched on again."},
		},
	}
}

func closedShutter() Story {
	shutter := Fault{Kind: ShutterStuckClosed, House: "long-house"}
	return Story{
		Name:  "closed-shutter",
		Says:  "On a bright June day the intake shutter of Long House sticks closed at 10:40, and the fan pulls on a closed house until 13:00.",
		Start: time.Date(2026, time.June, 10, 5, 0, 0, 0, time.UTC), Length: 14 * time.Hour,
		Weather: Weather{Fixed: true, Cloud: 0.1, Wind: 2, Warmer: 4},
		Events: []Event{
			{5*time.Hour + 40*time.Minute, shutter, true, "The intake shutter of Long House sticks closed."},
			{8 * time.Hour, shutter, false, "The shutter moves again."},
		},
	}
}

func sickProbes() Story {
	wet := Fault{Kind: ProbeWet, Probe: "bench-1"}
	stuck := Fault{Kind: ProbeStuck, Probe: "intake-1"}
	reset := Fault{Kind: ProbePowerOn, Probe: "ridge-1"}
	return Story{
		Name:  "sick-probes",
		Says:  "In changeable April weather nothing is wrong but the probes: one gets wet, one sticks, one gives its power-on value.",
		Start: time.Date(2026, time.April, 18, 4, 0, 0, 0, time.UTC), Length: 24 * time.Hour,
		Events: []Event{
			{2 * time.Hour, wet, true, "The first bench probe gets wet."},
			{4 * time.Hour, stuck, true, "The intake probe repeats one value."},
			{6 * time.Hour, reset, true, "The ridge probe gives 85.0 °C."},
			{6*time.Hour + 3*time.Minute, reset, false, "The ridge probe measures again."},
			{15 * time.Hour, wet, false, "The first bench probe has dried."},
			{20 * time.Hour, stuck, false, "The intake probe works again."},
		},
	}
}

func brokerAway() Story {
	gone := Fault{Kind: BrokerGone}
	return Story{
		Name:  "broker-away",
		Says:  "In a September night the broker is away for twenty minutes, twice.",
		Start: time.Date(2026, time.September, 3, 20, 0, 0, 0, time.UTC), Length: 6 * time.Hour,
		Events: []Event{
			{time.Hour, gone, true, "The broker goes away."},
			{time.Hour + 20*time.Minute, gone, false, "The broker is back."},
			{3 * time.Hour, gone, true, "The broker goes away again."},
			{3*time.Hour + 20*time.Minute, gone, false, "The broker is back."},
		},
	}
}

func weldedRelay() Story {
	fan := Fault{Kind: FanStuckOn, House: "long-house"}
	return Story{
		Name:  "welded-relay",
		Says:  "On a clear May evening the relay of Long House's exhaust fan welds at 17:30 and the fan runs all night on a closed shutter, until 07:00.",
		Start: time.Date(2026, time.May, 4, 11, 0, 0, 0, time.UTC), Length: 22 * time.Hour,
		Weather: Weather{Fixed: true, Cloud: 0.1, Wind: 1.5, Warmer: 1},
		Events: []Event{
			{6*time.Hour + 30*time.Minute, fan, true, "The relay of the exhaust fan welds."},
			{20 * time.Hour, fan, false, "The relay is replaced."},
		},
	}
}
