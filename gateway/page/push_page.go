package page

import (
	"cmp"
	"encoding/json"
	"net/http"
	"time"

	"telltale/gateway/page/words"
)

type deviceView struct {
	frame
	Key     string
	People  []PushPerson // whose device this may be
	Chosen  string       // ID of the likely one
	Devices []deviceLine
	Without []string // names of those who have no device
}

// deviceLine is one device in words.
type deviceLine struct {
	ID                  int64
	Mark, Label, Person string
	Says                string // when it was added, and last told
	Bad                 string // what is wrong; empty: nothing
	Gone                bool
}

// devicePage says what is needed to be told on this device, and lists those
// that are.
func (s devices) devicePage(w http.ResponseWriter, r *http.Request) error {
	all, err := s.options.Push.Devices(r.Context())
	if err != nil {
		return err
	}
	v := deviceView{frame: s.frame(r, "Alarms on this device"), Key: s.options.Push.Key(), People: s.tellable(r)}
	v.Said = pushSayings[r.URL.Query().Get("said")]
	me := cmp.Or(s.door.KnownAs(r), rememberedName(r))
	for _, p := range v.People {
		if p.Name == me {
			v.Chosen = p.ID
		}
	}
	names, reached := map[string]string{}, map[string]bool{}
	for _, p := range s.options.Push.People() {
		names[p.ID] = p.Name
	}
	say, now := s.wordsOf(r), s.watch.Now()
	for _, d := range all {
		reached[d.Person] = reached[d.Person] || d.Gone.IsZero()
		v.Devices = append(v.Devices, deviceLineOf(say, d, names[d.Person], now))
	}
	for _, p := range s.options.Push.People() {
		if !reached[p.ID] {
			v.Without = append(v.Without, p.Name)
		}
	}
	return s.render(w, r, http.StatusOK, "device", v)
}

func deviceLineOf(w words.Words, d PushDevice, person string, now time.Time) deviceLine {
	l := deviceLine{ID: d.ID, Mark: d.Mark, Label: d.Label, Person: person, Gone: !d.Gone.IsZero()}
	l.Says = "Added " + w.Clock(d.Made, now) + ". "
	switch {
	case d.Told.IsZero():
		l.Says += "Nothing was sent to it yet."
	default:
		l.Says += "Its push service last took a message at " + w.Clock(d.Told, now) + "."
	}
	switch {
	case l.Gone:
		l.Bad = "It takes no alarms since " + w.Clock(d.Gone, now) + ": its push service does not know it any more. Switch alarms on again on the device itself, or remove it here."
	case person == "":
		l.Person = d.Person
		l.Bad = "The configuration has nobody of that name to be told by push, so nothing is sent to it."
	case d.Why != "":
		l.Bad = "It could not be told at " + w.Clock(d.Failed, now) + ": " + d.Why + "."
	}
	l.Person = cmp.Or(l.Person, d.Person)
	return l
}

// manifest lets browsers put the page on a home screen (W3C Web Application
// Manifest).
func (s devices) manifest(w http.ResponseWriter, _ *http.Request) error {
	icon := func(name, sizes, kind, purpose string) map[string]string {
		return map[string]string{"src": "/static/" + name, "sizes": sizes, "type": kind, "purpose": purpose}
	}
	text, err := json.Marshal(map[string]any{
		"id": "/", "name": s.options.Name, "short_name": s.options.Name, "lang": "en", "start_url": "/", "scope": "/", "display": "standalone",
		"description":      "Shows how the houses are, and tells alarms. It only watches.",
		"background_color": "#fbfaf5", "theme_color": "#21453a",
		"icons": []map[string]string{
			icon("icon.svg", "any", "image/svg+xml", "any"), icon("icon-192.png", "192x192", "image/png", "any"),
			icon("icon-512.png", "512x512", "image/png", "any"), icon("icon-maskable-512.png", "512x512", "image/png", "maskable"),
		},
	})
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", fileTypes[".webmanifest"])
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(text) // a visitor who has gone cannot be told
	return nil
}

// worker is the script that takes pushed messages. It lies at the root,
// because it is for all pages, and speaks the language of the browser that takes it.
func (s devices) worker(w http.ResponseWriter, r *http.Request) error {
	script, err := s.views.workerIn(s.wordsOf(r).Tongue)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", fileTypes[".js"])
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(script) // a visitor who has gone cannot be told
	return nil
}
