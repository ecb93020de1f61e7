package page

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/words"
)

// TestEveryPageSaysThatItIsPlayed: nobody shall take a demo for a garden.
func TestEveryPageSaysThatItIsPlayed(t *testing.T) {
	const played = "A demo: nothing of this is real."
	for _, want := range []bool{true, false} {
		o := Options{Watch: newFake()}
		if want {
			o.Played = func(tongue.Tongue) string { return played }
		}
		st := start(t, o)
		for _, address := range []string{"/", "/wall", "/log", "/help"} {
			if _, text := st.get(address); strings.Contains(text, `class="played"`) != want || want && !strings.Contains(reading(text), played) {
				t.Errorf("%s says %v that it is played, want %v", address, !want, want)
			}
		}
	}
}

func TestFrontSaysWhatIsSo(t *testing.T) {
	st := start(t, Options{Watch: newFake(), Name: "Thimble Garth"})
	a, text := st.get("/")
	if a.StatusCode != http.StatusOK {
		t.Fatalf("got status %d", a.StatusCode)
	}
	read := reading(text)
	wantAll(t, read,
		"Not all is well: the ridge of Long House is too hot",
		"As of 12:02:10 UTC", "Broker reached since 08:02",
		"3 open alarms",
		"High priority. Long House, ridge: far too hot. 41.2 °C limit 40.0 °C rising 3.2 °C an hour With the exhaust fan as it is: 8 min to 45.0 °C (5 to 14 min). "+
			"Check first: is the exhaust fan running and the intake shutter open? Acknowledge", // what harms, what to do, then the button
		"More… Far too hot in Long House, ridge: 41.2 °C now (limit 40.0 °C)",
		"Medium priority. Probe bed 1 of Low House has been silent since 09:02", // no value is of now
		"1 more follows from this Low House, bed: unwatched",
		"Nobody has acknowledged it yet. Since 11:48. Read 12:01:50",
		"Over now, but nobody has acknowledged it.",
		"The ridge of Long House is too hot, 41.2 °C; everything else is in its band.",
		"temperature 24.3 °C in band 12 to 32 °C, rising 1.4 °C an hour 12:01:50",
		"humidity 82 % in band up to 85 %, only 3 % below the high limit",
		"temperature 41.2 °C 1.2 °C above the limit 40 °C",
		"temperature 1.5 °C 0.5 °C below the low limit 2 °C",
		"contact says it is shut no band set",
		"2.1 °C in band from 1 °C",
		"soil temperature 18.4 °C last known 09:02, 3 h ago; band 18 to 24 °C not live",
		"temperature 16.2 °C a stored value, received 08:02; when it was measured is not known",
		"nothing heard yet",
		"Shelved until 14:02. It is still so.",
		"Out of service until somebody puts it back.",
		"One probe needs a look, of 2.", "2 probes need a look, of 2.",
		"Telltale only watches", "Keep the mechanical thermostat", "no fire alarm and no life-safety alarm",
		"Test it regularly", "licensed electrician",
	)
	if open, house := strings.Index(read, "3 open alarms"), strings.Index(read, "Season: open, day"); open > house {
		t.Error("open alarms must come before the houses")
	}
}

// The wall shows what the front page does, of all houses or one, with nothing to act with,
// and is the same page to the live news.
func TestTheWallOnlyShows(t *testing.T) {
	st := start(t, Options{Watch: newFake(), Name: "Thimble Garth"})
	_, front := st.get("/")
	_, all := st.get("/wall")
	wantAll(t, reading(all), "Not all is well", "3 open alarms", "Long House, ridge: far too hot. 41.2", "Season: open, day", "no life-safety alarm")
	wantAll(t, all, `id="house_long-house"`, `id="house_low-house"`, `<noscript><meta http-equiv="refresh" content="60">`)
	wantNone(t, all, "<form", "<button", "<input")
	shape := func(text string) string {
		_, rest, _ := strings.Cut(text, `data-shape="`)
		one, _, _ := strings.Cut(rest, `"`)
		return one
	}
	_, one := st.get("/wall?house=low-house")
	wantAll(t, one, `id="house_low-house"`)
	wantNone(t, one, `id="house_long-house"`)
	if shape(front) == "" || shape(all) != shape(front) || shape(one) != shape(front) {
		t.Errorf("shapes %q, %q, %q: news would load the page again and again", shape(front), shape(all), shape(one))
	}
	if a, _ := st.get("/wall?house=barn"); a.StatusCode != http.StatusNotFound {
		t.Errorf("a house that is not there: got status %d", a.StatusCode)
	}
}

func TestFahrenheitEverywhere(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f, Words: alarms.Words{Fahrenheit: true}})
	_, text := st.get("/")
	read := reading(text)
	// 24.3 °C is 75.74 °F; a step of 1 K is one of 1.8 °F (exact by definition
	// of the scales: NIST SP 811, appendix B.9).
	wantAll(t, read, "75.7 °F", "in band 53.6 to 89.6 °F", "rising 2.5 °F an hour",
		"2.2 °F above the limit 104 °F", "3.8 °F in band from 1.8 °F", "Bench, temperature, °F")
	houses := read[strings.Index(read, "Season: open, day"):]
	houses = houses[:strings.Index(houses, "Put aside")]
	houses = strings.ReplaceAll(houses, "too hot, 41.2 °C", "") // the core's own sentence, not the page's
	for _, d := range sceneDrives(noon) {
		houses = strings.ReplaceAll(houses, d.Sentence, "")
	}
	wantNone(t, houses, "°C")
}

func TestFrontEscapesWhatOthersWrote(t *testing.T) {
	f := newFake()
	const evil = `<script>alert(1)</script>`
	f.change(func(p *alarms.Picture) {
		p.Sentence = evil
		p.Houses[0].ID, p.Houses[0].Name = alarms.HouseID(`"><img src=x>`), evil
		p.Houses[0].Places[0].Name = evil
		p.Houses[0].Places[0].ID = evil
		p.Houses[0].Places[0].Probes[0].Name = evil
		p.Alarms[0].ID, p.Alarms[0].Transition, p.Alarms[0].Sentence = evil, evil, evil
	})
	f.log[0].Sentence = evil
	st := start(t, Options{Watch: f, Name: evil})
	for _, path := range []string{"/", "/log", "/?said=" + "%3Cscript%3Ealert(1)"} {
		_, text := st.get(path)
		wantNone(t, text, "<script>", "<img")
		wantAll(t, text, "&lt;script&gt;alert(1)")
	}
}

func TestNoAlarmAndNoData(t *testing.T) {
	f := newFake()
	f.change(func(p *alarms.Picture) {
		p.Alarms, p.Link, p.Newest = nil, false, time.Time{}
		p.Sentence = "The broker is not reached."
	})
	f.log = nil
	_, text := start(t, Options{Watch: f}).get("/")
	read := reading(text)
	wantAll(t, read, "No open alarm", "Broker lost since 08:02", "No reading yet", "Nothing yet.")
	wantNone(t, read, "Acknowledge all", "Put aside")
}

func TestHouseMarkSaysWellOnlyWhenItIs(t *testing.T) {
	w := words.New(alarms.Words{})
	well := func() alarms.HousePicture {
		h := longHouse(noon)
		h.Worst = alarms.NoPriority
		for i := range h.Places {
			for j := range h.Places[i].Points {
				h.Places[i].Points[j].Level = alarms.Within
			}
		}
		return h
	}
	if got := houseViewOf(w, well(), noon).Worst; got != "none" {
		t.Errorf("all in band: got mark %q, want none", got)
	}
	shelved := well()
	shelved.Places[1].Points[0].Level = alarms.Inner
	if got := houseViewOf(w, shelved, noon).Worst; got != "unknown" {
		t.Errorf("beyond a limit with its alarm put aside: got mark %q, want unknown", got)
	}
	silent := well()
	for i := range silent.Places {
		for j := range silent.Places[i].Points {
			silent.Places[i].Points[j].Live = false
		}
	}
	if got := houseViewOf(w, silent, noon).Worst; got != "unknown" {
		t.Errorf("without live values: got mark %q, want unknown: no alarm is no sign that all is well", got)
	}
}

func TestWatchThatStandsStillIsSaid(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f}, func(s *Server) { s.hub.still = 0 })
	_, text := st.get("/")
	wantAll(t, reading(text), "The watch stands still. It last judged anything at 12:02:10. What follows is the past.")
	wantAll(t, text, `class="front past"`)
	if a, _ := st.get("/healthz"); a.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("healthz: got status %d, want 503", a.StatusCode)
	}
}

func TestLogPagesLoseNothing(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	seen := map[string]int{}
	path := "/log"
	pages := 0
	for ; path != "" && pages < 10; pages++ {
		_, text := st.get(path)
		for _, line := range strings.Split(text, `<li><span class="time">`)[1:] {
			line = reading(line)
			entry := line[strings.Index(line, "Entry "):]
			seen[entry[:strings.Index(entry, ":")]]++
		}
		path = ""
		if i := strings.Index(text, `<a href="/log?before=`); i >= 0 {
			path = text[i+len(`<a href="`):]
			path = path[:strings.Index(path, `"`)]
		}
	}
	if len(seen) != 120 || pages != 3 {
		t.Errorf("got %d different entries on %d pages, want 120 on 3", len(seen), pages)
	}
	for e, n := range seen {
		if n != 1 {
			t.Errorf("%s is shown %d times", e, n)
		}
	}
	_, text := st.get("/log")
	wantAll(t, reading(text), "(noticed 11:39)")
	if a, _ := st.get("/log?before=yesterday"); a.StatusCode != http.StatusBadRequest {
		t.Errorf("a bad place in the log: got status %d, want 400", a.StatusCode)
	}
}

// Hours beyond a limit stand beside the place, where there are any.
func TestExposuresAreShown(t *testing.T) {
	f := newFake()
	const so, none = "1.2 h above 35.0 °C in the last 2 days; 3.0 h do harm (tomato fruit set is failing).", "0.0 h below 10.0 °C since nightfall."
	f.change(func(p *alarms.Picture) {
		p.Houses[0].Places[0].Exposures = []alarms.ExposurePicture{
			{Alarm: "long-house/bench/exposure-fruit-set", Sentence: so, ExposureReason: alarms.ExposureReason{ID: "fruit-set", Time: 72 * time.Minute, Source: "a grower's book"}},
			{Alarm: "long-house/bench/exposure-chilling", Sentence: none, ExposureReason: alarms.ExposureReason{ID: "chilling"}},
		}
	})
	_, text := start(t, Options{Watch: f}).get("/")
	wantAll(t, reading(text), so+" Source: a grower's book.")
	wantNone(t, text, none)
}

func TestWorstMark(t *testing.T) {
	for _, c := range []struct {
		what string
		how  func(*alarms.Picture)
		want string
	}{
		{"all well", func(*alarms.Picture) {}, "none"},
		{"broker lost", func(p *alarms.Picture) { p.Link = false }, "unknown"},
		{"nothing heard", func(p *alarms.Picture) { p.Newest = time.Time{} }, "unknown"},
		{"one house medium", func(p *alarms.Picture) { p.Houses[1].Worst = alarms.Medium }, "medium"},
		{"an alarm of no house", func(p *alarms.Picture) {
			p.Alarms = []alarms.AlarmPicture{{ID: "watch/broker/silent", State: alarms.Unacknowledged, Priority: alarms.High}}
		}, "high"},
	} {
		f := newFake()
		f.picture = scenes.Garden(noon)
		f.change(c.how)
		_, text := start(t, Options{Watch: f}).get("/")
		well := text[strings.Index(text, `<div class="well">`):]
		if want := `<div class="well"><svg class="mark ` + c.want + `"`; !strings.HasPrefix(well, want) {
			t.Errorf("%s: got %.60q, want %s", c.what, well, want)
		}
	}
}
