package page

import (
	"encoding/base64"
	"maps"
	"net/http"
	"strings"
	"time"
	"unicode"

	"telltale/alarms"
)

const (
	maxName   = 40  // characters
	maxReason = 200 // characters
	nameLife  = 365 * 24 * time.Hour
	somebody  = "somebody at the page"
)

// sayings are what the page says after something was done.
var sayings = join(tendSayings, pushSayings, map[string]string{
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
func join(parts ...map[string]string) map[string]string {
	all := map[string]string{}
	for _, part := range parts {
		maps.Copy(all, part)
	}
	return all
}

// done answers a form: in words for the script, else by loading the page anew.
func (s *Server) done(w http.ResponseWriter, r *http.Request, said string) error {
	if wantsPage(r) {
		http.Redirect(w, r, thenTo(r, said), http.StatusSeeOther)
		return nil
	}
	writeJSON(w, http.StatusOK, map[string]string{"said": sayings[said]})
	return nil
}

// acknowledge takes one or more alarms, each with the transition that the
// person saw. One that has changed since is not taken: nobody may acknowledge
// what they have not read.
func (s *Server) acknowledge(w http.ResponseWriter, r *http.Request) error {
	ids, seen := r.PostForm["alarm"], r.PostForm["seen"]
	if len(ids) == 0 || len(ids) != len(seen) {
		return faultf(kindInvalid, "The form does not say which alarm is meant.")
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
		return faultf(kindChanged, "It changed while you were reading, so nothing was done. Look at it again.")
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
func (s *Server) wayEnd(r *http.Request) (time.Time, error) {
	now := s.watch.Now()
	if text := r.PostForm.Get("until"); text != "" {
		until, err := apiTime("until", text, now)
		if err == nil && (!until.After(now) || until.After(now.Add(longestWay))) {
			err = faultf(kindInvalid, "The field \"until\" must be later than now and within %s, so nothing was done.", alarms.Span(longestWay))
		}
		return until, err
	}
	text := r.PostForm.Get("for")
	if text == "" {
		return time.Time{}, nil
	}
	d, err := time.ParseDuration(text)
	if err != nil || d <= 0 || d > longestWay {
		return time.Time{}, faultf(kindInvalid, "Choose for how long you are on the way.")
	}
	return now.Add(d), nil
}

func (s *Server) shelve(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	until, ok := s.wordsOf(r).shelveEnd(r.PostForm.Get("for"), s.watch.Now())
	if !ok {
		return faultf(kindInvalid, "Choose how long the alarm is to be shelved.")
	}
	return s.shelveUntil(w, r, a.ID, until)
}

// shelveUntil shelves an alarm for the reason that the form gives.
func (s *Server) shelveUntil(w http.ResponseWriter, r *http.Request, id alarms.AlarmID, until time.Time) error {
	why, err := reasonGiven(r)
	if err != nil {
		return err
	}
	in := alarms.Input{At: s.watch.Now(), Kind: alarms.Shelve, Alarm: id, Until: until, By: s.who(w, r), Note: why}
	if err := s.watch.Do(r.Context(), in); err != nil {
		return err
	}
	return s.done(w, r, "shelved")
}

func (s *Server) unshelve(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	in := alarms.Input{At: s.watch.Now(), Kind: alarms.Unshelve, Alarm: a.ID, By: s.who(w, r)}
	if err := s.watch.Do(r.Context(), in); err != nil {
		return err
	}
	return s.done(w, r, "unshelved")
}

// find returns an alarm that is not normal now.
func (s *Server) find(id string) (alarms.AlarmPicture, error) {
	for _, a := range s.watch.Picture().Alarms {
		if a.ID == alarms.AlarmID(id) {
			return a, nil
		}
	}
	return alarms.AlarmPicture{}, faultf(kindChanged, "That alarm is not there any more, so nothing was done.")
}

func (s *Server) setName(w http.ResponseWriter, r *http.Request) error {
	s.who(w, r)
	return s.done(w, r, "name")
}

// who returns the name given with the form, or the one remembered. A name
// given is remembered; an empty one given is forgotten.
func (s *Server) who(w http.ResponseWriter, r *http.Request) string {
	if known := s.knownAs(r); known != "" {
		return known // whoever has an account acts under its name
	}
	name := rememberedName(r)
	if given, ok := r.PostForm["who"]; ok {
		name = tidy(given[0], maxName)
		c := &http.Cookie{Name: "telltale-name", Value: base64.RawURLEncoding.EncodeToString([]byte(name)), Path: "/",
			MaxAge: int(nameLife / time.Second), HttpOnly: true, Secure: s.sessions.secure, SameSite: http.SameSiteStrictMode}
		if name == "" {
			c.MaxAge = -1
		}
		http.SetCookie(w, c)
	}
	if name == "" {
		return somebody
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
	return tidy(string(raw), maxName)
}

// tidy makes one short line of what somebody typed.
func tidy(text string, most int) string {
	text = strings.ToValidUTF8(text, "")
	text = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return ' '
		}
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, text)
	runes := []rune(strings.Join(strings.Fields(text), " "))
	return string(runes[:min(len(runes), most)])
}
