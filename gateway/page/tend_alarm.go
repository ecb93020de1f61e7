package page

import (
	"net/http"
	"net/url"
	"time"

	"telltale/alarms"
)

// tendSayings are those of this file and its neighbours.
var tendSayings = map[string]string{
	"alarm-out":       "The alarm is out of service: nobody is told of it until somebody puts it back.",
	"alarm-back":      "The alarm is back in service.",
	"vents-covered":   "Noted: the vents are covered. The season is winter, and the limits of winter hold.",
	"vents-uncovered": "Noted: the vents are uncovered. The season is open, and its limits hold.",
	"calibrated":      "The probe is calibrated. The correction counts from now on, in alarms, history and export.",
	"uncalibrated":    "The calibration is taken back: nothing is added to the readings any more.",
}

// thenTo is where a form that was sent without script goes next: back to the
// page it stood on.
func thenTo(r *http.Request, said string) string {
	switch r.PostForm.Get("then") {
	case "alarm":
		return "/alarm?" + url.Values{"id": {r.PostForm.Get("alarm")}, "said": {said}}.Encode()
	case "probe":
		return "/probes/" + url.PathEscape(r.PostForm.Get("probe")) + "?said=" + said
	}
	return "/?said=" + said
}

// reasonGiven is why something is put aside. Somebody else must be able to see
// that later.
func reasonGiven(r *http.Request) (string, error) {
	why := tidy(r.PostForm.Get("reason"), maxReason)
	if why == "" {
		return "", faultf(kindInvalid, "Give the reason in a few words, so that everybody can see why it is put aside. Nothing was done.")
	}
	return why, nil
}

// takeAlarmOut takes one alarm out of service.
func (s *Server) takeAlarmOut(w http.ResponseWriter, r *http.Request) error {
	id := alarms.AlarmID(r.PostForm.Get("alarm"))
	why, err := reasonGiven(r)
	if err != nil {
		return err
	}
	in := alarms.Input{At: s.watch.Now(), Kind: alarms.TakeOut, Alarm: id, By: s.who(w, r), Note: why}
	if err := s.watch.Do(r.Context(), in); err != nil {
		return err
	}
	if a, err := s.find(string(id)); err != nil || a.State != alarms.OutOfService {
		return faultf(kindChanged, "There is no such alarm to take out of service, so nothing was done.")
	}
	return s.done(w, r, "alarm-out")
}

// putAlarmBack puts one alarm back into service, and its probe where it was
// that which was taken out.
func (s *Server) putAlarmBack(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	in := alarms.Input{At: s.watch.Now(), Kind: alarms.PutBack, Alarm: a.ID, By: s.who(w, r)}
	if p, ok := probeOutBy(s.watch.Picture(), a); ok {
		in.Alarm, in.Probe = "", p.ID
	}
	if err := s.watch.Do(r.Context(), in); err != nil {
		return err
	}
	return s.done(w, r, "alarm-back")
}

// probeOutBy is the probe, out of service, whose silence a tells of.
func probeOutBy(p alarms.Picture, a alarms.AlarmPicture) (alarms.ProbePicture, bool) {
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				if pr.OutOf && a.ID == alarms.AlarmID(string(h.ID)+"/"+string(pl.ID)+"/"+string(pr.ID)+"/silent") {
					return pr, true
				}
			}
		}
	}
	return alarms.ProbePicture{}, false
}

// shelvedWords says who put an alarm aside, until when and why.
func (w words) shelvedWords(a alarms.AlarmPicture, now time.Time) string {
	s := "Shelved"
	if a.By != "" {
		s += " by " + a.By
	}
	return sentence(s + " until " + w.clock(a.Until, now) + because(a.Note))
}

// outWords says who took something out of service and why.
func outWords(by, why string) string {
	s := "Out of service until somebody puts it back"
	if by != "" {
		s += ", taken out by " + by
	}
	return sentence(s + because(why))
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ": “" + why + "”"
}

func sentence(s string) string { return s + "." }
