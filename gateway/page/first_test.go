package page

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/door"
	"telltale/gateway/page/service"
)

// setting starts a page on which things are set up.
func setting(t *testing.T, o Options) (*started, *fakeWatch, *fakeFirst) {
	t.Helper()
	f, first := newFake(), newFakeFirst()
	o.Watch, o.First = f, first
	return start(t, o), f, first
}

// asked is a form filled in as a grower would.
func asked(more ...string) []string {
	return append([]string{"topic", "thimble-garth/bench-1", "form", "json", "time-from", "/at", "part", "0",
		"read", `{"quantity":"temperature","at":"/air/t"}`, "read", "", "read", `{"quantity":"humidity","at":"/air/rh","unit":"ratio"}`,
		"probe", "Bench 1", "where", "/", "house", "Long House", "latitude", "52", "longitude", "−2,25", "place", "bench", "crop", "tomato",
		"temperature-high", "31,5", "tell", "nobody"}, more...)
}

func TestFirstIsAbsentWhereNothingIsSetUp(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	if a, _ := st.get("/first"); a.StatusCode != http.StatusNotFound {
		t.Errorf("status %d, want 404", a.StatusCode)
	}
	_, text := st.get("/")
	wantNone(t, text, "/first", "Nothing is watched yet")
}

func TestFirstNeedsSomebodySignedIn(t *testing.T) {
	st, f, _ := setting(t, Options{Password: password})
	f.change(func(p *alarms.Picture) { p.Houses = nil })
	_, text := st.get("/sign-in")
	wantNone(t, text, "Nothing is watched yet")
	a, _ := st.get("/first")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/sign-in" {
		t.Errorf("status %d to %s, want the sign-in page", a.StatusCode, a.Header.Get("Location"))
	}
	if a, _ := st.ask("POST", "/first/write", url.Values{}); a.StatusCode == http.StatusOK {
		t.Error("a stranger may write the configuration")
	}
	st.signIn()
	if a, text = st.get("/first"); a.StatusCode != http.StatusOK {
		t.Errorf("status %d, want 200", a.StatusCode)
	}
	wantAll(t, text, "Nothing is watched yet")
}

func TestFirstListsWhatArrives(t *testing.T) {
	st, _, first := setting(t, Options{})
	first.change(func(f *fakeFirst) { f.arrivals.Topics[0].Payload = `{"t":"<b>evil</b>"}` })
	_, text := st.get("/first")
	wantAll(t, reading(text), "Set up what is watched", "own broker listens at 127.0.0.1:1883", "Only programs on this machine", "3 topics arrive.", "thimble-garth/bench-1",
		`{"t":"<b>evil</b>"}`, "12 messages, the newest 10 s ago", "about every 30 s", "Seems to be JSON: temperature",
		"Watched by ridge-1", "900 bytes, not text", "kept by the broker", "The file thimble-garth.toml"[9:], "switches nothing")
	wantNone(t, text, "<b>evil")
	_, part := st.get("/first?part=1")
	wantNone(t, part, "<html", "<nav")
	wantAll(t, part, "3 topics arrive.", `href="/first/topic?topic=thimble-garth%2Fbench-1"`)
	first.change(func(f *fakeFirst) { f.arrivals = Arrivals{Why: "The broker at 127.0.0.1:1883 does not answer."} })
	_, text = st.get("/first")
	wantAll(t, reading(text), "does not answer", "Switch a probe on")
}

func TestEveryPageSaysThatNothingIsWatched(t *testing.T) {
	st, f, _ := setting(t, Options{})
	f.change(func(p *alarms.Picture) { p.Houses = nil })
	_, text := st.get("/")
	wantAll(t, reading(text), "Nothing is watched yet.")
	f.change(func(p *alarms.Picture) { p.Houses = scene(noon).Houses })
	st, _, _ = setting(t, Options{Untold: service.Untold{All: true}})
	_, text = st.get("/")
	wantAll(t, reading(text), "Nobody is told of alarms.")
	wantNone(t, reading(text), "Nothing is watched yet.")
}

func TestFirstProposesWithWhatItWouldRead(t *testing.T) {
	st, _, _ := setting(t, Options{})
	_, text := st.get("/first/topic?topic=thimble-garth/bench-1")
	wantAll(t, reading(text), "/air/t sends 21.4", "temperature: 21.4 °C", "temperature, sent in °F: −5.9 °C", "humidity, sent as a ratio: 63 %",
		"Please check. Its name", "Is it a ratio from 0 to 1?", "measured at 12:02:10", "tomato", "Source:", "32.2 °C", "Nobody yet.")
	wantAll(t, text, `<option value="{&#34;quantity&#34;:&#34;temperature&#34;,&#34;at&#34;:&#34;/air/t&#34;}" selected>`, `value="bench-1"`,
		`<option value="" selected>leave it out`, `name="time-from" value="/at"`)
	_, text = st.get("/first/topic?topic=other")
	wantAll(t, reading(text), "No payload has come yet.")
	if a, _ := st.get("/first/topic"); a.StatusCode != http.StatusBadRequest {
		t.Errorf("without a topic: status %d, want 400", a.StatusCode)
	}
}

func TestFirstShowsEveryLineAndWritesWhatWasShown(t *testing.T) {
	st, _, first := setting(t, Options{})
	a, text := st.post("/first/show", asked()...)
	if a.StatusCode != http.StatusOK {
		t.Fatalf("status %d: %s", a.StatusCode, reading(text))
	}
	wantAll(t, reading(text), "would read temperature 21.4 °C from /air/t", "humidity 63 % from /air/rh", `− name = "old"`, `+ name = "Thimble Garth"`,
		"What will be told of at this place", "humidity at 93 % or more in one spell: grey mould can set in", "another handbook (from memory)", "cite their source from memory", "Nobody is told.", "Write it", "nobody elsewhere would notice")
	wantNone(t, reading(text), "There is no limit")
	w := first.wishes[0]
	if *w.Latitude != 52 || *w.Longitude != -2.25 || w.Limits[0].Quantity != alarms.Temperature || *w.Limits[0].High != 31.5 || w.Limits[0].Low != nil ||
		len(w.Reads) != 2 || w.Reads[1].Unit != "ratio" || w.House != "" || w.PlaceName != "bench" || w.Mail != nil || w.TimeFrom != "/at" {
		t.Errorf("got the wish %+v", w)
	}
	a, text = st.post("/first/write", asked("mark", "m1", "who", "Ada")...)
	if a.StatusCode != http.StatusOK || len(first.written) != 1 || first.by != "Ada" {
		t.Fatalf("status %d, written %+v by %q", a.StatusCode, first.written, first.by)
	}
	wantAll(t, reading(text), "It is written.", "The watch starts anew")
	wantAll(t, text, `content="5;url=/first/done?probe=bench-1"`)

	a, text = st.post("/first/write", asked("mark", "an older one")...)
	if a.StatusCode != http.StatusConflict {
		t.Errorf("status %d, want 409", a.StatusCode)
	}
	wantAll(t, reading(text), "The file was changed meanwhile, so nothing was written")
	first.change(func(f *fakeFirst) {
		f.writeErr = &FirstRefused{Problems: []tongue.Saying{tongue.Put("Telltale may not write the file.")}}
	})
	_, text = st.post("/first/write", asked("mark", "m1")...)
	wantAll(t, reading(text), "Nothing was written.", "Telltale may not write the file.")
	if len(first.written) != 1 {
		t.Errorf("written %d times, want once", len(first.written))
	}
}

func TestFirstSaysWhatIsMissing(t *testing.T) {
	st, _, first := setting(t, Options{})
	for _, c := range []struct{ field, value, want string }{
		{"probe", "", "Give the probe a name"},
		{"house", "", "Give the house a name."},
		{"place", "", "Say where in the house the probe hangs"},
		{"latitude", "north", `must be a number such as 21.5 (you wrote "north")`},
		{"temperature-high", "NaN", "The high limit of temperature must be a number"},
		{"read", "{", "Choose again how the payload is read."},
		{"tell", "mail", "Say who is told."},
	} {
		form := url.Values{}
		for i, f := 0, asked(); i < len(f); i += 2 {
			form.Add(f[i], f[i+1])
		}
		form.Set(c.field, c.value)
		a, text := st.ask("POST", "/first/show", form)
		if a.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d, want 422", c.field, a.StatusCode)
		}
		wantAll(t, reading(text), "Not yet.", c.want)
		if c.field != "place" {
			wantAll(t, text, `name="place" type="text" maxlength="60" value="bench"`)
		}
	}
	if len(first.wishes) > 0 {
		t.Errorf("a bad form reached the configuration: %+v", first.wishes)
	}
	first.change(func(f *fakeFirst) { f.draft.Problems = []tongue.Saying{tongue.Put("house.long-house: has no place")} })
	_, text := st.post("/first/show", asked()...)
	wantAll(t, reading(text), "It cannot be written like this.", "house.long-house: has no place", "Change something")
	wantNone(t, reading(text), "Write it")
	_, text = st.post("/first/change", asked("temperature-low", "9")...)
	wantAll(t, text, `value="Long House"`, `value="31,5"`, `value="9"`, `<option value="tomato" selected>`)
	if !strings.Contains(text, `selected>humidity, sent as a ratio`) {
		t.Error("the choice of a quantity is not kept")
	}
}

func TestFirstDoneWaitsForTheFirstReading(t *testing.T) {
	st, f, _ := setting(t, Options{})
	_, text := st.get("/first/done?probe=nosuch")
	wantAll(t, reading(text), "The watch starts anew with it.")
	id := scene(noon).Houses[0].Places[0].Probes[0].ID
	f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Probes[0].Readings = 0 })
	_, text = st.get("/first/done?probe=" + string(id))
	wantAll(t, reading(text), "waits for its next reading")
	f.change(func(p *alarms.Picture) {
		pl := &p.Houses[0].Places[0]
		pl.Probes[0].Readings, pl.Probes[0].Heard = 1, noon
		pl.Points[0].Probe, pl.Points[0].Live, pl.Points[0].Value = id, true, 21.4
	})
	_, text = st.get("/first/done?probe=" + string(id) + "&part=1")
	wantAll(t, reading(text), "is watched: temperature 21.4 °C", ", just now.")
	wantNone(t, text, "<html")
}

func TestFirstIsNotForWhoMayOnlyLook(t *testing.T) {
	st, f, first := setting(t, Options{Accounts: []door.Account{{ID: "ben", May: door.MayView, Password: password}}})
	f.change(func(p *alarms.Picture) { p.Houses = nil })
	if a, _ := st.post("/sign-in", "account", "ben", "password", password); a.StatusCode != http.StatusSeeOther {
		t.Fatalf("sign in: status %d", a.StatusCode)
	}
	for _, path := range []string{"/first", "/first?part=1", "/first/topic?topic=thimble-garth/bench-1", "/first/done?probe=bench-1"} {
		if a, text := st.get(path); a.StatusCode != http.StatusForbidden || strings.Contains(text, "thimble-garth/ridge-1") {
			t.Errorf("%s: status %d, want 403", path, a.StatusCode)
		}
	}
	for _, path := range []string{"/first/show", "/first/change", "/first/write"} {
		form := url.Values{"topic": {"a"}, "mark": {"m1"}}
		if a, _ := st.ask("POST", path, form); a.StatusCode != http.StatusForbidden {
			t.Errorf("%s: status %d, want 403", path, a.StatusCode)
		}
	}
	if len(first.wishes)+len(first.written) > 0 {
		t.Error("somebody who may only look has reached the configuration")
	}
	_, page := st.get("/")
	wantAll(t, reading(page), "before somebody has set up a probe")
}
