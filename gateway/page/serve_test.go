package page

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"telltale/gateway/page/words"

	"github.com/rs/zerolog"
)

const password = "lettuce kettle bramble"

// started is a served page and one browser without scripts.
type started struct {
	t      *testing.T
	server *Server
	base   string
	client *http.Client
	stop   context.CancelFunc
	ended  chan struct{}
	err    error
}

// start serves a page on a free loopback port until the test ends.
func start(t *testing.T, o Options, tune ...func(*Server)) *started {
	t.Helper()
	if o.Address == "" {
		o.Address = "127.0.0.1:0"
	}
	o.Log, o.DegreesGiven = zerolog.New(zerolog.NewTestWriter(t)), true
	if f, ok := o.Watch.(*fakeWatch); ok && o.Tending == nil {
		o.Tending = plainTending(f)
	}
	if f, ok := o.Watch.(*fakeWatch); ok && o.Course == nil {
		o.Course = newFakeCourse(f)
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range tune {
		f(s)
	}
	if err := s.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	st := &started{t: t, server: s, base: "http://" + s.Addr(), stop: stop, ended: make(chan struct{})}
	st.client = st.browser()
	go func() {
		defer close(st.ended)
		st.err = s.Run(ctx)
	}()
	t.Cleanup(func() {
		st.stop()
		select {
		case <-st.ended:
			if st.err != nil {
				t.Errorf("Run: %v", st.err)
			}
		case <-time.After(patience):
			t.Error("the page did not stop")
		}
	})
	return st
}

// browser returns a client with its own cookies that follows no redirects.
func (st *started) browser() *http.Client {
	jar, err := cookiejar.New(nil)
	if err != nil {
		st.t.Fatal(err)
	}
	return &http.Client{Jar: jar, Timeout: patience,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// ask sends a request as a browser's page load would and returns the answer.
func (st *started) ask(method, path string, form url.Values, headers ...string) (*http.Response, string) {
	st.t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r, err := http.NewRequest(method, st.base+path, body)
	if err != nil {
		st.t.Fatal(err)
	}
	r.Header.Set("Accept", "text/html")
	if method == "GET" {
		r.Header.Set("Sec-Fetch-Site", "none")
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
			continue
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	a, err := st.client.Do(r)
	if err != nil {
		st.t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		st.t.Fatal(err)
	}
	return a, string(text)
}

func (st *started) get(path string, headers ...string) (*http.Response, string) {
	st.t.Helper()
	return st.ask("GET", path, nil, headers...)
}

// post sends a form with the fields given in pairs.
func (st *started) post(path string, fields ...string) (*http.Response, string) {
	st.t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	return st.ask("POST", path, form)
}

// signIn gives the password.
func (st *started) signIn() {
	st.t.Helper()
	if a, _ := st.post("/sign-in", "password", password); a.StatusCode != http.StatusSeeOther {
		st.t.Fatalf("sign in: got status %d, want 303", a.StatusCode)
	}
}

var tags = regexp.MustCompile(`<[^>]*>`)
var spaces = regexp.MustCompile(`\s+`)

// reading is what a person reads of a page without scripts, on one line: ages
// are not shown then, and no markup.
func reading(page string) string {
	page = regexp.MustCompile(`<span class="age">[^<]*</span>|<span class="pastword">[^<]*</span>`).ReplaceAllString(page, "")
	page = strings.ReplaceAll(page, words.NoBreak, " ")
	return strings.TrimSpace(spaces.ReplaceAllString(unescape.Replace(tags.ReplaceAllString(page, " ")), " "))
}

var unescape = strings.NewReplacer("&lt;", "<", "&gt;", ">", "&amp;", "&", "&#34;", `"`, "&#39;", "'", "&#43;", "+")

func wantAll(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("missing %q in:\n%s", p, text)
		}
	}
}

func wantNone(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if strings.Contains(text, p) {
			t.Errorf("unwanted %q in:\n%s", p, text)
		}
	}
}

// eventually waits for a condition within a bounded time.
// patience is how long a test waits for what must come. A slow machine makes
// it wait longer, and only a failure makes it wait so long.
const patience = 2 * time.Minute

func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("did not happen: %s", what)
}
