package gateway

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/page/service"
)

func TestThePagesKeyIsMadeOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "key")
	first, err := keptKey(path)
	ok(t, err)
	again, err := keptKey(path)
	ok(t, err)
	if len(first) != keySize || !bytes.Equal(first, again) {
		t.Errorf("got %x, then %x", first, again)
	}
	info, err := os.Stat(path)
	ok(t, err)
	if info.Mode().Perm() != 0o600 {
		t.Errorf("the key has mode %v, want 0600", info.Mode().Perm())
	}
	ok(t, os.WriteFile(path, []byte("torn"), 0o600))
	third, err := keptKey(path)
	ok(t, err)
	if bytes.Equal(third, first) || len(third) != keySize {
		t.Errorf("from a torn file: got %x", third)
	}
	lost, err := keptKey(filepath.Join(t.TempDir(), "no folder", "key"))
	if err == nil || len(lost) != keySize {
		t.Errorf("where nothing can be kept: got %d bytes and error %v, want a key and an error", len(lost), err)
	}
	left, err := os.ReadDir(filepath.Dir(path))
	ok(t, err)
	if len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
}

// accountsConfig has Ada, who may act, and Ben, who is told and may look.
func accountsConfig(t *testing.T, store string) *config.Config {
	t.Helper()
	text := strings.Replace(tendConfig, "LINES", filepath.Join(store, "..", "lines"), 1)
	text = strings.Replace(text, `run = ["/bin/true"]`, `run = ["/usr/bin/tee", "`+filepath.Join(store, "..", "told")+`"]`, 1)
	c, err := read(text, store)
	ok(t, err)
	c.Page.URL, c.Page.LinksFor = "https://garden.example.org/", 24*time.Hour
	c.Page.Accounts = []config.PageAccount{
		{ID: "ada", Name: "Ada", Person: "ada", May: config.MayAct, Password: config.NewSecret("lettuce kettle bramble")},
		{ID: "ben", Name: "Ben", May: config.MayView, Password: config.NewSecret("thistle harbour spoon")},
	}
	return c
}

// TestALinkAcknowledgesAndAPhoneStaysSignedIn goes the whole way: an alarm, a
// message with a link, a tap, and all of it again after a restart.
func TestALinkAcknowledgesAndAPhoneStaysSignedIn(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	store := filepath.Join(dir, "store")
	w := tend(t, accountsConfig(t, store))
	if text := w.post("/sign-in", "/sign-in", url.Values{"account": {"Ada"}, "password": {"lettuce kettle bramble"}}); !strings.Contains(text, "Long House") {
		t.Fatalf("Ada is not signed in: %s", text)
	}
	w.send("40")
	var event struct{ Acknowledge string }
	await(t, "Ada is told with a link", func() bool {
		data, err := os.ReadFile(filepath.Join(dir, "told"))
		if err != nil {
			return false
		}
		var doc struct {
			Events []struct{ Acknowledge string }
		}
		if json.Unmarshal(data, &doc) != nil || len(doc.Events) == 0 {
			return false
		}
		event.Acknowledge = doc.Events[0].Acknowledge
		return true
	})
	token, found := strings.CutPrefix(event.Acknowledge, "https://garden.example.org/tap?t=")
	if !found {
		t.Fatalf("got the link %q", event.Acknowledge)
	}
	stranger := &tendWatch{t: t, at: w.at, browser: &http.Client{}}
	if text := stranger.get("/tap?t=" + token); !strings.Contains(text, "Acknowledge as ada") || stateOf(w.parts.watch.Picture(), benchHigh) != alarms.Unacknowledged {
		t.Errorf("opening the link: %s", text)
	}
	tap := func(w *tendWatch, want string) {
		t.Helper()
		req, err := http.NewRequest("POST", "http://"+w.at.Page+"/tap", strings.NewReader(url.Values{"t": {token}}.Encode()))
		ok(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if text := stranger.answer(stranger.browser.Do(req)); !strings.Contains(text, want) {
			t.Errorf("got %s, want %q", text, want)
		}
	}
	tap(w, "Acknowledged by ada.")
	if got := stateOf(w.parts.watch.Picture(), benchHigh); got != alarms.Acknowledged {
		t.Errorf("the alarm is %s", got)
	}
	log, err := w.parts.watch.Log(t.Context(), service.LogAll, w.parts.clock.Now(), 1)
	ok(t, err)
	if len(log) != 1 || log[0].Reason.By != "ada, by a link" {
		t.Errorf("the log has %+v", log)
	}
	w.stop()

	again := tend(t, accountsConfig(t, store))
	again.browser.Jar.SetCookies(&url.URL{Scheme: "http", Host: again.at.Page}, w.browser.Jar.Cookies(&url.URL{Scheme: "http", Host: w.at.Page}))
	if text := again.get("/account"); !strings.Contains(text, "Sign out everywhere") {
		t.Errorf("the phone is signed out by a restart: %s", text)
	}
	tap(again, "acknowledged already")
	for _, name := range []string{keyFile, sessionsFile} {
		info, err := os.Stat(filepath.Join(store, name))
		ok(t, err)
		data, err := os.ReadFile(filepath.Join(store, name))
		ok(t, err)
		if info.Mode().Perm() != 0o600 || bytes.Contains(data, []byte("kettle")) {
			t.Errorf("%s has mode %v, want 0600 and no password in it", name, info.Mode().Perm())
		}
		for _, c := range w.browser.Jar.Cookies(&url.URL{Scheme: "http", Host: w.at.Page}) {
			if bytes.Contains(data, []byte(c.Value)) {
				t.Errorf("%s holds the cookie %s as it is", name, c.Name)
			}
		}
	}
}
