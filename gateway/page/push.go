package page

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/door"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// devices are the pages and forms of devices that take alarms.
type devices struct{ *Server }

// Push is what the page needs to register devices that take alarms while it is
// closed. What it refuses is a Refusal. All methods are called from many
// goroutines at once.
type Push interface {
	// Key is the watch's public key, in base64url, which browsers ask for.
	Key() string
	// People are those who can be told this way, in the order of the config.
	People() []PushPerson
	// Devices lists all that were registered, in the order in which they came.
	Devices(ctx context.Context) ([]PushDevice, error)
	// Register keeps a device. One that is known keeps its ID.
	Register(ctx context.Context, g PushGrant, person, label string) error
	// Renew gives the device at the endpoint old what is new of it; false: there
	// is none.
	Renew(ctx context.Context, old string, g PushGrant) (bool, error)
	// Remove forgets a device.
	Remove(ctx context.Context, id int64) error
	// Test sends a test message to one device.
	Test(ctx context.Context, id int64) error
}

// PushPerson is somebody who can be told by push.
type PushPerson struct {
	ID, Name string
	MayAct   bool // messages to this person can acknowledge
}

// PushGrant is what a browser hands out so that it can be told.
type PushGrant struct {
	Endpoint string // address at its push service
	Key      []byte // its public key
	Auth     []byte // a secret that it shares
}

// PushDevice is a device that was registered.
type PushDevice struct {
	ID     int64
	Mark   string // of its endpoint, by PushMark; empty: gone
	Person string // ID
	Label  string
	Made   time.Time
	Told   time.Time // its push service last took a message; zero: never
	Failed time.Time // it last did not; zero: never
	Why    string    // empty: it took one since
	Gone   time.Time // its push service no longer knew it; zero: it does
}

// PushMark is by what a browser finds itself among the devices, without the
// page showing endpoints, which are secret.
func PushMark(endpoint string) string {
	sum := sha256.Sum256([]byte(endpoint))
	return hex.EncodeToString(sum[:])
}

const (
	maxLabel    = 40   // characters
	maxEndpoint = 2048 // characters
)

// pushSayings are what the page says after something was done with devices.
var pushSayings = map[string]tongue.Text{
	"device-on":   "This device takes alarms now. Send it a test to see that they arrive.",
	"device-off":  "The device is removed and takes no alarms any more.",
	"device-test": "The push service took the test message. It should show on the device within a few seconds. If it does not, look for what is wrong now, while nothing else is.",
}

// pushRoutes are the page about devices, and what makes the page one that can
// be put on a home screen. The worker is there even without the channel: a
// browser that has it from before must find what is new of it.
func (s devices) pushRoutes(rt router) {
	rt.open("GET /manifest.webmanifest", s.manifest)
	rt.open("GET /worker.js", s.worker)
	if !s.pushes() {
		return
	}
	rt.see("GET /device", s.devicePage)
	rt.own("POST /push/subscribe", s.subscribeDevice)
	rt.own("POST /push/remove", s.removeDevice)
	rt.own("POST /push/test", s.testDevice)
	rt.open("POST /push/renew", s.renewDevice)
}

func (s *Server) pushes() bool { return s.options.Push != nil }

// subscribeDevice registers the browser that asks.
func (s devices) subscribeDevice(w http.ResponseWriter, r *http.Request) error {
	g, err := grantIn(r)
	if err != nil {
		return err
	}
	person := r.PostForm.Get("person")
	if !slices.ContainsFunc(s.tellable(r), func(p PushPerson) bool { return p.ID == person }) {
		return answer.Say(answer.Invalid, "Choose whose device this is.")
	}
	label := answer.Tidy(r.PostForm.Get("label"), maxLabel)
	if label == "" {
		return answer.Say(answer.Invalid, "Give the device a name, by which you know it in the list.")
	}
	if err := s.options.Push.Register(r.Context(), g, person, label); err != nil {
		return shown(err)
	}
	s.log.Info().Str("person", person).Str("device", label).Str("by", s.who(w, r)).Msg("a device takes alarms now")
	return s.deviceDone(w, r, "device-on")
}

// tellable are the people whose device a visitor may register. Who may look
// only may not register for somebody who may act: messages acknowledge in that
// person's name.
func (s devices) tellable(r *http.Request) []PushPerson {
	all := s.options.Push.People()
	if s.door.MayAct(r) {
		return all
	}
	return slices.DeleteFunc(slices.Clone(all), func(p PushPerson) bool { return p.MayAct })
}

// grantIn reads what a browser hands out.
func grantIn(r *http.Request) (g PushGrant, err error) {
	bad := func(err error) error {
		return &answer.Error{Kind: answer.Invalid, Say: "The browser did not hand out what is needed to reach it. Load the page again and repeat it.", Err: err}
	}
	g.Endpoint = r.PostForm.Get("endpoint")
	if g.Endpoint == "" || len(g.Endpoint) > maxEndpoint {
		return g, bad(nil)
	}
	for key, to := range map[string]*[]byte{"p256dh": &g.Key, "auth": &g.Auth} {
		text := strings.TrimRight(r.PostForm.Get(key), "=")
		if *to, err = base64.RawURLEncoding.DecodeString(text); err != nil || len(*to) == 0 {
			return g, bad(err)
		}
	}
	return g, nil
}

// shown lets a visitor see why something was refused.
func shown(err error) error {
	if no, ok := errors.AsType[service.Refusal](err); ok {
		return answer.Say(answer.Changed, no.Text, no.Args...)
	}
	return err
}

// deviceMeant finds the device of a form: the one with the endpoint that only
// it can know, or for who may act any by its ID.
func (s devices) deviceMeant(r *http.Request) (d PushDevice, err error) {
	all, err := s.options.Push.Devices(r.Context())
	if err != nil {
		return d, err
	}
	endpoint := r.PostForm.Get("endpoint")
	if endpoint == "" && !s.door.MayAct(r) {
		return d, answer.Say(answer.Refused, door.ViewOnly)
	}
	id, _ := strconv.ParseInt(r.PostForm.Get("id"), 10, 64) // 0, which no device has, for what is no number
	for _, d := range all {
		if endpoint == "" && d.ID == id || endpoint != "" && d.Mark == PushMark(endpoint) {
			return d, nil
		}
	}
	return d, answer.Say(answer.Changed, "That device is not there any more.")
}

func (s devices) removeDevice(w http.ResponseWriter, r *http.Request) error {
	d, err := s.deviceMeant(r)
	if err != nil {
		return err
	}
	if err := s.options.Push.Remove(r.Context(), d.ID); err != nil {
		return shown(err)
	}
	s.log.Info().Str("person", d.Person).Str("device", d.Label).Str("by", s.who(w, r)).Msg("a device takes no alarms any more")
	return s.deviceDone(w, r, "device-off")
}

func (s devices) testDevice(w http.ResponseWriter, r *http.Request) error {
	d, err := s.deviceMeant(r)
	if err != nil {
		return err
	}
	if err := s.mayTest(); err != nil {
		return err
	}
	if err := s.options.Push.Test(r.Context(), d.ID); err != nil {
		return shown(err)
	}
	return s.deviceDone(w, r, "device-test")
}

// renewDevice is for the worker, when a push service gives its browser another
// address. Nobody need be signed in by then: the old address is the permission.
func (s devices) renewDevice(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return &answer.Error{Kind: answer.Invalid, Say: "That could not be read.", Err: err}
	}
	g, err := grantIn(r)
	if err != nil {
		return err
	}
	known, err := s.options.Push.Renew(r.Context(), r.PostForm.Get("old"), g)
	if err != nil {
		return shown(err)
	}
	if !known {
		return answer.Say(answer.Absent, "The watch does not know this device any more.")
	}
	answer.JSON(w, http.StatusOK, map[string]string{"said": s.wordsOf(r).Say("The device is known under its new address.")})
	return nil
}

// deviceDone answers a form about devices.
func (s devices) deviceDone(w http.ResponseWriter, r *http.Request, said string) error {
	if answer.WantsPage(r) {
		http.Redirect(w, r, "/device?said="+said, http.StatusSeeOther)
		return nil
	}
	answer.JSON(w, http.StatusOK, map[string]string{"said": s.wordsOf(r).Say(pushSayings[said])})
	return nil
}

type deviceView struct {
	frame
	Key     string
	People  []PushPerson // whose device this may be
	Chosen  string       // ID of the likely one
	Devices []deviceLine
	Without []string // names of those who have no device
	Trust   bool     // there is a page for that
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
	v := deviceView{frame: s.frame(r, "Alarms on this device"), Key: s.options.Push.Key(), People: s.tellable(r), Trust: s.options.Authority != nil}
	v.Said = s.wordsOf(r).Say(pushSayings[r.URL.Query().Get("said")])
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
	l.Says = w.Say("Added %s.", w.Clock(d.Made, now)) + " "
	switch {
	case d.Told.IsZero():
		l.Says += w.Say("Nothing was sent to it yet.")
	default:
		l.Says += w.Say("Its push service last took a message at %s.", w.Clock(d.Told, now))
	}
	switch {
	case l.Gone:
		l.Bad = w.Say("It takes no alarms since %s: its push service does not know it any more. Switch alarms on again on the device itself, or remove it here.", w.Clock(d.Gone, now))
	case person == "":
		l.Person = d.Person
		l.Bad = w.Say("The configuration has nobody of that name to be told by push, so nothing is sent to it.")
	case d.Why != "":
		l.Bad = w.Say("It could not be told at %s: %s.", w.Clock(d.Failed, now), d.Why)
	}
	l.Person = cmp.Or(l.Person, d.Person)
	return l
}

// manifest lets browsers put the page on a home screen (W3C Web Application
// Manifest).
func (s devices) manifest(w http.ResponseWriter, r *http.Request) error {
	say := s.wordsOf(r)
	icon := func(name, sizes, kind, purpose string) map[string]string {
		return map[string]string{"src": "/static/" + name, "sizes": sizes, "type": kind, "purpose": purpose}
	}
	text, err := json.Marshal(map[string]any{
		"id": "/", "name": s.options.Name, "short_name": s.options.Name, "lang": say.Tongue.Code(), "start_url": "/", "scope": "/", "display": "standalone",
		"description":      say.Say("Shows how the houses are, and tells alarms. It only watches."),
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
