package page

import (
	"net/http"
	"time"

	"telltale/alarms"
)

// siUnits are the units in which the API gives quantities.
var siUnits = map[alarms.Quantity]string{
	alarms.Temperature: "°C", alarms.Surface: "°C", alarms.Soil: "°C", alarms.Humidity: "%", alarms.Contact: "0 or 1",
	alarms.Current: "A", alarms.Power: "W", alarms.Speed: "%", alarms.Opening: "%", alarms.Battery: "%", alarms.Voltage: "V", alarms.Signal: "dBm",
	alarms.Pressure: "Pa", alarms.VPD: "kPa", alarms.DewMargin: "K",
}

// utc is t as the API writes it; a zero time is left out.
func utc(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC()
}

type apiAccountView struct {
	Account   string `json:"account"`
	Name      string `json:"name"`
	May       May    `json:"may"`
	FormToken string `json:"form_token,omitempty"`
}

func (s *Server) apiAccount(w http.ResponseWriter, r *http.Request) error {
	c, _ := r.Context().Value(callerKey{}).(apiCaller)
	v := apiAccountView{Name: c.name, May: MayAct}
	if c.account != nil {
		v.Account, v.May = c.account.ID, c.account.May
	}
	if c.proof == bySession {
		v.FormToken = s.sessions.token(s.sessions.visitor(r))
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}

type apiHouseState struct {
	ID       alarms.HouseID  `json:"id"`
	Name     string          `json:"name"`
	Season   alarms.Season   `json:"season"`
	Worst    alarms.Priority `json:"worst"`
	Sentence string          `json:"sentence"`
}

type apiStateView struct {
	At             time.Time       `json:"at"`
	Link           bool            `json:"link"`
	Newest         time.Time       `json:"newest,omitzero"`
	Sentence       string          `json:"sentence"`
	Worst          alarms.Priority `json:"worst"`
	Active         int             `json:"active"`
	Unacknowledged int             `json:"unacknowledged"`
	PutAside       int             `json:"put_aside"`
	Untold         string          `json:"untold,omitempty"`
	Houses         []apiHouseState `json:"houses"`
}

func (s *Server) apiState(w http.ResponseWriter, _ *http.Request) error {
	p := s.watch.PictureIn(false)
	v := apiStateView{At: utc(p.At), Link: p.Link, Newest: utc(p.Newest), Sentence: p.Sentence, Houses: []apiHouseState{}}
	if what, why := s.options.Untold.words(); what != "" {
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
		v.Houses = append(v.Houses, apiHouseState{h.ID, h.Name, h.Season, h.Worst, h.Sentence})
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}

type apiValue struct {
	Quantity alarms.Quantity `json:"quantity"`
	Unit     string          `json:"unit"`
	Value    *float64        `json:"value"`
	At       time.Time       `json:"at,omitzero"`
	Live     bool            `json:"live"`
	Retained bool            `json:"retained"`
}

func valueOf(q alarms.Quantity, has bool, value float64, at time.Time, live, retained bool) apiValue {
	v := apiValue{Quantity: q, Unit: siUnits[q], Live: live, Retained: retained}
	if has {
		v.Value, v.At = &value, utc(at)
	}
	return v
}

type apiPoint struct {
	apiValue
	Probe  alarms.ProbeID `json:"probe,omitempty"`
	Limits alarms.Limits  `json:"limits"`
	Rate   *float64       `json:"rate_per_hour,omitempty"`
	Level  alarms.Level   `json:"level"`
	Side   alarms.Side    `json:"side"`
}

type apiPlace struct {
	ID     alarms.PlaceID   `json:"id"`
	Name   string           `json:"name"`
	Points []apiPoint       `json:"points"`
	Probes []alarms.ProbeID `json:"probes"`
}

type apiDrive struct {
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

type apiSelector struct {
	ID        alarms.SelectorID `json:"id"`
	Name      string            `json:"name"`
	At        string            `json:"at"`
	Positions []string          `json:"positions"`
}

type apiOpening struct {
	ID       alarms.OpeningID   `json:"id"`
	Name     string             `json:"name"`
	Kind     alarms.OpeningKind `json:"kind"`
	State    string             `json:"state"`
	Since    time.Time          `json:"since,omitzero"`
	Harms    bool               `json:"harms"`
	Sentence string             `json:"sentence"`
}

type apiHouse struct {
	apiHouseState
	Proposed  alarms.Season  `json:"proposed_season,omitempty"`
	Daypart   alarms.Daypart `json:"daypart"`
	Newest    time.Time      `json:"newest,omitzero"`
	Places    []apiPlace     `json:"places"`
	Drives    []apiDrive     `json:"drives"`
	Selectors []apiSelector  `json:"selectors"`
	Openings  []apiOpening   `json:"openings"`
}

type apiHousesView struct {
	At     time.Time  `json:"at"`
	Houses []apiHouse `json:"houses"`
}

func (s *Server) apiHouses(w http.ResponseWriter, _ *http.Request) error {
	p := s.watch.PictureIn(false)
	v := apiHousesView{At: utc(p.At), Houses: []apiHouse{}}
	for _, h := range p.Houses {
		v.Houses = append(v.Houses, houseOf(h))
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}

func houseOf(h alarms.HousePicture) apiHouse {
	v := apiHouse{apiHouseState: apiHouseState{h.ID, h.Name, h.Season, h.Worst, h.Sentence}, Proposed: h.Proposed, Daypart: h.Daypart,
		Newest: utc(h.Newest), Places: []apiPlace{}, Drives: []apiDrive{}, Selectors: []apiSelector{}, Openings: []apiOpening{}}
	for _, pl := range h.Places {
		one := apiPlace{ID: pl.ID, Name: pl.Name, Points: []apiPoint{}, Probes: []alarms.ProbeID{}}
		for _, pt := range pl.Points {
			one.Points = append(one.Points, apiPoint{valueOf(pt.Quantity, pt.HasValue, pt.Value, pt.At, pt.Live, pt.Retained),
				pt.Probe, pt.Limits, pt.Rate, pt.Level, pt.Side})
		}
		for _, pr := range pl.Probes {
			one.Probes = append(one.Probes, pr.ID)
		}
		v.Places = append(v.Places, one)
	}
	for _, d := range h.Drives {
		v.Drives = append(v.Drives, apiDrive{d.ID, d.Name, d.Kind, d.State, d.Failing, d.Evidenced, utc(d.Since),
			d.StartsToday, int64(d.RanToday / time.Second), d.Sentence})
	}
	for _, one := range h.Selectors {
		positions := one.Positions
		if positions == nil {
			positions = []string{}
		}
		v.Selectors = append(v.Selectors, apiSelector{one.ID, one.Name, one.At, positions})
	}
	for _, o := range h.Openings {
		v.Openings = append(v.Openings, apiOpening{o.ID, o.Name, o.Kind, o.State, utc(o.Since), o.Harms, o.Sentence})
	}
	return v
}

type apiAlarm struct {
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
	Sentence   string          `json:"sentence"` // what holds now
	Told       string          `json:"told"`     // what held when it was last told
	Present    alarms.Present  `json:"present"`
}

type apiAlarmsView struct {
	At     time.Time  `json:"at"`
	Alarms []apiAlarm `json:"alarms"`
}

func (s *Server) apiAlarms(w http.ResponseWriter, _ *http.Request) error {
	p := s.watch.PictureIn(false)
	v := apiAlarmsView{At: utc(p.At), Alarms: []apiAlarm{}}
	for _, a := range p.Alarms {
		v.Alarms = append(v.Alarms, apiAlarm{a.ID, a.Transition, a.State, a.Level, a.Priority, a.Rule, a.House, a.Place, a.Quantity,
			utc(a.Since), a.Active, a.Chattering, utc(a.Until), a.By, a.Note, a.Cause, a.Sentence, a.Told, presentOf(a)})
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}

// presentOf is what holds now of a, with its times as the API writes them.
func presentOf(a alarms.AlarmPicture) alarms.Present {
	p := a.Present
	p.At, p.WorstAt, p.FirstAt = utc(p.At), utc(p.WorstAt), utc(p.FirstAt)
	return p
}

type apiProbe struct {
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
	Values   []apiValue       `json:"values"`
}

type apiProbesView struct {
	At     time.Time  `json:"at"`
	Probes []apiProbe `json:"probes"`
}

func (s *Server) apiProbes(w http.ResponseWriter, _ *http.Request) error {
	p := s.watch.PictureIn(false)
	v := apiProbesView{At: utc(p.At), Probes: []apiProbe{}}
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				v.Probes = append(v.Probes, probeOf(h.ID, pl.ID, pr))
			}
		}
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}

func probeOf(house alarms.HouseID, place alarms.PlaceID, p alarms.ProbePicture) apiProbe {
	v := apiProbe{ID: p.ID, Name: p.Name, House: house, Place: place, Circuit: p.Circuit, Heard: utc(p.Heard),
		Interval: p.Interval.Seconds(), Silent: p.Silent, Out: p.OutOf, OutSince: utc(p.OutSince), OutBy: p.OutBy, OutWhy: p.OutNote,
		Faults: append([]alarms.Fault{}, p.Faults...), Battery: p.Battery, Signal: p.Signal,
		Readings: p.Readings, Refused: p.Refused, Garbled: p.Garbled, Values: []apiValue{}}
	for _, one := range p.Values {
		v.Values = append(v.Values, valueOf(one.Quantity, one.HasValue, one.Value, one.At, one.Live, one.Retained))
	}
	return v
}
