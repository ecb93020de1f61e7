package page

import (
	"errors"
	"net/http"
	"net/url"

	"telltale/alarms"
)

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

func (s *Server) probePage(w http.ResponseWriter, r *http.Request) error {
	words, now := s.wordsOf(r), s.watch.Now()
	h, pl, p, ok := placeOf(s.picture(words), r.PathValue("id"))
	if !ok {
		return faultf(kindAbsent, "There is no such probe.")
	}
	all, err := s.options.Tending.Deliveries(r.Context())
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return &fault{Kind: kindInvalid, Say: "That page cannot be found.", Err: err}
	}
	v := probePage{frame: s.frame(w, r, "Probe "+p.Name), House: h.Name, Out: p.OutOf, Who: rememberedName(r),
		Entry: words.probeEntry(pl.Name, p, all[p.ID], now)}
	v.Said = sayings[r.Form.Get("said")]
	for _, one := range p.Values {
		v.Values = append(v.Values, words.valueFact(one))
		if one.Quantity.Calibrates() {
			v.Calibrates = append(v.Calibrates, words.calibrationForm(r, p, one.Quantity))
		}
	}
	status := http.StatusOK
	if q := alarms.Quantity(r.Form.Get("quantity")); q != "" {
		v.Proposal, err = s.proposed(r, words, p, q)
		if f := asFault(err); f != nil {
			v.Wrong, status = f.Say, kindStatus[f.Kind]
		} else if err != nil {
			return err
		}
	}
	return s.render(w, status, "probe", v)
}

// proposed works out what the request asks for.
func (s *Server) proposed(r *http.Request, w words, p alarms.ProbePicture, q alarms.Quantity) (*proposal, error) {
	for _, v := range p.Values {
		if v.Quantity == q && q.Calibrates() {
			return s.propose(r.Context(), w, r, p, q, s.watch.Now())
		}
	}
	return nil, faultf(kindInvalid, "A probe is calibrated for its temperature or its humidity, and this one has no such thing.")
}

// asFault is err where a visitor may see it, nil else.
func asFault(err error) *fault {
	var f *fault
	if errors.As(err, &f) {
		return f
	}
	return nil
}

// placeOf finds a probe with its place and house.
func placeOf(p alarms.Picture, id string) (h alarms.HousePicture, pl alarms.PlacePicture, pr alarms.ProbePicture, ok bool) {
	for _, h = range p.Houses {
		for _, pl = range h.Places {
			for _, pr = range pl.Probes {
				if string(pr.ID) == id {
					return h, pl, pr, true
				}
			}
		}
	}
	return h, pl, pr, false
}

func (w words) valueFact(v alarms.ProbeValue) fact {
	f := fact{Name: capital(v.Quantity.Word()), Words: "nothing heard yet"}
	value := w.value(v.Quantity, v.Value)
	if v.Shows != "" {
		value = saysIt(v.Shows) + " (" + value + ")"
	}
	switch {
	case v.HasValue && v.Retained:
		f.Words = value + ", a value that the broker kept"
	case v.HasValue && !v.Live:
		f.Words = value + ", not live"
	case v.HasValue:
		f.Words = value
	}
	return f
}

func (w words) calibrationForm(r *http.Request, p alarms.ProbePicture, q alarms.Quantity) calibrationForm {
	f := calibrationForm{Quantity: q, Word: q.Word(), Unit: w.unit(q), Example: w.example(q), Against: "reference"}
	if by := offsetOf(p, q); by != 0 {
		f.Now = w.fineStep(q, by) + " is added to each reading now."
		if by < 0 {
			f.Now = w.fineStep(q, by) + " is taken off each reading now."
		}
	}
	if q == alarms.Humidity {
		f.Salts = salts
	} else {
		f.Ice = w.value(q, icePoint)
	}
	if f.Asked = r.Form.Get("quantity") == string(q); f.Asked {
		f.Against, f.Value = r.Form.Get("against"), tidy(r.Form.Get("value"), 20)
	}
	return f
}
