package drill

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

var noon = time.Date(2026, 4, 14, 12, 0, 0, 0, time.UTC)

func plan() *alarms.Plan {
	p := alarms.Plan{Houses: []alarms.House{{ID: "long-house", Name: "Long House",
		Circuits: []alarms.Circuit{{ID: "north"}, {ID: "yard"}},
		Places: []alarms.Place{{ID: "bench", Probes: []alarms.Probe{
			{ID: "bench-1", Circuit: "north", Every: 30 * time.Second, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}},
			{ID: "clamp-1", Streams: []alarms.Stream{{Quantity: alarms.Current}}}}}}}}}.Filled()
	return &p
}

var ways = Ways{Internet: []string{"mail"}, Rings: []string{"bell"}}

// rig is a drill with what can be felt.
type rig struct {
	t     *testing.T
	steps []Step
	state State
	see   Sight
	probe *alarms.ProbePicture
}

func newRig(t *testing.T) *rig {
	r := &rig{t: t, steps: Steps(plan(), ways)}
	probes := []alarms.ProbePicture{{ID: "bench-1", Values: []alarms.ProbeValue{{Quantity: alarms.Temperature, HasValue: true, Live: true, Value: 20}}}, {ID: "clamp-1"}}
	r.see = Sight{At: noon, Wall: noon.Add(time.Hour), Tested: map[string][]Sent{},
		Picture: alarms.Picture{Houses: []alarms.HousePicture{{Places: []alarms.PlacePicture{{Probes: probes}}}}}}
	r.probe = &probes[0]
	r.state.Begin(r.see.Wall, "Ada")
	return r
}

func (r *rig) step(id string) Step {
	r.t.Helper()
	for _, one := range r.steps {
		if one.ID == id {
			return one
		}
	}
	r.t.Fatalf("there is no step %s in %+v", id, r.steps)
	return Step{}
}

// now begins a step that can be felt.
func (r *rig) now(id, test string) {
	r.t.Helper()
	if why := r.step(id).Cannot(r.see, ways); !why.Empty() {
		r.t.Fatalf("%s: %s", id, why)
	}
	r.state.Now(r.step(id), r.see.At, test)
}

// after lets time pass, with a restart, and feels.
func (r *rig) after(d time.Duration) {
	r.t.Helper()
	r.see.At, r.see.Wall = r.see.At.Add(d), r.see.Wall.Add(d)
	b, err := json.Marshal(r.state)
	if err != nil {
		r.t.Fatal(err)
	}
	var again State
	if err := json.Unmarshal(b, &again); err != nil {
		r.t.Fatal(err)
	}
	if c, _ := json.Marshal(again); string(c) != string(b) {
		r.t.Fatalf("kept as\n%s\nis read as\n%s", b, c)
	}
	r.state = again
	r.state.Feel(r.steps, r.see, ways)
}

func (r *rig) want(id, want string) {
	r.t.Helper()
	m, got := r.state.Marks[id], "not done"
	switch {
	case m.Now:
		got = "waits"
	case m.Hand:
		got = "by hand"
	case !m.At.IsZero():
		got = "felt after " + (time.Duration(m.Took) * time.Second).String()
	case m.Late:
		got = "late"
	}
	if got != want {
		r.t.Errorf("%s: %s, want %s", id, got, want)
	}
}

func TestTheStepsOfAGarden(t *testing.T) {
	var ids []string
	for _, one := range Steps(plan(), ways) {
		if one.Kind == Covers || one.ID == "power/long-house/yard" {
			if one.Within != 0 {
				t.Errorf("%s is to be felt within %v", one.ID, one.Within)
			}
		} else if one.Within == 0 {
			t.Errorf("%s is not to be felt", one.ID)
		}
		ids = append(ids, one.ID)
	}
	want := "warm/bench-1 unplug/bench-1 unplug/clamp-1 power/long-house/north power/long-house/yard internet ring covers/long-house"
	if got := strings.Join(ids, " "); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if all := Steps(plan(), Ways{}); len(all) != 6 {
		t.Errorf("without channels: %+v", all)
	}
}

func TestAProbeInTheHand(t *testing.T) {
	r := newRig(t)
	warm := func(v float64) { r.probe.Values[0].Value = v }
	r.now("warm/bench-1", "")
	r.after(10 * time.Second)
	warm(18.5) // a draught first
	r.after(10 * time.Second)
	warm(20.4)
	r.after(10 * time.Second)
	r.want("warm/bench-1", "waits")
	warm(25)
	r.probe.Values[0].Live = false // a retained value, say
	r.after(time.Second)
	r.want("warm/bench-1", "waits")
	r.probe.Values[0].Live = true
	warm(20.5)
	r.after(5 * time.Second)
	r.want("warm/bench-1", "felt after 36s")
	r.after(time.Hour)
	r.want("warm/bench-1", "felt after 36s")
	if m := r.state.Marks["warm/bench-1"]; !m.At.Equal(noon.Add(time.Hour + 36*time.Second)) {
		t.Errorf("ticked off at %s", m.At)
	}
}

func TestAPlugAButtonAndACable(t *testing.T) {
	r := newRig(t)
	r.now("unplug/bench-1", "")
	r.now("power/long-house/north", "")
	r.now("internet", "test#1")
	r.now("ring", "test#2")
	r.see.Tested["test#1"] = []Sent{{Channel: "bell", Failed: true}, {Channel: "mail", Went: true}}
	r.see.Tested["test#2"] = []Sent{{Channel: "mail", Went: true}, {Channel: "bell", Failed: true}}
	r.see.Picture.Alarms = []alarms.AlarmPicture{{ID: "long-house/north/silent"}} // over, and nobody has taken it
	r.after(20 * time.Second)
	for _, id := range []string{"unplug/bench-1", "power/long-house/north", "internet", "ring"} {
		r.want(id, "waits")
	}
	r.see.Tested["test#1"][1] = Sent{Channel: "mail", Failed: true}
	r.see.Tested["test#2"][1] = Sent{Channel: "bell", Went: true}
	r.see.Picture.Alarms[0].Active = true
	r.probe.Silent = true
	r.after(20 * time.Second)
	for _, id := range []string{"unplug/bench-1", "power/long-house/north", "internet", "ring"} {
		r.want(id, "felt after 40s")
	}
	for _, id := range []string{"unplug/bench-1", "power/long-house/north", "covers/long-house", "power/long-house/yard"} {
		if r.step(id).Cannot(r.see, ways).Empty() {
			t.Errorf("%s is so already, or cannot be felt, and would be felt", id)
		}
	}
	r.see.Failing = []string{"mail"}
	if r.step("internet").Cannot(r.see, ways).Empty() {
		t.Error("the mail fails already, and would be taken for a cut line")
	}
}

func TestWhatIsNotFeltIsSaidAndWhatIsDoneByHandIsSeen(t *testing.T) {
	r := newRig(t)
	r.now("warm/bench-1", "")
	r.after(warmWithin + time.Second)
	r.want("warm/bench-1", "late")
	r.state.ByHand(r.step("warm/bench-1"), r.see.Wall, "Ann")
	r.state.ByHand(r.step("covers/long-house"), r.see.Wall, "Ann")
	r.want("warm/bench-1", "by hand")
	r.state.ByHand(r.step("warm/bench-1"), r.see.Wall, "Ann")
	r.want("warm/bench-1", "not done")
	r.now("unplug/bench-1", "")
	r.probe.Silent = true
	r.after(time.Minute)
	r.now("internet", "test#1")
	r.state.End(r.steps, r.see.Wall, "Ada")
	if want := (Done{At: r.see.Wall, By: "Ada", Felt: 1, Hand: 1, Left: 6}); r.state.Last == nil || !reflect.DeepEqual(*r.state.Last, want) {
		t.Errorf("it ended as %+v, want %+v", r.state.Last, want)
	}
	r.see.Tested["test#1"] = []Sent{{Channel: "mail", Failed: true}}
	r.after(time.Minute)
	r.want("internet", "not done") // after the end nothing is felt
	last := *r.state.Last
	r.state.End(r.steps, r.see.Wall, "Ben")
	r.state.Begin(r.see.Wall, "Ben")
	if len(r.state.Marks) != 0 || *r.state.Last != last {
		t.Errorf("a new drill begins with %+v", r.state)
	}
}

// A step that the config has no more is waited for by nobody, and a state that is read
// without any mark can be gone on with.
func TestAnotherConfig(t *testing.T) {
	r := newRig(t)
	r.now("warm/bench-1", "")
	r.steps = r.steps[1:]
	if all := r.state.Doing(r.steps); len(all) != 0 {
		t.Errorf("waited for is %+v", all)
	}
	r.after(time.Hour)
	var empty State
	if err := json.Unmarshal([]byte(`{"open":true}`), &empty); err != nil {
		t.Fatal(err)
	}
	empty.Now(r.step("ring"), noon, "test#3")
	if len(empty.Doing(r.steps)) != 1 {
		t.Errorf("it is %+v", empty)
	}
}
