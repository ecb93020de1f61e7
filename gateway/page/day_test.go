package page

import (
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// startDay serves the scene with a past.
func startDay(t *testing.T, tune ...func(*Server)) *started {
	t.Helper()
	f := newFake()
	return start(t, Options{Watch: f, Course: newFakeCourse(f), Name: "Thimble Garth"}, tune...)
}

// Every length ends where it was asked to, and the links lead on from there.
func TestEveryLengthLeadsOn(t *testing.T) {
	st := startDay(t)
	zooms := []string{"hour", "6-hours", "day", "3-days", "week", "month", "year", "all"}
	for i, z := range zooms {
		days := i >= 5 // it shows days or longer
		for _, until := range []string{"", "2026-05-04T08:00Z"} {
			path := "/back?house=long-house&zoom=" + z + "&until=" + url.QueryEscape(until)
			a, text := st.get(path)
			if a.StatusCode != 200 {
				t.Fatalf("%s: got status %d", path, a.StatusCode)
			}
			wantAll(t, text, `data-zoom="`+z+`"`, "Bench, temperature, °C", "Bench, humidity", "Exhaust fan", `class="band"`)
			for _, other := range zooms {
				if other != z {
					wantAll(t, text, "zoom="+other)
				}
			}
			live := strings.Contains(text, `data-until="0"`)
			if want := until == "" || z == "all"; live != want {
				t.Errorf("%s: live is %v, want %v", path, live, want)
			}
			if later := strings.Contains(text, `data-step="later"`); later == live {
				t.Errorf("%s: it leads to later: %v, and ends now: %v", path, later, live)
			}
			if earlier := strings.Contains(text, `data-step="earlier"`); earlier != (z != "all") {
				t.Errorf("%s: it leads to earlier: %v", path, earlier)
			}
			if table := strings.Contains(text, "<table>"); table != days {
				t.Errorf("%s: a table of days: %v, want %v", path, table, days)
			}
			if night := strings.Contains(text, `class="night" d="M`); night == days && i >= 2 { // a part of a day may have none
				t.Errorf("%s: nights are shaded: %v", path, night)
			}
			wantNone(t, text, "NaN", "Inf,", "Infinity", "<script>", " style=")
		}
	}
}

// One length earlier and then one later is the same strip.
func TestEarlierAndLaterAgree(t *testing.T) {
	st := startDay(t)
	step := func(path, step string) string {
		t.Helper()
		_, text := st.get(path)
		m := regexp.MustCompile(`href="([^"]+)" data-step="` + step + `"`).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("%s has no link %s", path, step)
		}
		return strings.ReplaceAll(m[1], "&amp;", "&")
	}
	begin := "/back?house=long-house&place=bench&place=ridge&until=2026-05-04T08%3A00Z&zoom=week"
	back := step(begin, "earlier")
	wantAll(t, back, "until=2026-04-27T08%3A00Z", "place=bench", "place=ridge")
	if got := step(back, "later"); got != begin {
		t.Errorf("got %s, want %s", got, begin)
	}
	if got := step(begin, "now"); strings.Contains(got, "until") {
		t.Errorf("up to now: got %s", got)
	}
}

// What an address cannot mean is shown as if it were not there.
func TestAddressesThatMeanNothing(t *testing.T) {
	st := startDay(t)
	_, plain := st.get("/back?house=long-house")
	want := regexp.MustCompile(`data-from="\d+" data-to="\d+"`).FindString(plain)
	for _, q := range []string{"zoom=eon", "until=yesterday", "until=2999-01-01T00:00Z", "until=0001-01-01T00:00Z", "place=attic", "until=%00"} {
		a, text := st.get("/back?house=long-house&" + q)
		if a.StatusCode != 200 || !strings.Contains(text, want) {
			t.Errorf("%s: got status %d, want the day up to now, %s", q, a.StatusCode, want)
		}
	}
	if a, _ := st.get("/back?house=elsewhere"); a.StatusCode != 404 {
		t.Errorf("no such house: got status %d, want 404", a.StatusCode)
	}
	a, _ := st.get("/charts?house=low-house")
	if a.StatusCode != 308 || a.Header.Get("Location") != "/back?house=low-house" {
		t.Errorf("the address of before: got %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
}

func TestBackSaysAllInWords(t *testing.T) {
	st := startDay(t)
	_, text := st.get("/back?house=long-house&place=bench&place=shutter")
	wantAll(t, reading(text), "Exhaust fan ran", "started", "Intake shutter was open", "opened", "Loop fan ran", "Inferred from temperatures alone.",
		"Not known from 03:02 to 06:02", "High priority. Far too hot in Long House, ridge", "Acknowledged. Ada acknowledged",
		"It lasted 30 min.", "band in force", "night", "ran, as the temperatures suggest",
		"A part of the history cannot be read just now.") // the shutter's disk is on fire
	wantNone(t, text, "too warm for two hours") // twelve days ago
	_, text = st.get("/back?house=long-house&zoom=month&until=" + "2026-06-20T12:00Z")
	wantAll(t, reading(text), "too warm for two hours", "It lasted 2 h.", "Lowest", "on ", "lowest highest")
	_, part := st.get("/back?house=low-house&part=front")
	wantAll(t, part, "Propagation bed, temperature, °C", "Look back, larger and longer")
	wantNone(t, part, "<html", "<body")
	_, front := st.get("/")
	wantAll(t, front, `data-again="/back?part=front&amp;house=long-house"`, "The last day: Bench")
}

func TestWithoutAPastThereIsNoLookBack(t *testing.T) {
	st := start(t, Options{Watch: newFake()}, func(s *Server) { s.options.Course = nil })
	if a, _ := st.get("/back"); a.StatusCode != 404 {
		t.Errorf("got status %d, want 404", a.StatusCode)
	}
	_, text := st.get("/")
	wantNone(t, text, `href="/back`, "The last day")
}
