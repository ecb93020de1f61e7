package api

import (
	"net/http"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/door"
	"telltale/gateway/page/words"
)

// unitOf is the unit in which the API gives q.
func unitOf(q alarms.Quantity) string {
	if q == alarms.Contact {
		return "0 or 1"
	}
	return q.Facts().Unit
}

type accountView struct {
	Account string   `json:"account"`
	Name    string   `json:"name"`
	May     door.May `json:"may"`
}

func (a *API) account(w http.ResponseWriter, r *http.Request) error {
	v := accountView{Name: a.Door.KnownAs(r), May: door.MayAct}
	if a := a.Door.Account(r); a != nil {
		v.Account, v.May = a.ID, a.May
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}

type houseState struct {
	ID       alarms.HouseID  `json:"id"`
	Name     string          `json:"name"`
	Season   alarms.Season   `json:"season"`
	Worst    alarms.Priority `json:"worst"`
	Sentence string          `json:"sentence"`
}

type stateView struct {
	At             time.Time       `json:"at"`
	Link           bool            `json:"link"`
	Newest         time.Time       `json:"newest,omitzero"`
	Sentence       string          `json:"sentence"`
	Worst          alarms.Priority `json:"worst"`
	Active         int             `json:"active"`
	Unacknowledged int             `json:"unacknowledged"`
	PutAside       int             `json:"put_aside"`
	Untold         string          `json:"untold,omitempty"`
	Houses         []houseState    `json:"houses"`
}

func (a *API) state(w http.ResponseWriter, _ *http.Request) error {
	p := a.picture()
	v := stateView{At: p.At.UTC(), Link: p.Link, Newest: p.Newest.UTC(), Sentence: p.Sentence, Houses: []houseState{}}
	if what, why := a.Untold.Words(tongue.English); what != "" {
		v.Untold = what + " " + why
	}
	for _, a := range p.Alarms {
		if a.Active {
			v.Active++
			v.Worst = max(v.Worst, a.Priority)
		}
		if a.StillAside() {
			v.PutAside++
		}
		if a.State == alarms.Unacknowledged || a.State == alarms.ReturnedUnack {
			v.Unacknowledged++
		}
	}
	for _, h := range p.Houses {
		v.Houses = append(v.Houses, houseState{h.ID, h.Name, h.Season, h.Worst, h.Sentence})
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}

type value struct {
	Quantity alarms.Quantity `json:"quantity"`
	Unit     string          `json:"unit"`
	Value    *float64        `json:"value"`
	At       time.Time       `json:"at,omitzero"`
	Live     bool            `json:"live"`
	Retained bool            `json:"retained"`
}

func valueOf(q alarms.Quantity, has bool, measured float64, at time.Time, live, retained bool) value {
	v := value{Quantity: q, Unit: unitOf(q), Live: live, Retained: retained}
	if has {
		v.Value, v.At = &measured, at.UTC()
	}
	return v
}

type point struct {
	value
	Probe  alarms.ProbeID `json:"probe,omitempty"`
	Limits alarms.Limits  `json:"limits"`
	Rate   *float64       `json:"rate_per_hour,omitempty"`
	Level  alarms.Level   `json:"level"`
	Side   alarms.Side    `json:"side"`
}

type place struct {
	ID     alarms.PlaceID   `json:"id"`
	Name   string           `json:"name"`
	Points []point          `json:"points"`
	Probes []alarms.ProbeID `json:"probes"`

	Outlook *outlookView `json:"outlook,omitempty"`
}

type drive struct {
	ID          alarms.DriveID    `json:"id"`
	Name        string            `json:"name"`
	Kind        alarms.DriveKind  `json:"kind"`
	State       alarms.DriveState `json:"state"`
	Failing     bool              `json:"failing"`
	Evidenced   bool              `json:"evidenced"`
	Since       time.Time         `json:"since,omitzero"`
	StartsToday int               `json:"starts_today"`
	RanToday    int64             `json:"ran_today_s"`
	Sentence    string            `json:"sentence"`
}

type selector struct {
	ID        alarms.SelectorID `json:"id"`
	Name      string            `json:"name"`
	At        string            `json:"at"`
	Positions []string          `json:"positions"`
}

type opening struct {
	ID       alarms.OpeningID   `json:"id"`
	Name     string             `json:"name"`
	Kind     alarms.OpeningKind `json:"kind"`
	State    string             `json:"state"`
	Since    time.Time          `json:"since,omitzero"`
	Harms    bool               `json:"harms"`
	Sentence string             `json:"sentence"`
}

type house struct {
	houseState
	Proposed  alarms.Season  `json:"proposed_season,omitempty"`
	Daypart   alarms.Daypart `json:"daypart"`
	Newest    time.Time      `json:"newest,omitzero"`
	Places    []place        `json:"places"`
	Drives    []drive        `json:"drives"`
	Selectors []selector     `json:"selectors"`
	Openings  []opening      `json:"openings"`
}

type housesView struct {
	At     time.Time `json:"at"`
	Houses []house   `json:"houses"`
}

func (a *API) houses(w http.ResponseWriter, _ *http.Request) error {
	p := a.picture()
	v := housesView{At: p.At.UTC(), Houses: []house{}}
	for _, h := range p.Houses {
		v.Houses = append(v.Houses, houseOf(h, p.At))
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}

func houseOf(h alarms.HousePicture, now time.Time) house {
	v := house{houseState: houseState{h.ID, h.Name, h.Season, h.Worst, h.Sentence}, Proposed: h.Proposed, Daypart: h.Daypart,
		Newest: h.Newest.UTC(), Places: []place{}, Drives: []drive{}, Selectors: []selector{}, Openings: []opening{}}
	for _, pl := range h.Places {
		one := place{ID: pl.ID, Name: pl.Name, Points: []point{}, Probes: []alarms.ProbeID{}, Outlook: outlookOf(pl.Outlook, now)}
		for _, pt := range pl.Points {
			one.Points = append(one.Points, point{valueOf(pt.Quantity, pt.HasValue, pt.Value, pt.At, pt.Live, pt.Retained),
				pt.Probe, pt.Limits, pt.Rate, pt.Level, pt.Side})
		}
		for _, pr := range pl.Probes {
			one.Probes = append(one.Probes, pr.ID)
		}
		v.Places = append(v.Places, one)
	}
	for _, d := range h.Drives {
		v.Drives = append(v.Drives, drive{d.ID, d.Name, d.Kind, d.State, d.Failing, d.Evidenced, d.Since.UTC(),
			d.StartsToday, int64(d.RanToday / time.Second), d.Sentence})
	}
	for _, one := range h.Selectors {
		positions := one.Positions
		if positions == nil {
			positions = []string{}
		}
		v.Selectors = append(v.Selectors, selector{one.ID, one.Name, one.At, positions})
	}
	for _, o := range h.Openings {
		v.Openings = append(v.Openings, opening{o.ID, o.Name, o.Kind, o.State, o.Since.UTC(), o.Harms, o.Sentence})
	}
	return v
}

type alarm struct {
	ID         alarms.AlarmID  `json:"id"`
	Transition string          `json:"transition"`
	State      alarms.State    `json:"state"`
	Level      alarms.Level    `json:"level"`
	Priority   alarms.Priority `json:"priority"`
	Rule       alarms.Rule     `json:"rule"`
	House      alarms.HouseID  `json:"house,omitempty"`
	Place      alarms.PlaceID  `json:"place,omitempty"`
	Quantity   alarms.Quantity `json:"quantity,omitempty"`
	Since      time.Time       `json:"since"`
	Active     bool            `json:"active"`
	Chattering bool            `json:"chattering"`
	Until      time.Time       `json:"until,omitzero"`
	By         string          `json:"by,omitempty"`
	Reason     string          `json:"reason,omitempty"`
	Cause      alarms.AlarmID  `json:"cause,omitempty"`
	Title      string          `json:"title"`
	Sentence   string          `json:"sentence"` // what holds now
	First      string          `json:"check_first,omitempty"`
	Left       string          `json:"left,omitempty"`
	Told       string          `json:"told"` // what held when it was last told
	Present    alarms.Present  `json:"present"`
}

type alarmsView struct {
	At     time.Time `json:"at"`
	Alarms []alarm   `json:"alarms"`
}

func (a *API) alarms(w http.ResponseWriter, _ *http.Request) error {
	p := a.picture()
	v := alarmsView{At: p.At.UTC(), Alarms: []alarm{}}
	for _, a := range p.Alarms {
		v.Alarms = append(v.Alarms, alarm{a.ID, a.Transition, a.State, a.Level, a.Priority, a.Rule, a.House, a.Place, a.Quantity,
			a.Since.UTC(), a.Active, a.Chattering, a.Until.UTC(), a.By, a.Note, a.Cause, a.Title, a.Sentence, a.First, a.Left, a.Told, presentOf(a)})
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}

// presentOf is what holds now of a, with its times as the API writes them.
func presentOf(a alarms.AlarmPicture) alarms.Present {
	p := a.Present
	p.At, p.WorstAt, p.FirstAt = p.At.UTC(), p.WorstAt.UTC(), p.FirstAt.UTC()
	return p
}

type probe struct {
	ID       alarms.ProbeID   `json:"id"`
	Name     string           `json:"name"`
	House    alarms.HouseID   `json:"house"`
	Place    alarms.PlaceID   `json:"place"`
	Circuit  alarms.CircuitID `json:"circuit,omitempty"`
	Heard    time.Time        `json:"heard,omitzero"`
	Interval float64          `json:"interval_s"`
	Silent   bool             `json:"silent"`
	Out      bool             `json:"out_of_service"`
	OutSince time.Time        `json:"out_since,omitzero"`
	OutBy    string           `json:"out_by,omitempty"`
	OutWhy   string           `json:"out_reason,omitempty"`
	Faults   []alarms.Fault   `json:"faults"`
	Battery  *float64         `json:"battery_percent,omitempty"`
	Signal   *float64         `json:"signal_dbm,omitempty"`
	Readings uint64           `json:"readings"`
	Refused  uint64           `json:"refused"`
	Garbled  uint64           `json:"garbled"`
	Values   []value          `json:"values"`
}

type probesView struct {
	At     time.Time `json:"at"`
	Probes []probe   `json:"probes"`
}

func (a *API) probes(w http.ResponseWriter, _ *http.Request) error {
	p := a.picture()
	v := probesView{At: p.At.UTC(), Probes: []probe{}}
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				v.Probes = append(v.Probes, probeOf(h.ID, pl.ID, pr))
			}
		}
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}

func probeOf(house alarms.HouseID, place alarms.PlaceID, p alarms.ProbePicture) probe {
	v := probe{ID: p.ID, Name: p.Name, House: house, Place: place, Circuit: p.Circuit, Heard: p.Heard.UTC(),
		Interval: p.Interval.Seconds(), Silent: p.Silent, Out: p.OutOf, OutSince: p.OutSince.UTC(), OutBy: p.OutBy, OutWhy: p.OutNote,
		Faults: append([]alarms.Fault{}, p.Faults...), Battery: p.Battery, Signal: p.Signal,
		Readings: p.Readings, Refused: p.Refused, Garbled: p.Garbled, Values: []value{}}
	for _, one := range p.Values {
		v.Values = append(v.Values, valueOf(one.Quantity, one.HasValue, one.Value, one.At, one.Live, one.Retained))
	}
	return v
}

// picture is the newest picture in the locale of programs: °C, a decimal point
// and 24 hours.
func (a *API) picture() alarms.Picture { return a.Watch.PictureIn(a.Words.In(words.Locale{}).Core) }
