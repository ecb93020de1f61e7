package page

import (
	"errors"
	"net/http"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

const testMessage1 = "/test-message?of=watch%2Ftest-message%231"

// sceneTested is a test message of which not all is known yet.
func sceneTested(now time.Time) []service.Telling {
	to := func(n int64, person, channel, kind string, o service.ToldOutcome) service.Telling {
		return service.Telling{Seq: n, Person: person, Channel: channel, Kind: kind, Test: true, Outcome: o, Planned: now, Next: now,
			Of: alarms.Transition{ID: "watch/test-message#1", Alarm: "watch/test-message", Sentence: "This is a test message."}}
	}
	all := []service.Telling{to(1, "", "lamp", "mqtt", service.ToldHandedOver), to(2, "Ada", "mail", "mail", service.ToldWaiting), to(3, "Ada", "sms", "text", service.ToldHandedOver),
		to(4, "Ben", "mail", "mail", service.ToldFailed), to(5, "Ben", "trial", "mail", service.ToldRehearsed)}
	for _, i := range []int{0, 2, 3, 4} {
		all[i].At, all[i].Tries = now, 1
	}
	all[3].Why, all[3].Next = "the mail server mail.example.org:587 cannot be reached: connection refused", now.Add(5*time.Second)
	return all
}

// settle lets the rest of the test message become known.
func (f *fakeWatch) settle() {
	f.change(func(p *alarms.Picture) {
		f.tested = sceneTested(noon)
		f.tested[1].Outcome, f.tested[1].At, f.tested[1].Tries = service.ToldHandedOver, noon.Add(2*time.Second), 1
		f.tested[2].Outcome, f.tested[2].At = service.ToldDelivered, noon.Add(3*time.Second)
	})
}

// Each way says what is so, never more, and the sentence on top adds nothing up
// that did not happen.
func TestATestMessageSaysOfEachWayWhatCameOfIt(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	if a, _ := st.get(testMessage1); a.StatusCode != http.StatusNotFound {
		t.Errorf("before it was sent: got status %d, want 404", a.StatusCode)
	}
	f.tests = 1
	_, text := st.get(testMessage1) // a look that does not wait
	wantAll(t, reading(text), "Of 5 ways: 2 sent, 1 failed, 1 only rehearsed, 1 not known yet.",
		"Whoever follows lamp sent. The broker took it at 12:02:10. Who follows there is not known.",
		"Ada by mail waiting. It is being sent; no answer has come yet.",
		"Ada by sms sent. The telephone network took it at 12:02:10. It has not reported yet whether it arrived.",
		"Ben by mail failed so far. Tried once, last at 12:02:10; tried again at 12:02:15. Why: the mail server mail.example.org:587 cannot be reached: connection refused.",
		"Ben by trial only rehearsed. Nothing was sent: the channel only rehearses.", "Look again")
	wantNone(t, text, "This is a test message", "nothing was wrong")
	f.settle()
	_, part := st.get(testMessage1 + "&part=1")
	wantNone(t, part, "<html", "<nav")
	wantAll(t, reading(part), "Of 5 ways: 3 sent, 1 failed, 1 only rehearsed. Mend what failed now, while nothing else is wrong.",
		"Ada by mail sent. The mail server took it at 12:02:12. Whether it was read is not known.", "Ada by sms delivered. It arrived at 12:02:13.", "Look again")
	f.change(func(*alarms.Picture) { f.tested = f.tested[4:] })
	_, text = st.get(testMessage1)
	wantAll(t, reading(text), "Nothing was sent: every channel only rehearses. An alarm would reach nobody.")
	wantNone(t, reading(text), "Look again")
}

// Without a script the answer waits until all is known.
func TestTheAnswerWaitsForWhatComesOfATestMessage(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	a, _ := st.post("/test-message")
	if to := a.Header.Get("Location"); a.StatusCode != http.StatusSeeOther || to != testMessage1+"&wait=1" {
		t.Fatalf("got status %d to %q", a.StatusCode, to)
	}
	done := make(chan string)
	go func() {
		_, text := st.get(testMessage1 + "&wait=1")
		done <- text
	}()
	for waits := false; !waits; { // until the answer is being waited for
		f.mu.Lock()
		waits = f.askedTested > 0
		f.mu.Unlock()
		runtime.Gosched()
	}
	f.settle()
	text := <-done
	wantAll(t, reading(text), "Ada by mail sent.", "3 sent, 1 failed, 1 only rehearsed.")
	wantNone(t, reading(text), "waiting")
}

func TestTheSentenceOnATestMessage(t *testing.T) {
	for _, c := range []struct {
		of   string // of each way the first letter of its outcome; a capital is a lamp's
		want string
	}{
		{"ww", "The test message is on its way. What comes of it will stand here."},
		{"ss", "Sent on every way. If it does not arrive within a few minutes, look for what is wrong now, while nothing else is."},
		{"sd", "Sent on every way. If it does not arrive within a few minutes, look for what is wrong now, while nothing else is."},
		{"rr", "Nothing was sent: every channel only rehearses. An alarm would reach nobody."},
		{"sr", "Of 2 ways: 1 sent, 1 only rehearsed."},
		{"Sr", "Of 2 ways: 1 sent, 1 only rehearsed. An alarm would reach nobody: mend that now, while nothing else is wrong."},
		{"fg", "Of 2 ways: 2 failed. An alarm would reach nobody: mend that now, while nothing else is wrong."},
		{"su", "Of 2 ways: 1 sent, 1 failed. Mend what failed now, while nothing else is wrong."},
		{"wf", "Of 2 ways: 1 failed, 1 not known yet."},
	} {
		outcomes := map[rune]service.ToldOutcome{'w': service.ToldWaiting, 's': service.ToldHandedOver, 'd': service.ToldDelivered, 'r': service.ToldRehearsed, 'f': service.ToldFailed, 'g': service.ToldGivenUp, 'u': service.ToldUndelivered}
		var all []service.Telling
		for _, r := range c.of {
			one := service.Telling{Person: "Ada", Outcome: outcomes[r]}
			if r == 'S' {
				one = service.Telling{Outcome: service.ToldHandedOver}
			}
			all = append(all, one)
		}
		if got := tallied(all).sentence(words.Words{}); got != c.want {
			t.Errorf("%s: got %q, want %q", c.of, got, c.want)
		}
	}
}

// Where nobody is set up to be told the page says so, not that something broke.
func TestATestMessageToNobodySaysWhy(t *testing.T) {
	f := newFake()
	f.testErr = service.Refuse("Nobody is set up to be told, so nothing was sent.")
	st := start(t, Options{Watch: f})
	a, text := st.post("/test-message")
	if a.StatusCode != http.StatusConflict {
		t.Errorf("got status %d, want 409", a.StatusCode)
	}
	wantAll(t, reading(text), "Nobody is set up to be told, so nothing was sent.")
	f.testErr = errors.New("smtp: dial")
	st = start(t, Options{Watch: f})
	if a, text := st.post("/test-message"); a.StatusCode != http.StatusServiceUnavailable || strings.Contains(text, "smtp") {
		t.Errorf("got status %d\n%s", a.StatusCode, text)
	}
}

// How a telling that waits is put into words.
func TestAWaitingTellingSaysUntilWhenAndWhy(t *testing.T) {
	later := noon.Add(5 * time.Minute)
	for _, c := range []struct {
		t    service.Telling
		want string
	}{
		{service.Telling{Next: noon}, "It is being sent; no answer has come yet."},
		{service.Telling{Next: noon, Why: "the watch was stopped before an answer came"}, "It is being tried again. Of the last try: the watch was stopped before an answer came."},
		{service.Telling{Next: later, Person: "Ada", Waits: service.WaitsQuiet}, "It is held until 12:07:10, the end of the quiet hours of Ada."},
		{service.Telling{Next: later, Waits: service.WaitsAnswer}, "It is sent at 12:07:10, unless somebody acknowledges before."},
		{service.Telling{Next: later, Why: "several messages went to Ada just now"}, "It waits until 12:07:10. Why: several messages went to Ada just now."},
	} {
		c.t.Outcome = service.ToldWaiting
		if got := toldMore(words.New(alarms.Words{}), c.t, noon); got != c.want {
			t.Errorf("%+v: got %q, want %q", c.t, got, c.want)
		}
	}
	on := service.Telling{Outcome: service.ToldHandedOver, Kind: "text", At: noon, Tries: 1, Why: "the network has it and goes on trying"}
	if got := toldMore(words.New(alarms.Words{}), on, noon); got != "The telephone network took it and said at 12:02:10: the network has it and goes on trying." {
		t.Errorf("on its way: %q", got)
	}
	if got := toldMore(words.New(alarms.Words{}), service.Telling{Outcome: service.ToldHandedOver, Kind: "pigeon", At: noon}, noon); !strings.HasPrefix(got, "The next party took it at 12:02:10.") {
		t.Errorf("over a channel that is not known any more: %q", got)
	}
}

func TestEveryPageSaysOfWhatNobodyIsTold(t *testing.T) {
	for _, c := range []struct {
		u    service.Untold
		want string
	}{
		{service.Untold{All: true}, "Nobody is told of alarms. They show on this page alone, until the configuration names somebody to tell."},
		{service.Untold{All: true, Rehearsed: true, Of: []string{"the watch itself", "Long House"}}, "Nobody is told of alarms. They show on this page alone: every channel that would tell only rehearses"},
		{service.Untold{Rehearsed: true, Of: []string{"the watch itself", "Low House"}}, "Nobody is told of alarms of the watch itself and of Low House."},
	} {
		st := start(t, Options{Watch: newFake(), Untold: c.u})
		for _, path := range []string{"/", "/told"} {
			_, text := st.get(path)
			wantAll(t, reading(text), c.want)
		}
	}
	st := start(t, Options{Watch: newFake()})
	_, text := st.get("/")
	wantNone(t, reading(text), "Nobody is told")
}

// With a script the page of a test message follows by itself, says aloud what
// is new, and says it when the watch cannot be reached any more.
func TestBrowserFollowsATestMessage(t *testing.T) {
	t.Parallel()
	st, f := ticking(t, Options{})
	for _, width := range []int64{360, 1280} {
		f.change(func(*alarms.Picture) { f.tested = sceneTested(noon) })
		st.server.testing.mu.Lock()
		st.server.testing.last = time.Time{} // one may be sent again
		st.server.testing.mu.Unlock()
		b := openTab(t, width, 800)
		b.waiting(st.base, "/")
		b.do(chromedp.Click(chromedp.CSS(`form[action="/test-message"] button`)))
		b.truth("it is followed", `location.pathname === "/test-message" && document.querySelectorAll("#tested li").length === 5`)
		b.truth("one way is waited for", `document.querySelector("#tested").innerText.includes("no answer has come yet")`)
		b.none("something is cut off", cutOff)
		b.none("something lies on something else", overlaps)
		b.shot("test-message-" + strconv.FormatInt(width, 10))
		b.truth("it listens", listen)
		f.settle()
		b.spoken("the news is said", "polite: Of 5 ways: 3 sent, 1 failed, 1 only rehearsed.")
		b.truth("it stands there", `document.querySelectorAll("#tested li .outcome.went").length === 3 && document.querySelectorAll("#tested li").length === 5`)
		b.none("more is announced", `heard.join("\n")`)
		b.noComplaints()
	}
	b := openTab(t, 360, 800)
	b.waiting(st.base, testMessage1)
	st.stop()
	<-st.ended
	b.truth("it says that it is of before", `document.querySelector("#tested [role=status]").innerText.includes("could not be reached")`)
}
