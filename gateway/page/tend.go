package page

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/words"
)

// seasonChoice is a season that a house can be put into.
type seasonChoice struct {
	Value alarms.Season
	Words tongue.Text
}

var seasonChoices = []seasonChoice{
	{alarms.SeasonOpen, "open: vents and exhaust fan in use"},
	{alarms.SeasonChanging, "changing over: vents being covered or uncovered"},
	{alarms.SeasonWinter, "winter: vents covered, loop fan alone"},
}

// otherSeasons are those that a house is not in.
func otherSeasons(now alarms.Season) []seasonChoice {
	return slices.DeleteFunc(slices.Clone(seasonChoices), func(c seasonChoice) bool { return c.Value == now })
}

// setSeason puts a house into another season.
func (s acts) setSeason(w http.ResponseWriter, r *http.Request) error {
	season := alarms.Season(r.PostForm.Get("season"))
	if !slices.Contains(alarms.Seasons, season) {
		return answer.Say(answer.Invalid, "Choose a season: open, changing over or winter.")
	}
	return s.changeSeason(w, r, season, "season")
}

func (s acts) takeProbeOut(w http.ResponseWriter, r *http.Request) error {
	return s.serveProbe(w, r, alarms.TakeOut, "probe-out")
}

func (s acts) putProbeBack(w http.ResponseWriter, r *http.Request) error {
	return s.serveProbe(w, r, alarms.PutBack, "probe-back")
}

// serveProbe takes a probe out of service or puts it back.
func (s acts) serveProbe(w http.ResponseWriter, r *http.Request, kind alarms.InputKind, said string) error {
	_, _, p, ok := placeOf(s.watch.Picture(), r.PostForm.Get("probe"))
	if !ok {
		return answer.Say(answer.Changed, "That probe is not there any more, so nothing was done.")
	}
	if p.OutOf == (kind == alarms.TakeOut) { // somebody was quicker
		s.who(w, r)
		return s.done(w, r, said)
	}
	in := alarms.Input{Kind: kind, Probe: p.ID}
	if kind == alarms.TakeOut {
		why, err := reasonGiven(r)
		if err != nil {
			return err
		}
		in.Note = why
	}
	return s.do(w, r, in, said)
}

// tendSayings are those of this file and its neighbours.
var tendSayings = map[string]tongue.Text{
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
	case "drill":
		return "/drill?said=" + said
	case "away":
		return "/away?said=" + said
	case "probe":
		return "/probes/" + url.PathEscape(r.PostForm.Get("probe")) + "?said=" + said
	}
	return "/?said=" + said
}

// reasonGiven is why something is put aside. Somebody else must be able to see
// that later.
func reasonGiven(r *http.Request) (string, error) {
	why := answer.Tidy(r.PostForm.Get("reason"), maxReason)
	if why == "" {
		return "", answer.Say(answer.Invalid, "Give the reason in a few words, so that everybody can see why it is put aside. Nothing was done.")
	}
	return why, nil
}

// takeAlarmOut takes one alarm out of service.
func (s acts) takeAlarmOut(w http.ResponseWriter, r *http.Request) error {
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
		return answer.Say(answer.Changed, "There is no such alarm to take out of service, so nothing was done.")
	}
	return s.done(w, r, "alarm-out")
}

// putAlarmBack puts one alarm back into service, and its probe where it was
// that which was taken out.
func (s acts) putAlarmBack(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	in := alarms.Input{Kind: alarms.PutBack, Alarm: a.ID}
	silent := func(h alarms.HouseID, pl alarms.PlaceID, pr alarms.ProbePicture) bool {
		return pr.OutOf && a.ID == alarms.AlarmID(string(h)+"/"+string(pl)+"/"+string(pr.ID)+"/silent")
	}
	if _, _, p, ok := probeWhere(s.watch.Picture(), silent); ok {
		in.Alarm, in.Probe = "", p.ID
	}
	return s.do(w, r, in, "alarm-back")
}

// shelvedWords says who put an alarm aside, until when and why.
func shelvedWords(w words.Words, a alarms.AlarmPicture, now time.Time) string {
	if a.By == "" {
		return w.Say("Shelved until %s%s.", w.Clock(a.Until, now), because(w, a.Note))
	}
	return w.Say("Shelved by %s until %s%s.", w.Core.Who(a.By), w.Clock(a.Until, now), because(w, a.Note))
}

// outWords says who took something out of service and why.
func outWords(w words.Words, by, why string) string {
	if by == "" {
		return w.Say("Out of service until somebody puts it back%s.", because(w, why))
	}
	return w.Say("Out of service until somebody puts it back, taken out by %s%s.", w.Core.Who(by), because(w, why))
}

func because(w words.Words, why string) string {
	if why == "" {
		return ""
	}
	return w.Say(": “%s”", w.Core.Kept(why, time.Time{}))
}

// ventsView is the vents of a house, with a button for each thing that may
// have been done to them. It is the data of the template "vents".
type ventsView struct {
	Anchor  string
	House   alarms.HouseID
	Name    string
	Due     tongue.Text // what it is time for, "" for nothing
	Buttons []ventsButton
}

type ventsButton struct {
	Value string
	Words tongue.Text
	Due   bool
}

// ventsDone says what may be done to the vents, and which season it begins.
var ventsDone = []struct {
	value      string
	words, due tongue.Text
	season     alarms.Season
}{
	{"covered", "The vents are covered", "It is time to cover the vents for winter.", alarms.SeasonWinter},
	{"uncovered", "The vents are uncovered", "It is time to uncover the vents.", alarms.SeasonOpen},
}

// ventsOf is the view of the vents of h.
func ventsOf(h alarms.HousePicture) ventsView {
	v := ventsView{Anchor: words.Anchor(string(h.ID)) + "-vents", House: h.ID, Name: h.Name}
	for _, d := range ventsDone {
		if d.season == h.Season {
			continue
		}
		due := d.season == h.Proposed
		if due {
			v.Due = d.due
		}
		v.Buttons = append(v.Buttons, ventsButton{d.value, d.words, due})
	}
	return v
}

// setVents takes that somebody covered the vents or uncovered them: the season
// follows from it.
func (s acts) setVents(w http.ResponseWriter, r *http.Request) error {
	did := r.PostForm.Get("vents")
	for _, d := range ventsDone {
		if d.value == did {
			return s.changeSeason(w, r, d.season, "vents-"+d.value)
		}
	}
	return answer.Say(answer.Invalid, "Say whether the vents are covered or uncovered.")
}

// changeSeason puts the house of the form into a season.
func (s acts) changeSeason(w http.ResponseWriter, r *http.Request, season alarms.Season, said string) error {
	houses := s.watch.Picture().Houses
	i := slices.IndexFunc(houses, func(h alarms.HousePicture) bool { return string(h.ID) == r.PostForm.Get("house") })
	if i < 0 {
		return answer.Say(answer.Changed, "That house is not there any more, so nothing was done.")
	}
	if houses[i].Season == season { // somebody was quicker
		s.who(w, r)
		return s.done(w, r, said)
	}
	return s.do(w, r, alarms.Input{Kind: alarms.SetSeason, House: houses[i].ID, Season: season}, said)
}
