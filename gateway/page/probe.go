package page

import (
	"net/http"
	"net/url"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/words"
)

// calibration is the page of each probe, and what is worked out there.
type calibration struct{ *Server }

// probePage is the page of one probe.
type probePage struct {
	frame
	Entry      probeEntry
	House      string
	Out        bool
	Who        string
	Values     []fact
	Calibrates []calibrationForm
	Proposal   *proposal
	Wrong      string // why nothing was worked out
}

// calibrationForm asks what one quantity is held against.
type calibrationForm struct {
	Quantity alarms.Quantity
	Word     string
	Unit     string
	Example  string
	Now      string // what is added now, "" for nothing
	Ice      string // what it should say in melting ice, "" for no such thing
	Salts    []salt
	Asked    bool // by this request
	Against  string
	Value    string
}

func probeAddress(id alarms.ProbeID) string { return "/probes/" + url.PathEscape(string(id)) }

func (s calibration) probePage(w http.ResponseWriter, r *http.Request) error {
	say, now := s.wordsOf(r), s.watch.Now()
	h, pl, p, ok := placeOf(s.picture(say), r.PathValue("id"))
	if !ok {
		return answer.Say(answer.Absent, "There is no such probe.")
	}
	all, err := s.options.Tending.Deliveries(r.Context())
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return &answer.Error{Kind: answer.Invalid, Say: "That page cannot be found.", Err: err}
	}
	v := probePage{frame: s.frame(r, "Probe %s", p.Name), House: h.Name, Out: p.OutOf, Who: rememberedName(r),
		Entry: probeEntryOf(say, pl.Name, p, all[p.ID], now)}
	v.Said = s.wordsOf(r).Say(sayings[r.Form.Get("said")])
	for _, one := range p.Values {
		v.Values = append(v.Values, valueFact(say, one))
		if one.Quantity.Calibrates() {
			v.Calibrates = append(v.Calibrates, calibrationFormOf(say, r, p, one.Quantity))
		}
	}
	status := http.StatusOK
	if q := alarms.Quantity(r.Form.Get("quantity")); q != "" {
		v.Proposal, err = s.proposed(r, say, p, q)
		if f := answer.AsError(err); f != nil {
			v.Wrong, status = f.In(say.Tongue), f.Status()
		} else if err != nil {
			return err
		}
	}
	return s.render(w, r, status, "probe", v)
}

// proposed works out what the request asks for.
func (s calibration) proposed(r *http.Request, w words.Words, p alarms.ProbePicture, q alarms.Quantity) (*proposal, error) {
	for _, v := range p.Values {
		if v.Quantity == q && q.Calibrates() {
			return s.propose(r.Context(), w, r, p, q, s.watch.Now())
		}
	}
	return nil, answer.Say(answer.Invalid, "A probe is calibrated for its temperature or its humidity, and this one has no such thing.")
}

// placeOf finds a probe with its place and house.
func placeOf(p alarms.Picture, id string) (h alarms.HousePicture, pl alarms.PlacePicture, pr alarms.ProbePicture, ok bool) {
	return probeWhere(p, func(_ alarms.HouseID, _ alarms.PlaceID, pr alarms.ProbePicture) bool { return string(pr.ID) == id })
}

// probeWhere finds the first probe that is what is looked for.
func probeWhere(p alarms.Picture, is func(alarms.HouseID, alarms.PlaceID, alarms.ProbePicture) bool) (h alarms.HousePicture, pl alarms.PlacePicture, pr alarms.ProbePicture, ok bool) {
	for _, h = range p.Houses {
		for _, pl = range h.Places {
			for _, pr = range pl.Probes {
				if is(h.ID, pl.ID, pr) {
					return h, pl, pr, true
				}
			}
		}
	}
	return h, pl, pr, false
}

func valueFact(w words.Words, v alarms.ProbeValue) fact {
	f := fact{Name: words.Capital(w.Core.Word(v.Quantity)), Words: w.Say("nothing heard yet")}
	value := w.Value(v.Quantity, v.Value)
	if v.Shows != "" {
		value = w.SaysIt(v.Shows) + " (" + value + ")"
	}
	switch {
	case v.HasValue && v.Retained:
		f.Words = w.Say("%s, a value that the broker kept", value)
	case v.HasValue && !v.Live:
		f.Words = w.Say("%s, not live", value)
	case v.HasValue:
		f.Words = value
	}
	return f
}

func calibrationFormOf(w words.Words, r *http.Request, p alarms.ProbePicture, q alarms.Quantity) calibrationForm {
	f := calibrationForm{Quantity: q, Word: w.Core.Word(q), Unit: w.Unit(q), Example: exampleOf(w, q), Against: "reference"}
	if by := offsetOf(p, q); by != 0 {
		f.Now = w.Say("%s is added to each reading now.", fineStep(w, q, by))
		if by < 0 {
			f.Now = w.Say("%s is taken off each reading now.", fineStep(w, q, by))
		}
	}
	if q == alarms.Humidity {
		f.Salts = salts
	} else {
		f.Ice = w.Value(q, icePoint)
	}
	if f.Asked = r.Form.Get("quantity") == string(q); f.Asked {
		f.Against, f.Value = r.Form.Get("against"), answer.Tidy(r.Form.Get("value"), 20)
	}
	return f
}
