package reach

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// exchange is a telephone exchange that keeps what it is given.
type exchange struct {
	mu    sync.Mutex
	texts []sms
	rung  []string
	err   error
	hangs bool
}

func (x *exchange) Text(ctx context.Context, to, text string, p alarms.Priority, rows []string) error {
	x.mu.Lock()
	err, hangs := x.err, x.hangs
	if err == nil && !hangs {
		x.texts = append(x.texts, sms{text, p, rows})
	}
	x.mu.Unlock()
	if hangs {
		<-ctx.Done()
		return ctx.Err()
	}
	return err
}

// Parts counts as if every sign were in the alphabet: 160, or 153 each.
func (x *exchange) Parts(text string) int {
	n := utf8.RuneCountInString(text)
	if n <= 160 {
		return 1
	}
	return (n + 152) / 153
}

func (x *exchange) Ring(_ context.Context, to string) error {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.rung = append(x.rung, to)
	return x.err
}

func (x *exchange) set(err error, hangs bool) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.err, x.hangs = err, hangs
}

func (x *exchange) all() []sms {
	x.mu.Lock()
	defer x.mu.Unlock()
	return slices.Clone(x.texts)
}

var numbers = map[string]string{"Ada": "+447700900123"}

var shortTag = regexp.MustCompile(`\(#[0-9a-f]{4}\)$`)

func phoneStand(*testing.T) stand {
	x := &exchange{}
	return stand{
		Notifier: NewPhone(x, numbers),
		arrived: func() (all []arrival) {
			for _, s := range x.all() {
				all = append(all, arrival{shortTag.FindString(s.text), s.text})
			}
			return all
		},
		temporary: func() { x.set(errors.New("no network; check the antenna"), false) },
		permanent: func(t *Telling) { t.Person = "Cat" },
		recover:   func() { x.set(nil, false) },
		hang:      func() { x.set(nil, true) },
		signs:     plainSigns,
		brief:     true,
	}
}

func TestTextsAreShort(t *testing.T) {
	ended := with(tooHot(alarms.High), "2", alarms.Return, alarms.Unacknowledged, alarms.ReturnedUnack, noon)
	ended.Sentence = "Long House, bench: back within its limits at 29.8 °C after 1 h."
	for _, c := range []struct {
		name string
		give []alarms.Transition
		want string
	}{
		{"raised", []alarms.Transition{tooHot(alarms.High)},
			"High: Long House, bench: 33.4 C, above the limit of 32.0 C since 11:59. Reply OK to acknowledge."},
		{"worse", []alarms.Transition{with(tooHot(alarms.Medium), "2", alarms.Worsen, alarms.Unacknowledged, alarms.Unacknowledged, noon)},
			"Medium: worse. Long House, bench: 33.4 C, above the limit of 32.0 C since 11:59. Reply OK to acknowledge."},
		{"over", []alarms.Transition{ended}, "Over: Long House, bench: back within its limits at 29.8 C after 1 h."},
	} {
		t.Run(c.name, func(t *testing.T) {
			x := &exchange{}
			tell := telling(garden(), "sms", c.give...)
			tell.Rows = []string{"row"}
			if err := NewPhone(x, numbers).Tell(t.Context(), tell); err != nil {
				t.Fatal(err)
			}
			got := x.all()
			if len(got) != 1 || strings.TrimSuffix(got[0].text, " (#"+shortID(tell.ID)+")") != c.want || !slices.Equal(got[0].rows, []string{"row"}) {
				t.Errorf("got  %+v\nwant %s", got, c.want)
			}
		})
	}
}

// Whatever comes together, every event is in a text, with its row, and no text
// is longer than a modem sends.
func TestManyEventsGoIntoTexts(t *testing.T) {
	tell := Telling{ID: "together|1", Channel: "sms", Person: "Ada", At: noon}
	for i := range mostEvents {
		tr := tooHot([]alarms.Priority{alarms.Low, alarms.Medium, alarms.High}[i%3])
		tr.ID = fmt.Sprintf("%s#%d", tr.Alarm, i)
		tr.Reason.Place = alarms.PlaceID(fmt.Sprintf("place-%02d", i))
		tr.Sentence = fmt.Sprintf("Place %02d: %s", i, strings.Repeat("it is hot there. ", 1+i*10))
		tell.Events = append(tell.Events, garden().newEvent(tr))
		tell.Rows = append(tell.Rows, fmt.Sprintf("row %02d", i))
	}
	x := &exchange{}
	if err := NewPhone(x, numbers).Tell(t.Context(), tell); err != nil {
		t.Fatal(err)
	}
	var rows []string
	for n, s := range x.all() {
		if p := x.Parts(s.text); p > mostText {
			t.Errorf("text %d has %d parts", n, p)
		}
		for _, row := range s.rows {
			number := strings.TrimPrefix(row, "row ")
			if !strings.Contains(s.text, "place "+number) && !strings.Contains(s.text, "Place "+number) {
				t.Errorf("%s is not in its text %q", row, s.text)
			}
		}
		rows = append(rows, s.rows...)
	}
	slices.Sort(rows)
	if !slices.Equal(rows, tell.Rows) {
		t.Errorf("the texts hold %q", rows)
	}
	if first := x.all()[0]; first.worst != alarms.High || !strings.HasPrefix(first.text, "High: Place 02") {
		t.Errorf("the first text is %+v", first)
	}
}

func TestTwoShortEventsFitTwoParts(t *testing.T) {
	x := &exchange{}
	give := telling(garden(), "sms", tooHot(alarms.High), over(alarms.Low, alarms.Acknowledged, noon, time.Hour))
	if err := NewPhone(x, numbers).Tell(t.Context(), give); err != nil {
		t.Fatal(err)
	}
	got := x.all()
	if len(got) != 1 || x.Parts(got[0].text) > shortText || strings.Count(got[0].text, "\n") != 1 {
		t.Errorf("got %+v", got)
	}
}

func TestTheBellRingsForBadNewsOfHighPriority(t *testing.T) {
	for _, c := range []struct {
		name string
		give Telling
		want int
	}{
		{"high", telling(garden(), "bell", tooHot(alarms.High)), 1},
		{"medium", telling(garden(), "bell", tooHot(alarms.Medium)), 0},
		{"over", telling(garden(), "bell", over(alarms.High, alarms.Unacknowledged, noon, time.Hour)), 0},
		{"over and high", telling(garden(), "bell", over(alarms.High, alarms.Unacknowledged, noon, time.Hour), tooHot(alarms.High)), 1},
		{"test", TestTelling("Ada", "bell", tongue.English, noon), 1},
	} {
		x := &exchange{}
		if err := NewBell(x, numbers).Tell(t.Context(), c.give); err != nil || len(x.rung) != c.want {
			t.Errorf("%s: rang %q, %v", c.name, x.rung, err)
		}
	}
	x := &exchange{err: errors.New("busy")}
	if err := NewBell(x, numbers).Tell(t.Context(), telling(garden(), "bell", tooHot(alarms.High))); err == nil {
		t.Error("a call that did not ring counts as told")
	}
	var final *Permanent
	if err := NewBell(x, nil).Tell(t.Context(), telling(garden(), "bell", tooHot(alarms.High))); !errors.As(err, &final) {
		t.Errorf("without a number: %v", err)
	}
}

func TestAnswers(t *testing.T) {
	body, limit := route(t, garden(), tooHot(alarms.High))[0].Body, 35.0
	none, soon := alarms.AlarmPicture{}, alarms.AlarmPicture{Until: noon, Reaches: &limit}
	for _, c := range []struct {
		bodies [][]byte
		first  alarms.AlarmPicture
		more   int
		want   string
	}{
		{nil, none, 0, "Nothing that you were told by text message waits for an acknowledgement."},
		{[][]byte{body}, alarms.AlarmPicture{Until: noon}, 0, "Acknowledged: Long House, bench: too hot. You are told again at 12:00 if it is no better by then; OK 90 makes that 90 min."},
		{[][]byte{body}, soon, 0, "Acknowledged: Long House, bench: too hot. You are told again at 12:00, when it may be 35.0 C already."},
		{[][]byte{body}, none, 0, "Acknowledged: Long House, bench: too hot."},
		{[][]byte{body, body}, none, 2, "Acknowledged: Long House, bench: too hot; Long House, bench: too hot." +
			" Told earlier and still open: 2 alarms. Reply OK again for that."},
		{slices.Repeat([][]byte{body}, 12), none, 0, "Acknowledged: Long House, bench: too hot; and 11 alarms."},
	} {
		if got, err := (Answers{}).Taken(c.bodies, c.first, c.more); err != nil || got != c.want {
			t.Errorf("got  %q, %v\nwant %q", got, err, c.want)
		}
	}
	if _, err := (Answers{}).Taken([][]byte{[]byte("?")}, alarms.AlarmPicture{}, 0); err == nil {
		t.Error("a broken row is no error")
	}
}
