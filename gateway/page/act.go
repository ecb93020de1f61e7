package page

import (
	"encoding/base64"
	"maps"
	"net/http"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
)

// acts are the forms by which people do something.
type acts struct{ *Server }

const (
	maxName   = 40  // characters
	maxReason = 200 // characters
	nameLife  = 365 * 24 * time.Hour
)

// sayings are what the page says after something was done.
var sayings = join(tendSayings, pushSayings, awaySayings, drillSayings, map[string]tongue.Text{
	"acknowledged": "Acknowledged.",
	"some-changed": "Some alarms changed while you were reading and were not acknowledged. Look at them again.",
	"shelved":      "Shelved.",
	"unshelved":    "No longer shelved.",
	"season":       "The season is set. Where its limits differ from those before, the looser one holds for a while.",
	"trying":       "Noted. What the watch finds about it is logged and not told until then; limits are told as ever.",
	"selector":     "Noted where the switch stands. Telltale turns nothing: the switch itself is turned by hand.",
	"probe-out":    "The probe is out of service: its readings are not used, and you are not told when it is silent.",
	"probe-back":   "The probe is back in service.",
	"name":         "Your name is kept on this device.",
})

// join makes one map of several; a key stands in one of them alone.
func join(parts ...map[string]tongue.Text) map[string]tongue.Text {
	all := map[string]tongue.Text{}
	for _, part := range parts {
		maps.Copy(all, part)
	}
	return all
}

// done answers a form: in words for the script, else by loading the page again.
func (s *Server) done(w http.ResponseWriter, r *http.Request, said string) error {
	if answer.WantsPage(r) {
		http.Redirect(w, r, thenTo(r, said), http.StatusSeeOther)
		return nil
	}
	answer.JSON(w, http.StatusOK, map[string]string{"said": s.wordsOf(r).Say(sayings[said])})
	return nil
}

// do has the watch take what the sender of a form did, and says that it is done.
func (s acts) do(w http.ResponseWriter, r *http.Request, in alarms.Input, said string) error {
	in.At, in.By = s.watch.Now(), s.who(w, r)
	if err := s.watch.Do(r.Context(), in); err != nil {
		return err
	}
	return s.done(w, r, said)
}

// acknowledge takes one or more alarms, each with the transition that the
// person saw. One that has changed since is not taken: nobody may acknowledge
// what they have not read.
func (s acts) acknowledge(w http.ResponseWriter, r *http.Request) error {
	ids, seen := r.PostForm["alarm"], r.PostForm["seen"]
	if len(ids) == 0 || len(ids) != len(seen) {
		return answer.Say(answer.Invalid, "The form does not say which alarm is meant.")
	}
	until, err := s.wayEnd(r)
	if err != nil {
		return err
	}
	by := s.who(w, r)
	taken, changed := 0, 0
	for i, id := range ids {
		a, err := s.find(id)
		if err != nil && len(ids) > 1 {
			continue // it ended meanwhile
		}
		if err != nil {
			return err
		}
		if a.State != alarms.Unacknowledged && a.State != alarms.ReturnedUnack {
			taken++ // somebody was quicker
			continue
		}
		if !a.Known(seen[i]) {
			changed++
			continue
		}
		in := alarms.Input{At: s.watch.Now(), Kind: alarms.Acknowledge, Alarm: a.ID, Until: until, By: by}
		if err := s.watch.Do(r.Context(), in); err != nil {
			return err
		}
		taken++
	}
	if changed > 0 && taken == 0 {
		return answer.Say(answer.Changed, "It changed while you were reading, so nothing was done. Look at it again.")
	}
	if changed > 0 {
		return s.done(w, r, "some-changed")
	}
	return s.done(w, r, "acknowledged")
}

// longestWay is how long somebody may say to be on the way.
const longestWay = 24 * time.Hour

// wayEnd reads until when whoever acknowledges is on the way: "for" of a form,
// "until" of a program; zero where they do not say, or have been on the way.
func (s acts) wayEnd(r *http.Request) (time.Time, error) {
	now := s.watch.Now()
	if text := r.PostForm.Get("until"); text != "" {
		until, err := answer.Time("until", text, now)
		if err == nil && (!until.After(now) || until.After(now.Add(longestWay))) {
			err = answer.Errorf(answer.Invalid, "The field \"until\" must be later than now and within %s, so nothing was done.", say.Locale{}.Span(longestWay))
		}
		return until, err
	}
	text := r.PostForm.Get("for")
	if text == "" {
		return time.Time{}, nil
	}
	d, err := time.ParseDuration(text)
	if err != nil || d <= 0 || d > longestWay {
		return time.Time{}, answer.Say(answer.Invalid, "Choose for how long you are on the way.")
	}
	return now.Add(d), nil
}

func (s acts) shelve(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	until, ok := shelveEnd(s.wordsOf(r), r.PostForm.Get("for"), s.watch.Now())
	if !ok {
		return answer.Say(answer.Invalid, "Choose how long the alarm is to be shelved.")
	}
	return s.shelveUntil(w, r, a.ID, until)
}

// shelveUntil shelves an alarm for the reason that the form gives.
func (s acts) shelveUntil(w http.ResponseWriter, r *http.Request, id alarms.AlarmID, until time.Time) error {
	why, err := reasonGiven(r)
	if err != nil {
		return err
	}
	return s.do(w, r, alarms.Input{Kind: alarms.Shelve, Alarm: id, Until: until, Note: why}, "shelved")
}

func (s acts) unshelve(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	return s.do(w, r, alarms.Input{Kind: alarms.Unshelve, Alarm: a.ID}, "unshelved")
}

// shelveByProgram shelves the alarm of the form until a time.
func (s acts) shelveByProgram(w http.ResponseWriter, r *http.Request, until time.Time) error {
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	return s.shelveUntil(w, r, a.ID, until)
}

// find returns an alarm that is not normal now.
func (s acts) find(id string) (alarms.AlarmPicture, error) {
	p := s.watch.Picture()
	a := p.Alarm(alarms.AlarmID(id))
	if a.ID == "" {
		return a, answer.Say(answer.Changed, "That alarm is not there any more, so nothing was done.")
	}
	return a, nil
}

func (s acts) setName(w http.ResponseWriter, r *http.Request) error {
	s.who(w, r)
	return s.done(w, r, "name")
}

// who returns the name given with the form, or the one remembered. A name
// given is remembered; an empty one given is forgotten.
func (s *Server) who(w http.ResponseWriter, r *http.Request) string {
	if known := s.door.KnownAs(r); known != "" {
		return known // whoever has an account acts under its name
	}
	name := rememberedName(r)
	if given, ok := r.PostForm["who"]; ok {
		name = answer.Tidy(given[0], maxName)
		c := s.door.Cookie("telltale-name", base64.RawURLEncoding.EncodeToString([]byte(name)), nameLife)
		if name == "" {
			c.MaxAge = -1
		}
		http.SetCookie(w, c)
	}
	if name == "" {
		return alarms.ByPage
	}
	return name
}

func rememberedName(r *http.Request) string {
	c, err := r.Cookie("telltale-name")
	if err != nil {
		return ""
	}
	raw, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil {
		return ""
	}
	return answer.Tidy(string(raw), maxName)
}
