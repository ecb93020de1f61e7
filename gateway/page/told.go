package page

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config/forms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

const toldLines = 50

type toldPage struct {
	frame
	Person, Channel  string // asked for
	People, Channels []string
	Of               string // the sentence of the one transition asked for, "" for all
	OfID             string
	Lines            []toldLine
	Older            string // address of the next page, "" at the end
	Newest           string // address of the first page
	AtTop            bool   // nothing newer was left out
	Filtered         bool
}

// toldLine is one telling in words.
type toldLine struct {
	When     string // it was saved for
	To       string // person and channel
	Sentence string
	Alarm    string // address of its alarm, "" for a test message
	Mark     string // class
	Outcome  string // in a few words
	More     string // when, and why
	Mend     string // address of what can be done about it, "" for nothing
	Form     string // address of the channel's form, for who may change it; "": none
}

// toldPage shows who was told what, newest first.
func (s records) toldPage(w http.ResponseWriter, r *http.Request) error {
	q, err := toldAsked(r.URL.Query())
	if err != nil {
		return err
	}
	v := toldPage{frame: s.frame(r, "Who was told"), Person: q.Person, Channel: q.Channel, AtTop: q.Before == 0,
		Filtered: q.Person != "" || q.Channel != "" || len(q.Transitions) > 0}
	v.People, v.Channels = s.options.Tending.Hearers()
	v.People, v.Channels = with(v.People, q.Person), with(v.Channels, q.Channel)
	first := q
	first.Before = 0
	v.Newest = toldAddress(first)
	q.Limit = toldLines + 1
	all, err := s.options.Tending.Tellings(r.Context(), q)
	if err != nil {
		return err
	}
	if len(all) > toldLines {
		all = all[:toldLines]
		q.Before = all[toldLines-1].Seq
		v.Older = toldAddress(q)
	}
	say, now := s.wordsOf(r), s.watch.Now()
	for _, t := range all {
		v.Lines = append(v.Lines, mended(s.Server, r, t, toldLineOf(say, t, now)))
	}
	if len(q.Transitions) > 0 {
		v.OfID, v.Of = q.Transitions[0], say.Say("one line of the log")
		if len(all) > 0 {
			v.Of = say.Say("this: %s", say.Said(all[0].Of))
		}
	}
	return s.render(w, r, http.StatusOK, "told", v)
}

// with adds one that is asked for but not in the config any more.
func with(list []string, asked string) []string {
	if asked == "" || slices.Contains(list, asked) {
		return list
	}
	return append(slices.Clone(list), asked)
}

func toldAsked(from url.Values) (q service.ToldQuery, err error) {
	q = service.ToldQuery{Person: from.Get("person"), Channel: from.Get("channel")}
	if id := from.Get("of"); id != "" {
		q.Transitions = []string{id}
	}
	if text := from.Get("before"); text != "" {
		if q.Before, err = strconv.ParseInt(text, 10, 64); err != nil || q.Before <= 0 {
			return q, &answer.Error{Kind: answer.Invalid, Say: "That page cannot be found.", Err: err}
		}
	}
	return q, nil
}

func toldAddress(q service.ToldQuery) string {
	to := url.Values{}
	for key, v := range map[string]string{"person": q.Person, "channel": q.Channel} {
		if v != "" {
			to.Set(key, v)
		}
	}
	if len(q.Transitions) > 0 {
		to.Set("of", q.Transitions[0])
	}
	if q.Before > 0 {
		to.Set("before", strconv.FormatInt(q.Before, 10))
	}
	if len(to) == 0 {
		return "/told"
	}
	return "/told?" + to.Encode()
}

func alarmAddress(id alarms.AlarmID) string {
	return "/alarm?" + url.Values{"id": {string(id)}}.Encode()
}

func toldLineOf(w words.Words, t service.Telling, now time.Time) toldLine {
	l := toldLine{When: w.ClockSeconds(t.Planned, now), To: w.Say("%s by %s", t.Person, t.Channel), Sentence: w.Said(t.Of)}
	if t.Person == "" {
		l.To = w.Say("Whoever follows %s", t.Channel)
	}
	switch {
	case t.Test:
		l.Sentence = w.Say("A test message: nothing was wrong.")
	case t.Letter:
		l.Sentence = t.Of.Sentence
	case t.Of.Alarm != "":
		l.Alarm = alarmAddress(t.Of.Alarm)
	}
	l.Outcome, l.Mark = w.Say(outcomeWords[t.Outcome].words), outcomeWords[t.Outcome].mark
	l.More = toldMore(w, t, now)
	switch {
	case t.Outcome == service.ToldRehearsed:
		l.Mend = mendRehearsal
	case l.Mark == "failed":
		l.Mend = cmp.Or(mends[t.Kind], mendAny)
	}
	return l
}

// mended leads from what did not reach anybody to the form of its channel.
func mended(s *Server, r *http.Request, t service.Telling, l toldLine) toldLine {
	if l.Mend != "" && s.options.Changes != nil && s.door.MayAct(r) && slices.Contains(forms.Channels(), t.Kind) {
		l.Form = channelForm(t.Channel)
	}
	return l
}

func channelForm(channel string) string {
	return "/change/form?" + url.Values{"at": {"channel/" + channel}}.Encode()
}

// Where the manual says what can be done about a message that reached nobody.
const (
	mendAny       = "/help/trouble#nobody-hears"
	mendRehearsal = "/help/trouble#nobody-is-told-of-alarms"
)

// mends are the same by kind of channel.
var mends = map[string]string{
	"mail": "/help/trouble#no-mail-arrives",
	"push": "/help/trouble#push-does-not-come",
	"text": "/help/trouble#text-messages-are-not-taken",
	"ring": "/help/trouble#the-modem-does-not-answer",
	"mqtt": "/help/trouble#probes-and-the-broker",
}

// outcomeWords are the outcomes in a few words, with the class of their mark.
var outcomeWords = map[service.ToldOutcome]struct {
	words tongue.Text
	mark  string
}{
	service.ToldWaiting:     {"waiting", "waits"},
	service.ToldFailed:      {"failed so far", "failed"},
	service.ToldHandedOver:  {"sent", "went"},
	service.ToldDelivered:   {"delivered", "went"},
	service.ToldUndelivered: {"not delivered", "failed"},
	service.ToldGivenUp:     {"given up", "failed"},
	service.ToldNotNeeded:   {"not needed any more", "waits"},
	service.ToldRehearsed:   {"only rehearsed", "rehearsed"},
}

// toldMore says when it was tried, and why it did not arrive.
func toldMore(w words.Words, t service.Telling, now time.Time) string {
	at := w.ClockSeconds(t.At, now)
	switch t.Outcome {
	case service.ToldWaiting:
		return waitingMore(w, t, now)
	case service.ToldFailed:
		if t.Next.After(now) {
			return w.Say("Tried %s, last at %s; tried again at %s.%s", w.Times(t.Tries), at, w.ClockSeconds(t.Next, now), why(w, t))
		}
		return w.Say("Tried %s, last at %s; being tried again.%s", w.Times(t.Tries), at, why(w, t))
	case service.ToldHandedOver:
		return tookIt(w, t, at)
	case service.ToldDelivered:
		return w.Say("It arrived at %s%s.", at, after(w, t.Tries))
	case service.ToldUndelivered:
		return w.Say("It was sent, but at %s came word that it did not arrive. It will not be tried again.%s", at, why(w, t))
	case service.ToldGivenUp:
		return w.Say("Tried %s, last at %s. It will not be tried again.%s", w.Times(t.Tries), at, why(w, t))
	case service.ToldNotNeeded:
		return w.Say("Somebody had taken the alarm, or it was over, before its time came.")
	case service.ToldRehearsed:
		return w.Say("Nothing was sent: the channel only rehearses.")
	}
	return ""
}

// waitingMore says until when it waits, and what for.
func waitingMore(w words.Words, t service.Telling, now time.Time) string {
	until := w.ClockSeconds(t.Next, now)
	switch {
	case !t.Next.After(now) && t.Why != "":
		return w.Say("It is being tried again. Of the last try: %s.", strings.TrimSuffix(t.Why, "."))
	case !t.Next.After(now):
		return w.Say("It is being sent; no answer has come yet.")
	case t.Waits == service.WaitsQuiet:
		return w.Say("It is held until %s, the end of the quiet hours of %s.", until, t.Person)
	case t.Waits == service.WaitsAnswer:
		return w.Say("It is sent at %s, unless somebody acknowledges before.", until)
	}
	return w.Say("It waits until %s.%s", until, why(w, t))
}

func why(w words.Words, t service.Telling) string {
	if t.Why == "" {
		return ""
	}
	return " " + w.Say("Why: %s.", strings.TrimSuffix(t.Why, "."))
}

// takers say, by kind of channel, who took a message, and what that leaves
// open.
var takers = map[string]taker{
	"mail":    {"The mail server took it at %s%s.", "The mail server took it and said at %s: %s.", "Whether it was read is not known."},
	"webhook": {"The receiver took it at %s%s.", "The receiver took it and said at %s: %s.", "Whether it was read is not known."},
	"push":    {"The push service took it at %s%s.", "The push service took it and said at %s: %s.", "Whether it was read is not known."},
	"command": {"The program took it and ended well at %s%s.", "The program took it and ended well and said at %s: %s.", "Whether anybody noticed is not known."},
	"text":    {"The telephone network took it at %s%s.", "The telephone network took it and said at %s: %s.", "It has not reported yet whether it arrived."},
	"ring":    {"The telephone rang at %s%s.", "The telephone rang and said at %s: %s.", "Whether anybody heard it is not known."},
	"mqtt":    {"The broker took it at %s%s.", "The broker took it and said at %s: %s.", "Who follows there is not known."},
}

// taker is who took a message: when and at which try; when it said what of it later;
// what is not known.
type taker struct{ took, said, open tongue.Text }

// tookIt says who has it, as far as is known.
func tookIt(w words.Words, t service.Telling, at string) string {
	by, ok := takers[t.Kind]
	switch {
	case !ok:
		by.took, by.open = "The next party took it at %s%s.", "Whether it was read is not known."
	case t.Why != "": // the network said so later
		return w.Say(by.said, at, strings.TrimSuffix(t.Why, "."))
	}
	return w.Say(by.took, at, after(w, t.Tries)) + " " + w.Say(by.open)
}

func after(w words.Words, tries int) string {
	if tries < 2 {
		return ""
	}
	return w.Say(", at try %d", tries)
}
