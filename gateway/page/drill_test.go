package page

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/gateway/page/service"
)

// fakeDrill has a step of each kind and state.
type fakeDrill struct {
	mu    sync.Mutex
	state service.DrillState
	did   []string
	err   error
}

var _ service.Drill = (*fakeDrill)(nil)

func sceneDrill() *fakeDrill {
	return &fakeDrill{state: service.DrillState{Begun: noon.Add(-time.Hour), By: "Ada", Open: true,
		Last: &service.DrillDone{At: noon.AddDate(0, -2, -7), By: "Ann", Felt: 5, Hand: 1, Left: 2},
		Steps: []service.DrillStep{
			{ID: "warm/bench-1", Kind: "warm", Of: "bench 1", Place: "Bench", Feels: true, At: noon.Add(-30 * time.Minute), Took: 36 * time.Second},
			{ID: "warm/ridge-1", Kind: "warm", Of: "ridge 1", Place: "Ridge", Feels: true, Doing: true},
			{ID: "unplug/bench-1", Kind: "unplug", Of: "bench 1", Place: "Bench", Feels: true, Late: true},
			{ID: "power/long-house/north", Kind: "power", Of: "north circuit", Feels: true},
			{ID: "internet", Kind: "internet", Feels: true}, {ID: "ring", Kind: "ring", Feels: true, At: noon.Add(-20 * time.Minute), Hand: true, By: "Ann"},
			{ID: "covers/long-house", Kind: "covers", Of: "Long House"}}}}
}

func (d *fakeDrill) note(what string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.err == nil {
		d.did = append(d.did, what)
	}
	return d.err
}

func (d *fakeDrill) Drill() service.DrillState {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.state
}

func (d *fakeDrill) Begin(_ context.Context, by string) error { return d.note("begin " + by) }
func (d *fakeDrill) End(_ context.Context, by string) error   { return d.note("end " + by) }
func (d *fakeDrill) ByHand(_ context.Context, step, by string) error {
	return d.note("hand " + step + " " + by)
}
func (d *fakeDrill) Now(ctx context.Context, step string, send func(context.Context) (string, error)) error {
	id, err := send(ctx)
	if err != nil {
		return err
	}
	return d.note("now " + step + " " + id)
}

func TestTheDrillIsListedAndDone(t *testing.T) {
	f, d := newFake(), sceneDrill()
	st := start(t, Options{Watch: f, Drill: d})
	_, text := st.get("/drill")
	wantAll(t, reading(text), "Last done 14 Apr 12:02 by Ann: 5 felt, 1 ticked off by hand, 2 not done. Begun at 11:02 by Ada.",
		"The watch waits to feel: probe ridge 1 (Ridge) gets warm.", "probe bench 1 (Bench) gets warm : felt after 36 s, at 11:32.", "probe ridge 1 (Ridge) gets warm : is waited for.",
		"probe bench 1 (Bench) falls silent : not felt in its time.", "north circuit loses its power : not done yet.",
		"a telephone rings : ticked off by hand by Ann at 11:42, not felt.", "the covers of Long House : cannot be felt.", "a licensed electrician")
	_, part := st.get("/drill?part=1")
	wantAll(t, part, "Look again")
	wantNone(t, part, "<main", "Warm each probe")
	for _, c := range [][3]string{{"begin", "", "drill-begun"}, {"now", "ring", "drill-now"}, {"hand", "ring", "drill-hand"}, {"end", "", "drill-ended"}} {
		a, _ := st.post("/drill/"+c[0], "then", "drill", "step", c[1], "who", "Ben")
		if want := "/drill?said=" + c[2]; a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != want {
			t.Errorf("%s: got status %d to %q", c[0], a.StatusCode, a.Header.Get("Location"))
		}
	}
	if got := strings.Join(d.did, "; "); !strings.HasPrefix(got, "begin Ben; now ring ") || !strings.HasSuffix(got, "; hand ring Ben; end Ben") {
		t.Errorf("done: %s", got)
	}
	d.err = service.Refuse("That cannot be felt.")
	a, text := st.post("/drill/hand", "step", "x")
	if a.StatusCode != http.StatusConflict {
		t.Errorf("got status %d", a.StatusCode)
	}
	wantAll(t, reading(text), "That cannot be felt.")
	d.state = service.DrillState{Steps: d.state.Steps}
	_, text = st.get("/drill")
	wantAll(t, reading(text), "It has not been done yet.", "Begin the drill")
	wantNone(t, text, `aria-label="I do it now`, "/drill/end")
}

func TestWhoMayLookOnlyDrillsNothing(t *testing.T) {
	f, d := newFake(), sceneDrill()
	st := start(t, Options{Watch: f, Accounts: people(), Drill: d})
	st.signInAs("Ben", benPassword)
	_, text := st.get("/drill")
	wantAll(t, reading(text), "felt after 36 s")
	wantNone(t, text, `action="/drill/`)
	for _, path := range []string{"begin", "now", "hand", "end"} {
		if a, _ := st.post("/drill/"+path, "step", "ring"); a.StatusCode != http.StatusForbidden {
			t.Errorf("%s: got status %d", path, a.StatusCode)
		}
	}
	if len(d.did) > 0 {
		t.Errorf("done: %v", d.did)
	}
}
