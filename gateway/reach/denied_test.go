package reach

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"telltale/alarms"
)

// TestDeniedIsTriedUntilItsTimeIsOver: one answer that says never is no reason
// to be silent for good.
func TestDeniedIsTriedUntilItsTimeIsOver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := newMemory(rowsFor(t, "hook", "Ada", alarms.High, 1)...)
		start(t, box, Options{Channels: []Channel{{Name: "hook", Notifier: &recorder{answer: always(deny("403"))}}}})
		begin := time.Now()
		time.Sleep(30 * time.Hour)
		synctest.Wait()
		log := box.log()
		for i, a := range log[:10] {
			if got, want := a.Began.Sub(begin), time.Duration(i)*urgentPause; got != want || a.Outcome != Failed {
				t.Errorf("try %d: %s after %s, want failed after %s", i+1, a.Outcome, got, want)
			}
		}
		last := log[len(log)-1]
		if last.Outcome != GivenUp || last.Ended.Sub(begin) < 23*time.Hour+54*time.Minute || !strings.HasSuffix(last.Detail, ": 403") {
			t.Errorf("the last: %s after %s: %s", last.Outcome, last.Ended.Sub(begin), last.Detail)
		}
	})
}

// TestAddressOfNobody: six tries where nothing ever arrived, and no such bound
// where something did.
func TestAddressOfNobody(t *testing.T) {
	for _, reached := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			box := newMemory(rowsFor(t, "mail", "Ada", alarms.Medium, 2)...)
			var answer error
			if !reached {
				answer = &Denied{Err: deny("550 nobody"), Address: true}
			}
			mail := &recorder{answer: always(answer)}
			start(t, box, Options{Channels: []Channel{{Name: "mail", Notifier: mail}}})
			synctest.Wait()
			mail.mu.Lock()
			mail.answer = always(&Denied{Err: deny("550 nobody"), Address: true})
			mail.mu.Unlock()
			box.save(rowsFor(t, "mail", "Ada", alarms.Medium, 3)[2])
			time.Sleep(3 * time.Hour)
			synctest.Wait()
			tries := 0
			var last Attempt
			for _, a := range box.log() {
				if strings.HasSuffix(a.Transition, "#3") {
					tries++
					last = a
				}
			}
			if want := Refused; !reached && (tries != mostDenied || last.Outcome != want || last.Detail != "refused 6 times, and nothing ever arrived there: 550 nobody") {
				t.Errorf("never reached: %d tries, the last %s: %s", tries, last.Outcome, last.Detail)
			}
			if reached && (tries <= mostDenied || last.Outcome != Failed) {
				t.Errorf("reached before: %d tries, the last %s", tries, last.Outcome)
			}
		})
	}
}

// TestDeniedHighGoesElsewhere: what is of high priority goes over the person's
// other channels at the first such answer, over each once; the rest waits.
func TestDeniedHighGoesElsewhere(t *testing.T) {
	r := garden()
	r.People = []Person{{Name: "Ada", Channels: []string{"hook", "mail", "phone"}}, {Name: "Ben", Channels: []string{"mail"}}}
	for _, answer := range []error{deny("404"), refuse("400")} {
		for _, p := range []alarms.Priority{alarms.High, alarms.Medium} {
			synctest.Test(t, func(t *testing.T) {
				box := newMemory(append(rowsFor(t, "hook", "Ada", p, 2), rowsFor(t, "mail", "Ada", p, 1)...)...)
				hook, mail, phone := &recorder{answer: always(answer)}, &recorder{}, &recorder{}
				start(t, box, Options{Elsewhere: r.Elsewhere, Channels: []Channel{
					{Name: "hook", Notifier: hook}, {Name: "mail", Notifier: mail}, {Name: "phone", Notifier: phone}}})
				synctest.Wait() // no time passes
				time.Sleep(time.Hour)
				synctest.Wait()
				count := map[string]int{}
				for _, n := range []*recorder{mail, phone} {
					for _, m := range n.tellings() {
						if m.At.Sub(m.Events[0].Noticed) > time.Second {
							t.Errorf("%s was told after %s", m.Channel, m.At.Sub(m.Events[0].Noticed))
						}
						for _, e := range m.Events {
							count[m.Channel+e.ID[len(hot):]]++
						}
					}
				}
				want := map[string]int{"mail#1": 1}
				if p == alarms.High {
					want = map[string]int{"mail#1": 1, "mail#2": 1, "phone#1": 1, "phone#2": 1}
				}
				if len(count) != len(want) {
					t.Errorf("%v, %s: got %v, want %v", answer, p, count, want)
				}
				for k, n := range want {
					if count[k] != n {
						t.Errorf("%v, %s: got %v, want %v", answer, p, count, want)
					}
				}
			})
		}
	}
}
