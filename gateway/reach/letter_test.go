package reach

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"telltale/alarms"
)

// sundays is a letter to Ada.
var sundays = Letter{ID: LetterID(noon, 7), Person: "Ada", Headline: "Letter of the week: 4.2 to 31 °C", Text: "Thimble Garth\n\n1. Tap: https://garden.example.org/tap?t=x",
	Short: "Letter of the week: 4.2 to 31 °C. Reply YES to show that it reached you.", Confirm: "https://garden.example.org/tap?t=x"}

func letterRow(t *testing.T, l Letter, channel string, at time.Time) Outgoing {
	t.Helper()
	row, err := garden().LetterRow(l, channel, at)
	if err != nil {
		t.Fatal(err)
	}
	return row
}

func TestALetterIsKnownByItsName(t *testing.T) {
	for _, number := range []int{1, 7, 52, 4711} {
		if got := LetterNumber(LetterID(noon, number)); got != number {
			t.Errorf("the letter %d is number %d", number, got)
		}
	}
	for _, wrong := range []string{"", "watch/letter", "watch/letter#7", "watch/letters#20260709", "watch/letter#x", "long-house/bench/temperature/high#1"} {
		if n := LetterNumber(wrong); n != 0 {
			t.Errorf("%q is taken for letter %d", wrong, n)
		}
	}
}

// It tells of no transition, so that nothing cancels it, waits for the end of quiet hours,
// and the same letter makes the same row.
func TestALetterGoesTheWayOfAnAlarm(t *testing.T) {
	night := time.Date(2026, 7, 9, 23, 0, 0, 0, time.UTC)
	row := letterRow(t, sundays, "mail", night)
	if want := time.Date(2026, 7, 10, 6, 30, 0, 0, time.UTC); !row.NotBefore.Equal(want) || row.Transition != "" || row.Cancellable {
		t.Errorf("got %+v, want it not before %v", row, want)
	}
	if again := letterRow(t, sundays, "mail", night.Add(time.Hour)); again.ID != row.ID {
		t.Errorf("made again it is %s, was %s", again.ID, row.ID)
	}
	checkAgainst(t, "alarm-event.json", []byte(strings.Replace(string(row.Body), "watch/letter#", "garden/watch/letter#", 1)))
	if all := garden().Elsewhere(row); len(all) > 0 {
		t.Errorf("it also goes by %v", all)
	}
}

func TestALetterIsReadAsOne(t *testing.T) {
	e, err := readEvent(letterRow(t, sundays, "mail", noon).Body)
	if err != nil {
		t.Fatal(err)
	}
	told := Telling{ID: "x", Channel: "mail", Person: "Ada", At: noon.Add(time.Hour), Events: []Event{e}}
	if got, want := Text(told), sundays.Text+"\n\n"+string(caution)+"\n"; got != want {
		t.Errorf("the mail is\n%s\nwant\n%s", got, want)
	}
	if got := Subject(told); got != sundays.Headline {
		t.Errorf("its subject is %q", got)
	}
	p := NewPhone(partsOf(160), nil)
	if all := p.letters(told); len(all) != 1 || !strings.HasPrefix(all[0].text, "Letter of the week: 4.2 to 31 C. Reply YES to show that it reached you. (#") {
		t.Errorf("the texts are %+v", all)
	}
	push := &Push{o: PushOptions{Key: &PushKey{}, Links: func(string, Event) (string, string) { return "token", "/alarm?id=watch%2Fletter" }}}
	b, err := push.message(told, mostPush)
	if err != nil || !strings.Contains(string(b), `"page":"/tap?t=x"`) || strings.Contains(string(b), `"tap"`) {
		t.Errorf("the device gets %s, %v", b, err)
	}
}

// partsOf is a network that makes a message of so many signs.
type partsOf int

func (partsOf) Text(context.Context, string, string, alarms.Priority, []string) error { return nil }
func (n partsOf) Parts(text string) int                                               { return 1 + (len([]rune(text))-1)/int(n) }
func (partsOf) Ring(context.Context, string) error                                    { return nil }

// It is not mixed with alarms, and is tried for as long as until it would be missed.
func TestALetterStandsAloneAndIsTriedForLong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rows := append(rowsFor(t, "mail", "Ada", alarms.Low, 2), letterRow(t, sundays, "mail", noon))
		for i := range rows {
			rows[i].NotBefore = time.Now()
		}
		box := newMemory(rows...)
		to := &recorder{answer: func(_ context.Context, told Telling) error {
			if told.Events[0].Letter {
				return context.DeadlineExceeded
			}
			return nil
		}}
		start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: to}}})
		time.Sleep(letterTried - time.Hour)
		synctest.Wait()
		log := box.log()
		tried := log[len(log)-1]
		if tried.Alarm != LetterAlarm || tried.Outcome != Failed {
			t.Errorf("an hour before its end it is %+v", tried)
		}
		time.Sleep(2 * time.Hour)
		synctest.Wait()
		log = box.log()
		if last := log[len(log)-1]; last.Outcome != GivenUp {
			t.Errorf("after that it is %+v", last)
		}
		news := 0
		for _, told := range to.tellings() {
			if told.Events[0].Letter && len(told.Events) > 1 {
				t.Errorf("with the letter there came %d", len(told.Events)-1)
			} else if !told.Events[0].Letter {
				news += len(told.Events)
			}
		}
		if news != 2 {
			t.Errorf("%d news were told beside it, want 2", news)
		}
	})
}
