package page

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

const ridgeHigh alarms.AlarmID = "long-house/ridge/temperature/high"

// tapping serves a page with links, without a browser's cookies.
func tapping(t *testing.T, o Options) (*started, *fakeWatch, *Taps) {
	t.Helper()
	f, taps := newFake(), NewTaps([]byte("a key of these tests, not secret"))
	o.Watch, o.Taps, o.Password = f, taps, password
	st := start(t, o)
	st.client.Jar = nil
	return st, f, taps
}

func tokenOf(t *testing.T, link string) string {
	t.Helper()
	u, err := url.Parse(link)
	if err != nil || u.Path != "/tap" {
		t.Fatalf("%q is no link to /tap (%v)", link, err)
	}
	return u.Query().Get("t")
}

func TestTapsReadWhatTheyWrote(t *testing.T) {
	taps := NewTaps([]byte("one key"))
	for _, p := range []tap{
		{ridgeHigh, string(ridgeHigh) + "#3", "Ada", noon},
		{"watch/broker/silent", "watch/broker/silent#12", "Ben von nebenan, Grünes Tor", noon.Add(24 * time.Hour)},
		{"a", "another/alarm#1", "", time.Unix(-5, 0)},
		{"a", "a", "x|y", time.Unix(0, 0)},
	} {
		link := taps.Link("https://garden.example.org/", p.alarm, p.transition, p.person, p.until)
		if !strings.HasPrefix(link, "https://garden.example.org/tap?t=") {
			t.Errorf("got the link %s", link)
		}
		got, err := taps.read(tokenOf(t, link))
		if err != nil || got.alarm != p.alarm || got.transition != p.transition || got.person != p.person || !got.until.Equal(p.until) {
			t.Errorf("got %+v, %v; want %+v", got, err, p)
		}
		if _, err := NewTaps([]byte("another key")).read(tokenOf(t, link)); err == nil {
			t.Error("another key reads it too")
		}
	}
	link := taps.Link("https://garden.example.org", ridgeHigh, string(ridgeHigh)+"#3", "Ada", noon)
	if len(link) > 150 {
		t.Errorf("a link of %d characters is long for a message: %s", len(link), link)
	}
}

// The signature is HMAC (RFC 2104) with SHA-256, cut to its first half as
// section 5 of that RFC allows: computed here by its definition,
// H(K xor opad, H(K xor ipad, text)).
func TestTapSignatureIsHMAC(t *testing.T) {
	key := []byte("one key")
	all, err := base64.RawURLEncoding.DecodeString(NewTaps(key).sign(tap{ridgeHigh, "x", "Ada", noon}))
	if err != nil {
		t.Fatal(err)
	}
	text := append([]byte("tap:"), all[:len(all)-16]...)
	inner, outer := make([]byte, 64), make([]byte, 64)
	copy(inner, key)
	copy(outer, key)
	for i := range inner {
		inner[i] ^= 0x36
		outer[i] ^= 0x5c
	}
	in := sha256.Sum256(append(inner, text...))
	want := sha256.Sum256(append(outer, in[:]...))
	if !hmac.Equal(all[len(all)-16:], want[:16]) {
		t.Errorf("got %x, want %x", all[len(all)-16:], want[:16])
	}
}

func TestTapsRefuseEveryChangedByte(t *testing.T) {
	taps := NewTaps([]byte("one key"))
	good := taps.sign(tap{ridgeHigh, string(ridgeHigh) + "#3", "Ada", noon})
	raw, err := base64.RawURLEncoding.DecodeString(good)
	if err != nil {
		t.Fatal(err)
	}
	for i := range raw {
		for bit := range 8 {
			bad := append([]byte(nil), raw...)
			bad[i] ^= 1 << bit
			if p, err := taps.read(base64.RawURLEncoding.EncodeToString(bad)); err == nil {
				t.Fatalf("byte %d, bit %d changed: read as %+v", i, bit, p)
			}
		}
	}
	for i := range good {
		for _, c := range "AQgw_-=+/.\n " {
			bad := good[:i] + string(c) + good[i+1:]
			if _, err := taps.read(bad); err == nil && bad != good {
				t.Fatalf("character %d as %q: accepted", i, c)
			}
		}
		if _, err := taps.read(good[:i]); err == nil {
			t.Fatalf("cut to %d characters: accepted", i)
		}
		if _, err := taps.read(good[:i] + "\n" + good[i:]); err == nil {
			t.Fatalf("with a line break at %d: accepted", i)
		}
	}
	if _, err := taps.read(good + good); err == nil {
		t.Error("doubled: accepted")
	}
}

func FuzzTap(f *testing.F) {
	taps := NewTaps([]byte("one key"))
	f.Add(taps.sign(tap{ridgeHigh, string(ridgeHigh) + "#3", "Ada", noon}), []byte{1, 2, 3})
	f.Add("", []byte{0})
	f.Add("AQ", binaryTap("a", "#1", "b"))
	f.Fuzz(func(t *testing.T, token string, inside []byte) {
		if p, err := taps.read(token); err == nil && taps.sign(p) != token {
			t.Errorf("%q is read as %+v, which is signed as %q", token, p, taps.sign(p))
		}
		if p, err := parseTap(inside); err == nil { // behind a right signature, too
			again, err := taps.read(taps.sign(p))
			if err != nil || again != p {
				t.Errorf("%x is read as %+v, then as %+v (%v)", inside, p, again, err)
			}
		}
	})
}

func binaryTap(parts ...string) []byte {
	b := []byte{0x02}
	for _, p := range parts {
		b = append(append(b, byte(len(p))), p...)
	}
	return b
}

func TestTapAcknowledges(t *testing.T) {
	st, f, taps := tapping(t, Options{})
	seen := string(ridgeHigh) + "#3"
	token := tokenOf(t, taps.Link(st.base, ridgeHigh, seen, "Ada", noon.Add(time.Minute)))
	for range 3 { // a scanner of mail opens links, and so does a person
		a, text := st.get("/tap?t="+token, "Sec-Fetch-Site", "cross-site")
		if a.StatusCode != http.StatusOK || len(a.Cookies()) != 0 || len(f.done()) != 0 {
			t.Fatalf("got status %d, cookies %v and %d acts; want a page and nothing else", a.StatusCode, a.Cookies(), len(f.done()))
		}
		wantAll(t, reading(text), f.Picture().Alarms[0].Sentence, "Acknowledge as Ada", "good until 12:03")
		wantNone(t, text, "/sign-out", `name="token"`)
	}
	a, text := st.ask("POST", "/tap", url.Values{"t": {token}}, "Sec-Fetch-Site", "same-origin")
	if a.StatusCode != http.StatusOK {
		t.Fatalf("got status %d: %s", a.StatusCode, text)
	}
	wantAll(t, reading(text), "Acknowledged by Ada.")
	got := f.done()
	if len(got) != 1 || got[0].Kind != alarms.Acknowledge || got[0].Alarm != ridgeHigh || got[0].By != "Ada, by a link" {
		t.Fatalf("got the acts %+v", got)
	}
	for _, method := range []string{"POST", "GET"} { // once more: nothing more is done, and nothing is wrong
		path, form := "/tap?t="+token, url.Values(nil)
		if method == "POST" {
			path, form = "/tap", url.Values{"t": {token}}
		}
		a, text = st.ask(method, path, form)
		if a.StatusCode != http.StatusOK || len(f.done()) != 1 {
			t.Errorf("%s again: got status %d and %d acts", method, a.StatusCode, len(f.done()))
		}
		wantAll(t, reading(text), "It is acknowledged already.")
	}
}

func TestTapRefuses(t *testing.T) {
	seen, end := string(ridgeHigh)+"#3", noon.Add(time.Minute)
	for name, c := range map[string]struct {
		alarm      alarms.AlarmID
		transition string
		until      time.Time
		spoil      func(string) string
		change     func(*alarms.Picture)
		status     int
		says       string
	}{
		"ended this second":   {until: noon, status: 403, says: "This link has ended, so nothing was done: it was good until 12:02."},
		"ended long ago":      {until: noon.Add(-48 * time.Hour), status: 403, says: "This link has ended"},
		"good for one second": {until: noon.Add(time.Second), status: 200, says: "Acknowledged by Ada."},
		"an older transition": {transition: string(ridgeHigh) + "#2", status: 409, says: "It changed after this message was sent, so nothing was done. Open the page and look first."},
		"worse meanwhile":     {change: func(p *alarms.Picture) { p.Alarms[0].Transition = string(ridgeHigh) + "#4" }, status: 409, says: "look first"},
		"only told again meanwhile": {change: func(p *alarms.Picture) {
			p.Alarms[0].News, p.Alarms[0].Transition = string(ridgeHigh)+"#2", string(ridgeHigh)+"#5"
		}, status: 200, says: "Acknowledged by Ada."},
		"shelved meanwhile":    {change: func(p *alarms.Picture) { p.Alarms[0].State = alarms.Shelved }, status: 409, says: "look first"},
		"acknowledged already": {change: func(p *alarms.Picture) { p.Alarms[0].State = alarms.Acknowledged }, status: 200, says: "It is acknowledged already."},
		"over":                 {change: func(p *alarms.Picture) { p.Alarms = nil }, status: 200, says: "That alarm is over"},
		"another alarm":        {alarm: "long-house/ridge/temperature/low", status: 200, says: "That alarm is over"},
		"no link":              {spoil: func(string) string { return "" }, status: 404, says: "this watch has not made it"},
		"half a link":          {spoil: func(s string) string { return s[:len(s)/2] }, status: 404, says: "Copy all of it"},
		"very long":            {spoil: func(s string) string { return strings.Repeat(s, 100) }, status: 404, says: "this watch has not made it"},
	} {
		t.Run(name, func(t *testing.T) {
			st, f, taps := tapping(t, Options{})
			p := tap{ridgeHigh, seen, "Ada", end}
			if c.alarm != "" {
				p.alarm = c.alarm
			}
			if c.transition != "" {
				p.transition = c.transition
			}
			if !c.until.IsZero() {
				p.until = c.until
			}
			if c.change != nil {
				f.change(c.change)
			}
			token := taps.sign(p)
			if c.spoil != nil {
				token = c.spoil(token)
			}
			a, text := st.ask("POST", "/tap", url.Values{"t": {token}})
			if a.StatusCode != c.status || len(a.Cookies()) != 0 {
				t.Errorf("got status %d and cookies %v, want %d and none", a.StatusCode, a.Cookies(), c.status)
			}
			wantAll(t, reading(text), c.says)
			if n := len(f.done()); n != 0 && name != "good for one second" && name != "only told again meanwhile" {
				t.Errorf("%d things were done", n)
			}
			if c.status != http.StatusOK && len(token) < maxTap {
				a, _ = st.get("/tap?t=" + token)
				if a.StatusCode != c.status {
					t.Errorf("GET: got status %d, want %d", a.StatusCode, c.status)
				}
			}
		})
	}
}

func TestTapRights(t *testing.T) {
	st, f, taps := tapping(t, Options{MayTap: func(person string) bool { return person == "Ada" }})
	token := taps.sign(tap{ridgeHigh, string(ridgeHigh) + "#3", "Ben", noon.Add(time.Hour)})
	if a, text := st.ask("POST", "/tap", url.Values{"t": {token}}); a.StatusCode != http.StatusForbidden || len(f.done()) != 0 {
		t.Errorf("Ben: got status %d: %s", a.StatusCode, text)
	}
	a, text := st.ask("POST", "/tap", url.Values{"t": {token}}, "Sec-Fetch-Site", "cross-site")
	if a.StatusCode != http.StatusForbidden {
		t.Errorf("from another web page: got status %d: %s", a.StatusCode, text)
	}
	without := start(t, Options{Watch: newFake()})
	if a, _ := without.get("/tap?t=" + token); a.StatusCode != http.StatusNotFound {
		t.Errorf("without links: got status %d, want 404", a.StatusCode)
	}
}
