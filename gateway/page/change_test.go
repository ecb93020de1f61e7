package page

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
	"telltale/gateway/config/forms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// fakeChanges are the forms of a file of its own; what is written stays in memory.
type fakeChanges struct {
	t       *testing.T
	file    string
	mu      sync.Mutex
	written []string // who wrote what form
	err     error
}

func newFakeChanges(t *testing.T) *fakeChanges {
	t.Helper()
	text, err := os.ReadFile("../../cmd/telltale/demo.toml")
	if err != nil {
		t.Fatal(err)
	}
	f := &fakeChanges{t: t, file: filepath.Join(t.TempDir(), "thimble-garth.toml")}
	if err := os.WriteFile(f.file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return f
}

func (f *fakeChanges) open() *edit.Draft {
	d, problems := edit.OpenDraft(f.file, func(string) (string, bool) { return "", false })
	if problems.Err() != nil {
		f.t.Fatal(problems)
	}
	return d
}

func (f *fakeChanges) Things(in tongue.Tongue) ([]forms.Thing, error) {
	return forms.Things(f.open(), in), nil
}

func (f *fakeChanges) Form(in tongue.Tongue, at string) (forms.Form, bool, error) {
	form, is := forms.Of(f.open(), in, at)
	return form, is, nil
}

func (f *fakeChanges) Fill(in tongue.Tongue, at string, v url.Values) (forms.Filled, bool, error) {
	d := f.open()
	form, is := forms.Of(d, in, at)
	if !is {
		return forms.Filled{}, false, nil
	}
	return forms.Fill(d, form, v), true, nil
}

func (f *fakeChanges) Change(_ context.Context, _ tongue.Tongue, at string, v url.Values, mark, by string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.err != nil {
		return f.err
	}
	if mark != f.open().Mark() {
		return ErrFirstChanged
	}
	f.written = append(f.written, by+": "+at+" "+v.Get("high"))
	return nil
}

const benchLimits = "house/long-house/place/bench/temperature"

func changing(t *testing.T, o Options) (*started, *fakeChanges) {
	t.Helper()
	c := newFakeChanges(t)
	o.Watch, o.Changes = newFake(), c
	return start(t, o), c
}

func TestChangesListWhatThereIs(t *testing.T) {
	st, _ := changing(t, Options{})
	_, text := st.get("/change")
	wantAll(t, reading(text), "Change the set-up", "The house Long House", "Limits of temperature", "Thermostat thermostat", "Stage hot", "Drive exhaust",
		"What shows that it runs", "The ground loop", "A further thermostat or humidistat", "Switches nothing"[1:])
	_, text = st.get("/change/form?at=house/long-house/control/thermostat/stage/hot")
	wantAll(t, text, `value="29.5"`, "Set point: the figure on the dial at which it switches on", "the thermostat stays in charge", "A drive that it switches")
	_, text = st.get("/change/form?at=house/long-house/drive/exhaust/evidence")
	wantAll(t, reading(text), "No. 1", "One more", "licensed electrician")
}

func TestAChangeIsShownAndThenWritten(t *testing.T) {
	st, c := changing(t, Options{})
	a, text := st.post("/change/form", "at", benchLimits, "high", "much", "day.high", "33", "day.high-high", "37", "rise-per-hour", "14", "rate-window", "30m")
	if a.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("status %d", a.StatusCode)
	}
	wantAll(t, reading(text), "It cannot be written like this", `(got "much")`)
	wantNone(t, text, `id="write"`)
	_, text = st.post("/change/form", "at", benchLimits, "day.high", "31,5", "day.high-high", "37", "rise-per-hour", "14", "rate-window", "30m")
	wantAll(t, reading(text), "What will be written", "high = 31.5")
	wantAll(t, text, `id="write"`, `name="mark" value="`+c.open().Mark()+`"`)
	a, text = st.post("/change/write", "at", benchLimits, "high", "30", "mark", c.open().Mark(), "name", "Ada")
	if a.StatusCode != http.StatusOK || len(c.written) != 1 || !strings.HasSuffix(c.written[0], benchLimits+" 30") {
		t.Errorf("status %d, written %q", a.StatusCode, c.written)
	}
	wantAll(t, reading(text), "It is written", "starts anew", "Go on with", "What shows that it runs")
	wantAll(t, text, `<details id="below-house/long-house" open>`)
	if a, text = st.post("/change/write", "at", benchLimits, "high", "29", "mark", "of another file"); a.StatusCode != http.StatusConflict || len(c.written) != 1 {
		t.Errorf("status %d, written %q", a.StatusCode, c.written)
	}
	wantAll(t, reading(text), "changed meanwhile", "high = 29")
	for _, at := range []string{"", "page", "house/long-house", "channel/post"} {
		want := http.StatusNotFound
		if at == "house/long-house" {
			want = http.StatusOK
		}
		if a, _ := st.get("/change/form?at=" + at); a.StatusCode != want {
			t.Errorf("%q: status %d", at, a.StatusCode)
		}
	}
}

func TestOnlyWhoActsChanges(t *testing.T) {
	st, c := changing(t, Options{Password: password})
	for _, path := range []string{"/change", "/change/form?at=" + benchLimits} {
		if a, _ := st.get(path); a.StatusCode != http.StatusSeeOther {
			t.Errorf("%s: status %d", path, a.StatusCode)
		}
	}
	if a, _ := st.ask("POST", "/change/write", url.Values{"at": {benchLimits}, "mark": {c.open().Mark()}}); a.StatusCode == http.StatusOK || len(c.written) > 0 {
		t.Error("a stranger may change the configuration")
	}
}

// withMail adds a way by mail to the file of the forms.
func (f *fakeChanges) withMail(t *testing.T) {
	t.Helper()
	text, err := os.ReadFile(f.file)
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, "\n[channel.post]\nkind = \"mail\"\nserver = \"mail.example.org:587\"\nuser = \"watch\"\npassword-file = \"post\"\nfrom = \"watch@example.org\"\n"...)
	for path, data := range map[string][]byte{f.file: text, filepath.Join(filepath.Dir(f.file), "post"): []byte("a stored secret 4711\n")} {
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

const postForm = "/change/form?at=channel%2Fpost"

func TestAChannelIsTriedBesideItsForm(t *testing.T) {
	f := newFake()
	c := newFakeChanges(t)
	c.withMail(t)
	st := start(t, Options{Watch: f, Changes: c, Accounts: people()})
	st.signInAs("ada", password)
	_, text := st.get(postForm)
	wantAll(t, reading(text), "Mail: post", "Send a test message over this channel", "Who is told by it", "There is one. Left empty: it stays.")
	wantAll(t, text, `id="password" name="password" type="password"`)
	wantNone(t, text, "4711", `id="tested"`, "authority-file")
	f.tested = []service.Telling{{Person: "Ada", Channel: "post", Kind: "mail", Test: true, Outcome: service.ToldGivenUp, Tries: 1, Why: "the server refused the password"}}
	a, _ := st.post("/change/test", "at", "channel/post")
	if a.StatusCode != http.StatusSeeOther || !strings.HasPrefix(a.Header.Get("Location"), postForm+"&of=") || f.testOver != "post" {
		t.Fatalf("status %d to %s, over %q", a.StatusCode, a.Header.Get("Location"), f.testOver)
	}
	_, text = st.get(a.Header.Get("Location"))
	wantAll(t, reading(text), "Ada by post", "given up", "the server refused the password", "What to do about it", "Server: the mail server, host:port")
	wantNone(t, reading(text), "Change this channel")
	// Elsewhere the outcome leads to the form, for who may act.
	_, text = st.get("/test-message?of=watch%2Ftest-message%231")
	wantAll(t, text, `href="`+postForm+`"`)
	st.signInAs("ben", benPassword)
	_, text = st.get("/test-message?of=watch%2Ftest-message%231")
	wantNone(t, text, postForm)
	st.signInAs("ada", password)
	for _, at := range []string{benchLimits, "channel/none", "channel/lamp", "channel/+mail", ""} {
		if a, _ := st.post("/change/test", "at", at); a.StatusCode != http.StatusNotFound {
			t.Errorf("a test of %q: status %d", at, a.StatusCode)
		}
	}
	// What is typed as a secret is shown by no page, but for the way to the next one.
	_, text = st.post("/change/form", "at", "channel/post", "server", "mail.example.org:587", "user", "watch", "from", "watch@example.org", "password", "typed 0815", "+told", "")
	wantAll(t, text, `<input type="hidden" name="password" value="typed 0815">`, `id="write"`)
	wantNone(t, strings.ReplaceAll(text, `<input type="hidden" name="password" value="typed 0815">`, ""), "0815", "4711")
}

// What is wrong with a form, and with the file, is said in the visitor's language.
func TestWhatIsWrongIsSaidInTheVisitorsLanguage(t *testing.T) {
	st, _ := changing(t, Options{})
	st.client.Jar.SetCookies(mustURL(st.base), []*http.Cookie{{Name: words.TongueCookie, Value: "de"}})
	_, text := st.post("/change/form", "at", benchLimits, "high", "much", "day.low", "500", "delay", "soon")
	wantAll(t, reading(text), `Muss eine Zahl sein, ohne Anführungszeichen (angegeben: "much")`, "Muss zwischen -60 und 100 °C liegen (angegeben: 500)",
		`Muss eine Zeitdauer wie "30s", "5m", "2h" oder "90d" sein (angegeben: "soon")`)
	wantNone(t, reading(text), "must be", "Must be", "(got")
	_, problems := config.Parse("thimble-garth.toml", []byte("[page]\naddress = \"\"\n"), func(string) (string, bool) { return "", false })
	said, ok := errors.AsType[*answer.Error](unreadable(problems.Err()))
	if !ok {
		t.Fatalf("got %v", problems)
	}
	wantAll(t, said.In(tongue.German), "thimble-garth.toml:2: page.address: muss host:port sein, etwa \"127.0.0.1:8470\" (angegeben: \"\")", "house: fehlt: mindestens ein Haus nennen")
	wantAll(t, said.In(tongue.English), "thimble-garth.toml:2: page.address: must be host:port such as \"127.0.0.1:8470\" (got \"\")")
}
