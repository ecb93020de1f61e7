package page

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/door"
)

const ridgeHigh alarms.AlarmID = "long-house/ridge/temperature/high"

// tapping serves a page with links, without a browser's cookies.
func tapping(t *testing.T, o Options) (*started, *fakeWatch, *door.AckLinks) {
	t.Helper()
	f, ackLinks := newFake(), door.NewAckLinks([]byte("a key of these tests, not secret"))
	o.Watch, o.AckLinks, o.Password = f, ackLinks, password
	st := start(t, o)
	st.client.Jar = nil
	return st, f, ackLinks
}

func tokenOf(t *testing.T, link string) string {
	t.Helper()
	u, err := url.Parse(link)
	if err != nil || u.Path != "/tap" {
		t.Fatalf("%q is no link to /tap (%v)", link, err)
	}
	return u.Query().Get("t")
}

func TestAckLinkAcknowledges(t *testing.T) {
	st, f, ackLinks := tapping(t, Options{})
	seen := string(ridgeHigh) + "#3"
	token := tokenOf(t, ackLinks.Link(st.base, ridgeHigh, seen, "Ada", noon.Add(time.Minute)))
	for range 3 { // a scanner of mail opens links, and so does a person
		a, text := st.get("/tap?t="+token, "Sec-Fetch-Site", "cross-site")
		if a.StatusCode != http.StatusOK || len(a.Cookies()) != 0 || len(f.done()) != 0 {
			t.Fatalf("got status %d, cookies %v and %d acts; want a page and nothing else", a.StatusCode, a.Cookies(), len(f.done()))
		}
		wantAll(t, reading(text), f.Picture().Alarms[0].Sentence, "Acknowledge as Ada", "good until 12:03")
		wantNone(t, text, "/sign-out")
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

func TestAckLinkRefuses(t *testing.T) {
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
			st, f, ackLinks := tapping(t, Options{})
			p := door.AckLink{Alarm: ridgeHigh, Transition: seen, Person: "Ada", Until: end}
			if c.alarm != "" {
				p.Alarm = c.alarm
			}
			if c.transition != "" {
				p.Transition = c.transition
			}
			if !c.until.IsZero() {
				p.Until = c.until
			}
			if c.change != nil {
				f.change(c.change)
			}
			token := tokenOf(t, ackLinks.Link("", p.Alarm, p.Transition, p.Person, p.Until))
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
			if c.status != http.StatusOK && len(token) < 1000 {
				a, _ = st.get("/tap?t=" + token)
				if a.StatusCode != c.status {
					t.Errorf("GET: got status %d, want %d", a.StatusCode, c.status)
				}
			}
		})
	}
}

func TestAckLinkRights(t *testing.T) {
	st, f, ackLinks := tapping(t, Options{MayAcknowledge: func(person string) bool { return person == "Ada" }})
	token := tokenOf(t, ackLinks.Link("", ridgeHigh, string(ridgeHigh)+"#3", "Ben", noon.Add(time.Hour)))
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

// The answer to a tap says until when it holds, and why, where the time in hand sets that.
func TestAckLinkSaysUntilWhen(t *testing.T) {
	limit := 35.0
	for want, reaches := range map[string]*float64{
		"If it is no better, it is told again at 12:16, when it may be 35.0 °C already. It still has": &limit,
		"If it is no better, it is told again at 12:16. It still has":                                 nil,
	} {
		st, f, ackLinks := tapping(t, Options{})
		f.change(func(p *alarms.Picture) { p.Alarms[0].Until, p.Alarms[0].Reaches = noon.Add(14*time.Minute), reaches })
		token := tokenOf(t, ackLinks.Link(st.base, ridgeHigh, string(ridgeHigh)+"#3", "Ada", noon.Add(time.Minute)))
		_, text := st.ask("POST", "/tap", url.Values{"t": {token}}, "Sec-Fetch-Site", "same-origin")
		wantAll(t, reading(text), "Acknowledged by Ada. "+want)
		_, text = st.ask("POST", "/tap", url.Values{"t": {token}}, "Sec-Fetch-Site", "same-origin")
		wantAll(t, reading(text), "is on the way until 12:16")
	}
}
