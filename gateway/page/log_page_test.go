package page

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

func TestTheLogIsFiltered(t *testing.T) {
	st, _, _ := plain(t)
	const worse, raised, season, drove, away = "Far too hot in", "36.4 °C (limit 36.0 °C)", "the season was changed", "The exhaust fan was called", "The watch was away"
	for name, c := range map[string]struct {
		q    string
		has  []string
		none []string
	}{
		"all":      {"", []string{worse, raised, season, drove, away, "Entry 0"}, nil},
		"alarms":   {"of=alarms", []string{worse, raised, "Entry 0"}, []string{season, drove, away}},
		"people":   {"of=people", []string{season}, []string{worse, raised, drove, away, "Entry"}},
		"drives":   {"of=switching", []string{drove, "Today", "Long House: "}, []string{worse, season, away, "Entry"}},
		"watch":    {"of=watch", []string{away}, []string{worse, season, drove, "Entry"}},
		"house":    {"house=long-house", []string{worse, season, drove}, []string{"Entry"}},
		"rank":     {"rank=high", []string{worse}, []string{raised, season, "Entry"}},
		"words":    {"words=EXHAUST+fan", []string{drove}, []string{worse, season, "Entry"}},
		"together": {"of=alarms&house=long-house&rank=medium&words=ridge", []string{raised}, []string{worse, season, drove, "Entry"}},
		"nothing":  {"words=nowhere", []string{"Nothing like that."}, []string{"Entry", worse}},
		"a day":    {"day=2026-06-19", []string{"Nothing like that."}, []string{"Entry", worse}},
		"this day": {"day=2026-06-21", []string{worse, "Entry 0"}, nil},
	} {
		a, text := st.get("/log?" + c.q)
		if a.StatusCode != http.StatusOK {
			t.Errorf("%s: got status %d", name, a.StatusCode)
		}
		wantAll(t, reading(text), c.has...)
		wantNone(t, reading(text), c.none...)
	}
	for _, bad := range []string{"of=gossip", "house=glass-house", "rank=highest", "day=yesterday", "before=x", "before=1.x"} {
		if a, _ := st.get("/log?" + bad); a.StatusCode != http.StatusBadRequest {
			t.Errorf("%s: got status %d, want 400", bad, a.StatusCode)
		}
	}
}

// What was asked stays in the form, and the next page asks the same.
func TestPagingKeepsTheFilter(t *testing.T) {
	st, _, _ := plain(t)
	ask := url.Values{"of": {"alarms"}, "words": {`bench "of" <Long>`}, "rank": {"medium"}}
	_, text := st.get("/log?" + ask.Encode())
	wantAll(t, text, `value="bench &#34;of&#34; &lt;Long&gt;"`, `<option value="medium" selected>`, `<input type="hidden" name="of" value="alarms">`)
	ask.Set("words", "bench of")
	seen, path := map[string]bool{}, "/log?"+ask.Encode()
	for range 4 {
		_, text := st.get(path)
		for _, line := range strings.Split(text, `<li><span class="time">`)[1:] {
			entry, _, _ := strings.Cut(line[strings.Index(line, "Entry "):], ":")
			if seen[entry] {
				t.Errorf("%s comes twice", entry)
			}
			seen[entry] = true
		}
		i := strings.Index(text, `<a href="/log?before=`)
		if i < 0 {
			wantAll(t, html.UnescapeString(text), `<a href="/log?of=alarms&rank=medium&words=bench+of">Newest</a>`)
			break
		}
		path, _, _ = strings.Cut(text[i+len(`<a href="`):], `"`)
		path = html.UnescapeString(path)
		wantAll(t, path, "of=alarms", "rank=medium", "words=bench+of")
	}
	if len(seen) != 120 {
		t.Errorf("%d lines, want 120", len(seen))
	}
}

// A search that looked at much and found little says how far back it looked.
func TestASearchThatFindsLittleSaysHowFarItLooked(t *testing.T) {
	st, _, tend := plain(t)
	tend.look = 40
	_, text := st.get("/log?words=nowhere")
	wantAll(t, reading(text), "Nothing like that since 07:50.", "Look further back than 07:50")
	i := strings.Index(text, `<a href="/log?before=`)
	next, _, _ := strings.Cut(text[i+len(`<a href="`):], `"`)
	_, text = st.get(html.UnescapeString(next))
	wantAll(t, reading(text), "Nothing like that since", "Look further back")
	tend.look = 0
	_, text = st.get("/log?words=41.2")
	wantNone(t, reading(text), "Look further")
}

// What follows from one cause is one line with the rest folded, and nothing else is.
func TestTheLogFoldsWhatFollowsFromOneCause(t *testing.T) {
	line := func(id string, m alarms.Move, cause alarms.AlarmID) alarms.Transition {
		return alarms.Transition{ID: id, Alarm: alarms.AlarmID(id), Move: m, Sentence: "Line " + id + ".", Due: noon, Noticed: noon, Reason: alarms.Reason{Cause: cause}}
	}
	got := tendLines(words.New(alarms.Words{}), []alarms.Transition{
		line("a", alarms.Suppress, "circuit"), line("b", alarms.Suppress, "circuit"), line("c", alarms.Suppress, "circuit"),
		line("d", alarms.Suppress, "house"), line("e", alarms.Release, "house"), line("f", alarms.Release, "house"),
		line("g", alarms.Raise, ""), line("h", alarms.Raise, ""), line("i", alarms.Suppress, "house")}, noon)
	var said []string
	for _, l := range got {
		said = append(said, strings.TrimSpace(l.Sentence+" "+strings.Join(l.Follow, " ")))
	}
	if want := "Line a. Line b. Line c.|Line d.|Line e.|Line f.|Line g.|Line h.|Line i."; strings.Join(said, "|") != want {
		t.Errorf("got %q, want %q", strings.Join(said, "|"), want)
	}
}

func TestLinesLeadToTheirAlarmAndWhoWasTold(t *testing.T) {
	st, _, _ := plain(t)
	_, text := st.get("/log?house=long-house")
	wantAll(t, text, `<a href="/alarm?id=long-house%2Fridge%2Ftemperature%2Fhigh">This alarm</a>`, `<a href="/told?of=long-house%2Fridge%2Ftemperature%2Fhigh%233">Who was told</a>`)
	wantNone(t, text, `switching">This alarm`, `season">This alarm`)
	_, text = st.get("/told?of=" + url.QueryEscape(ridge+"#3"))
	wantAll(t, reading(text), "Only of this: Far too hot in Long House, ridge: 41.2 °C", "Ben by mail", "Ada by phone", "Ada by mail")
	wantNone(t, reading(text), "delivered", "A test message")
	a, text := st.get("/alarm?id=" + url.QueryEscape(ridge))
	if a.StatusCode != http.StatusOK {
		t.Fatalf("got status %d", a.StatusCode)
	}
	wantAll(t, reading(text), "High priority. Far too hot in Long House, ridge: 41.2 °C now", "Nobody has acknowledged it yet. Since 11:48", "Acknowledge", "Shelve it for",
		"worse, high priority", "came, medium priority", "Ada by phone sent.", "Ada by phone delivered.")
	wantNone(t, reading(text), "Nobody has been told")
	if a, _ := st.get("/alarm?id=nowhere"); a.StatusCode != http.StatusNotFound {
		t.Errorf("no such alarm: got status %d", a.StatusCode)
	}
	_, text = st.get("/alarm?id=a") // normal now
	wantAll(t, reading(text), "It is normal now.", "Entry 0", "Nobody was told of what stands above.")
	wantNone(t, text, `action="/alarms/shelve"`)
}

func TestWhoWasTold(t *testing.T) {
	st, _, tend := plain(t)
	_, text := st.get("/told")
	wantAll(t, reading(text), "Ben by mail waiting. It is sent at 12:08:10, unless somebody acknowledges before.", "Ada by phone sent. The push service took it at 11:48:11. Whether it was read is not known.",
		"Ada by mail failed so far. Tried 3 times, last at 12:01:10; tried again at 12:06:10. Why: mail.example.org refused the connection.",
		"Ada by phone delivered. It arrived at 11:42:10, at try 2.", "Ben by mail not needed any more. Somebody had taken the alarm",
		"Ben by mail given up. Tried 12 times, last at Sat 08:02:10. It will not be tried again. Why: no such mailbox. A test message: nothing was wrong.",
		"Cat by trial only rehearsed. Nothing was sent: the channel only rehearses.", "Cat by sms not delivered. It was sent, but at 07:32:10 came word that it did not arrive. It will not be tried again. Why: the number does not answer.")
	for q, n := range map[string]int{"person=Ada": 3, "channel=phone": 2, "person=Ben&channel=mail": 3, "person=Kim": 0, "channel=smoke": 0} {
		_, text := st.get("/told?" + q)
		if got := strings.Count(text, `<li><span class="time">`); got != n {
			t.Errorf("%s: %d tellings, want %d", q, got, n)
		}
	}
	_, text = st.get("/told?person=Kim")
	wantAll(t, text, "<option selected>Kim</option>", "Nobody was told anything like that.")
	if a, _ := st.get("/told?before=-3"); a.StatusCode != http.StatusBadRequest {
		t.Errorf("a bad page: got status %d", a.StatusCode)
	}

	tend.tellings = nil
	_, text = st.get("/told")
	wantAll(t, text, "Nobody has been told anything yet.")
	for i := range 120 {
		tend.tellings = append(tend.tellings, service.Telling{Seq: int64(120 - i), Person: "Ada", Channel: "phone", Outcome: service.ToldHandedOver,
			Planned: noon.Add(-time.Duration(i) * time.Hour), Of: alarms.Transition{ID: "a#1", Alarm: "a", Sentence: "Told."}})
	}
	pages, n, path := 0, 0, "/told?person=Ada"
	for ; path != "" && pages < 5; pages++ {
		_, text := st.get(path)
		n += strings.Count(text, `<li><span class="time">`)
		path = ""
		if i := strings.Index(text, `<a href="/told?before=`); i >= 0 {
			path, _, _ = strings.Cut(text[i+len(`<a href="`):], `"`)
			path = html.UnescapeString(path)
		}
	}
	if pages != 3 || n != 120 {
		t.Errorf("%d tellings on %d pages, want 120 on 3", n, pages)
	}
}
