package leave

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

var noon = time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)

// book is one whose tellings are kept.
type book struct {
	*Book
	panel lifecycle.Panel
	said  []string
}

func newBook() *book {
	b := &book{panel: lifecycle.NewPanel(&alarms.Plan{})}
	b.Book = New(&b.panel, func(l alarms.LeaveReason, due timing.Instant) {
		b.said = append(b.said, fmt.Sprintf("%s %s %q", due.UTC().Format("02 15:04"), l.Person, l.Ended))
	})
	return b
}

func (b *book) at(after time.Duration) timing.Instant {
	now := timing.At(noon.Add(after))
	b.panel.Timers.RunUntil(now, func(timing.Instant) {})
	return now
}

func (b *book) begin(person string, at, until time.Duration) {
	now := b.at(at)
	b.Begin(alarms.Input{Person: person, Until: noon.Add(until)}, now)
}

func (b *book) want(t *testing.T, said ...string) {
	t.Helper()
	if got, want := strings.Join(b.said, "; "), strings.Join(said, "; "); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestLeavesEndInTheirOrder(t *testing.T) {
	b := newBook()
	b.begin("Ada", 0, 3*time.Hour)
	b.begin("Ann", time.Hour, 2*time.Hour)
	b.begin("Ben", time.Hour, 3*time.Hour)
	b.begin("", time.Hour, 3*time.Hour)
	b.begin("Cy", time.Hour, time.Hour)
	b.at(4 * time.Hour)
	b.want(t, `21 12:00 Ada ""`, `21 13:00 Ann ""`, `21 13:00 Ben ""`, `21 14:00 Ann "over"`, `21 15:00 Ada "over"`, `21 15:00 Ben "over"`)
	if all := b.Running(); len(all) != 0 {
		t.Errorf("still running: %+v", all)
	}
	if len(b.Leaves()) != 3 {
		t.Errorf("of those that are over it knows %+v", b.Leaves())
	}
}

func TestALeaveIsOfOnePersonOnceAndNotForEver(t *testing.T) {
	b := newBook()
	b.begin("Ada", 0, 3*time.Hour)
	b.begin("Ada", time.Hour, 100*24*time.Hour)
	all := b.Running()
	if len(all) != 1 || !all[0].Until.Equal(noon.Add(time.Hour+alarms.LongestLeave)) {
		t.Errorf("running are %+v", all)
	}
	b.Back("Ann", b.at(2*time.Hour))
	b.Back("Ada", b.at(2*time.Hour))
	b.Back("Ada", b.at(3*time.Hour))
	b.want(t, `21 12:00 Ada ""`, `21 13:00 Ada ""`, `21 14:00 Ada "back"`)
}

// However often somebody goes and comes back, little is kept, and nothing of who is away
// is forgotten.
func TestLittleIsKept(t *testing.T) {
	b := newBook()
	b.begin("Ada", 0, 20*24*time.Hour)
	for i := range 200 {
		b.begin("Ann", time.Duration(i)*time.Hour, time.Duration(i+1)*time.Hour)
	}
	if len(b.Leaves()) > mostKept || len(b.Running()) != 2 {
		t.Errorf("%d are kept, %d run", len(b.Leaves()), len(b.Running()))
	}
	again := newBook()
	again.Load(b.Save())
	if !reflect.DeepEqual(again.Leaves(), b.Leaves()) || !reflect.DeepEqual(again.Save(), b.Save()) {
		t.Errorf("after a start %+v", again.Leaves())
	}
	again.at(21 * 24 * time.Hour)
	again.want(t, `29 20:00 Ann "over"`, `11 12:00 Ada "over"`)
}
