package page

import (
	"bytes"
	"encoding/json"
	"errors"
	"image/png"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"telltale/gateway/page/door"
)

const grantAuth = "BTBZMqHH6r4Tts7J_aSIgg"

func pushed(t *testing.T, o Options) (*started, *fakePush) {
	t.Helper()
	f := newFakePush()
	o.Watch, o.Push = newFake(), f
	return start(t, o), f
}

func TestADeviceIsRegisteredTestedAndRemoved(t *testing.T) {
	st, f := pushed(t, Options{})
	_, text := st.get("/device")
	wantAll(t, reading(text), "Alarms on this device", "No device of Ada takes alarms yet.", "No device of Ben takes alarms yet.", "None.")
	a, _ := st.post("/push/subscribe", "person", "ada", "label", " my  phone ", "endpoint", "https://push.example.org/s3cr3t", "p256dh", pushKey, "auth", grantAuth)
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/device?said=device-on" {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	got := f.registered()
	if len(got) != 1 || got[0].Person != "ada" || got[0].Label != "my phone" || len(f.grants[1].Key) != 65 || len(f.grants[1].Auth) != 16 {
		t.Fatalf("got %+v, %+v", got, f.grants)
	}
	_, text = st.get("/device?said=device-on")
	wantAll(t, reading(text), "This device takes alarms now.", "my phone", "Registered to take alarms for Ada", "Added 12:02. Nothing was sent to it yet.", "No device of Ben")
	wantAll(t, text, `data-mark="`+PushMark("https://push.example.org/s3cr3t")+`"`)
	wantNone(t, text, "No device of Ada", "s3cr3t")

	if a, _ := st.post("/push/test", "id", "1"); a.Header.Get("Location") != "/device?said=device-test" || len(f.tested) != 1 {
		t.Errorf("test: got status %d, %v", a.StatusCode, f.tested)
	}
	if a, text := st.post("/push/test", "id", "1"); a.StatusCode != http.StatusTooManyRequests {
		t.Errorf("a test at once again: got status %d: %s", a.StatusCode, text)
	}
	if a, _ := st.post("/push/remove", "id", "7"); a.StatusCode != http.StatusConflict {
		t.Errorf("no such device: got status %d", a.StatusCode)
	}
	if a, _ := st.post("/push/remove", "endpoint", "https://push.example.org/s3cr3t"); a.StatusCode != http.StatusSeeOther || len(f.registered()) != 0 {
		t.Errorf("removal: got status %d, %v", a.StatusCode, f.registered())
	}
}

func TestDevicesThatAreNotRegistered(t *testing.T) {
	st, f := pushed(t, Options{})
	good := url.Values{"person": {"ada"}, "label": {"phone"}, "endpoint": {"https://push.example.org/x"}, "p256dh": {pushKey}, "auth": {grantAuth}}
	for _, c := range []struct{ key, value, says string }{
		{"person", "cat", "Choose whose device this is."},
		{"person", "", "Choose whose device this is."},
		{"label", " \t", "Give the device a name"},
		{"endpoint", "", "The browser did not hand out"},
		{"endpoint", "https://push.example.org/" + strings.Repeat("x", maxEndpoint), "The browser did not hand out"},
		{"p256dh", "!", "The browser did not hand out"},
		{"auth", "", "The browser did not hand out"},
	} {
		form := url.Values{}
		for k, v := range good {
			form[k] = v
		}
		form.Set(c.key, c.value)
		a, text := st.ask("POST", "/push/subscribe", form)
		if a.StatusCode < 400 || a.StatusCode >= 500 || len(f.registered()) != 0 {
			t.Errorf("%s %q: got status %d, %v", c.key, c.value, a.StatusCode, f.registered())
		}
		wantAll(t, reading(text), c.says)
	}
	f.refusal = "This person has 20 devices already, which is as many as are kept. Remove one first."
	form := url.Values{}
	for k, v := range good {
		form[k] = v
	}
	a, text := st.ask("POST", "/push/subscribe", form, "Accept", "application/json")
	if a.StatusCode != http.StatusConflict || !strings.Contains(text, f.refusal) {
		t.Errorf("a refusal: got status %d: %s", a.StatusCode, text)
	}
	f.refusal, f.err = "", errors.New("disk on fire")
	if a, text := st.ask("POST", "/push/subscribe", form); a.StatusCode != http.StatusInternalServerError || strings.Contains(text, "disk on") {
		t.Errorf("a failure: got status %d: %s", a.StatusCode, text)
	}
}

// Messages to Ada acknowledge in her name: who may look only must not get them.
func TestWhoMayLookOnlyRegistersNobodyWhoMayAct(t *testing.T) {
	st, f := pushed(t, Options{Accounts: []door.Account{{ID: "ada", May: door.MayAct, Password: password}, {ID: "ben", Name: "Ben", May: door.MayView, Password: password}}})
	if a, _ := st.get("/device"); a.StatusCode == http.StatusOK {
		t.Fatal("the page is shown to nobody in particular")
	}
	if a, _ := st.post("/sign-in", "account", "ben", "password", password); a.StatusCode != http.StatusSeeOther {
		t.Fatalf("sign in: got status %d", a.StatusCode)
	}
	_, text := st.get("/device")
	wantAll(t, text, `<option value="ben" selected>Ben</option>`)
	wantNone(t, text, `value="ada"`)
	grant := []string{"label", "phone", "endpoint", "https://push.example.org/x", "p256dh", pushKey, "auth", grantAuth}
	if a, _ := st.post("/push/subscribe", append(grant, "person", "ada")...); a.StatusCode != http.StatusBadRequest || len(f.registered()) != 0 {
		t.Errorf("for Ada: got status %d", a.StatusCode)
	}
	if a, _ := st.post("/push/subscribe", append(grant, "person", "ben")...); a.StatusCode != http.StatusSeeOther || len(f.registered()) != 1 {
		t.Errorf("for Ben: got status %d", a.StatusCode)
	}
	for _, path := range []string{"/push/remove", "/push/test"} {
		if a, _ := st.post(path, "id", "1"); a.StatusCode != http.StatusForbidden || len(f.registered()) != 1 || len(f.tested) != 0 {
			t.Errorf("%s of any device: got status %d", path, a.StatusCode)
		}
		if a, _ := st.post(path, "endpoint", "https://push.example.org/"); a.StatusCode != http.StatusConflict {
			t.Errorf("%s of an unknown one: got status %d", path, a.StatusCode)
		}
	}
	if a, _ := st.post("/push/test", "endpoint", "https://push.example.org/x"); a.StatusCode != http.StatusSeeOther || len(f.tested) != 1 {
		t.Errorf("a test of the own device: got status %d", a.StatusCode)
	}
}

func TestDevicesInEveryState(t *testing.T) {
	st := start(t, Options{Watch: newFake(), Push: scenePush(noon)})
	_, text := st.get("/device")
	wantAll(t, reading(text), "Added 12 May 12:02. Its push service last took a message at 11:42.",
		"It takes no alarms since 09:02: its push service does not know it any more.",
		"It could not be told at 12:01: the push service at push.example.org answered 503 Service Unavailable; check whether it is in trouble.",
		"for cat The configuration has nobody of that name to be told by push", "Took alarms for Ada It takes no alarms since",
		"No device of Ben takes alarms yet. What is to be told to Ben by push is not told")
	wantNone(t, reading(text), "No device of Ada")
	if n := strings.Count(text, `action="/push/test"`); n != 3 {
		t.Errorf("%d devices can be tested, want 3: not the one that is gone", n)
	}
}

func TestADeviceChangesItsAddress(t *testing.T) {
	st, f := pushed(t, Options{Password: password})
	f.devices = []PushDevice{{ID: 1, Mark: PushMark("https://push.example.org/old"), Person: "ada", Label: "phone"}}
	form := url.Values{"old": {"https://push.example.org/old"}, "endpoint": {"https://push.example.org/new"}, "p256dh": {pushKey}, "auth": {grantAuth}}
	for _, want := range []int{http.StatusOK, http.StatusNotFound} {
		if a, _ := st.ask("POST", "/push/renew", form, "Accept", "application/json"); a.StatusCode != want {
			t.Errorf("got status %d, want %d", a.StatusCode, want)
		}
	}
	if d := f.registered()[0]; d.Mark != PushMark("https://push.example.org/new") || d.Label != "phone" {
		t.Errorf("got %+v", d)
	}
	if a, _ := st.ask("POST", "/push/renew", form, "Sec-Fetch-Site", "cross-site"); a.StatusCode != http.StatusForbidden {
		t.Errorf("from another site: got status %d", a.StatusCode)
	}
}

func TestWithoutTheChannelThereIsNoSuchPage(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	if a, _ := st.get("/device"); a.StatusCode != http.StatusNotFound {
		t.Errorf("got status %d", a.StatusCode)
	}
	_, text := st.get("/")
	wantNone(t, text, `href="/device"`)
}

// The manifest is that of the W3C's Web Application Manifest: its name is the
// garden's, and its icons are there in the sizes that it says. Nobody need be
// signed in: browsers fetch it without cookies.
func TestTheManifest(t *testing.T) {
	st := start(t, Options{Watch: newFake(), Name: "Thimble Garth", Password: password})
	a, text := st.get("/manifest.webmanifest")
	var m struct {
		Name, Display, Scope string
		Start                string `json:"start_url"`
		Icons                []struct{ Src, Sizes, Type, Purpose string }
	}
	if err := json.Unmarshal([]byte(text), &m); err != nil {
		t.Fatal(err)
	}
	if a.Header.Get("Content-Type") != "application/manifest+json" || m.Name != "Thimble Garth" || m.Display != "standalone" || m.Scope != "/" || m.Start != "/" || len(m.Icons) != 4 {
		t.Errorf("got %s: %+v", a.Header.Get("Content-Type"), m)
	}
	purposes := map[string]bool{}
	for _, icon := range m.Icons {
		purposes[icon.Purpose] = true
		a, data := st.get(icon.Src)
		if a.StatusCode != http.StatusOK || a.Header.Get("Content-Type") != icon.Type {
			t.Errorf("%s: got status %d of %s", icon.Src, a.StatusCode, a.Header.Get("Content-Type"))
		}
		if icon.Type != "image/png" {
			continue
		}
		img, err := png.DecodeConfig(bytes.NewReader([]byte(data)))
		if want := strings.Split(icon.Sizes, "x")[0]; err != nil || img.Width != img.Height || want != jsonNumber(img.Width) {
			t.Errorf("%s: got %dx%d, %v; want %s", icon.Src, img.Width, img.Height, err, icon.Sizes)
		}
	}
	if !purposes["any"] || !purposes["maskable"] {
		t.Errorf("got the purposes %v", purposes)
	}
	a, text = st.get("/worker.js")
	if a.StatusCode != http.StatusOK || a.Header.Get("Content-Type") != "text/javascript; charset=utf-8" || a.Header.Get("Cache-Control") != "no-cache" || !strings.Contains(text, `addEventListener("push"`) {
		t.Errorf("the worker: got status %d, %v", a.StatusCode, a.Header)
	}
	_, text = st.get("/sign-in")
	wantAll(t, text, `<link rel="manifest" href="/manifest.webmanifest">`)
}

func jsonNumber(n int) string { b, _ := json.Marshal(n); return string(b) }
