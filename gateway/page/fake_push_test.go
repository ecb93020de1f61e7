package page

import (
	"context"
	"slices"
	"sync"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
)

// fakePush keeps devices in memory.
type fakePush struct {
	mu      sync.Mutex
	people  []PushPerson
	devices []PushDevice
	grants  map[int64]PushGrant
	last    int64
	tested  []int64
	refusal string
	err     error
}

var _ Push = (*fakePush)(nil)

// pushKey is a point of P-256: the public key of RFC 8291, section 5, from memory.
const pushKey = "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8"

func newFakePush() *fakePush {
	return &fakePush{people: []PushPerson{{"ada", "Ada", true}, {"ben", "Ben", false}}, grants: map[int64]PushGrant{}}
}

// scenePush has a device in each state.
func scenePush(now time.Time) *fakePush {
	f := newFakePush()
	f.last = 4
	f.devices = []PushDevice{
		{ID: 1, Mark: PushMark("1"), Person: "ada", Label: "phone", Made: now.Add(-40 * 24 * time.Hour), Told: now.Add(-20 * time.Minute)},
		{ID: 2, Person: "ada", Label: "old tablet in the potting shed", Made: now.Add(-90 * 24 * time.Hour), Told: now.Add(-30 * 24 * time.Hour), Gone: now.Add(-3 * time.Hour)},
		{ID: 4, Mark: PushMark("4"), Person: "cat", Label: "phone", Made: now.Add(-time.Hour)},
		{ID: 3, Mark: PushMark("3"), Person: "ada", Label: "computer", Made: now.Add(-time.Hour), Failed: now.Add(-time.Minute),
			Why: "the push service at push.example.org answered 503 Service Unavailable; check whether it is in trouble"},
	}
	return f
}

func (f *fakePush) Key() string          { return pushKey }
func (f *fakePush) People() []PushPerson { return f.people }

func (f *fakePush) Devices(context.Context) ([]PushDevice, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.devices), f.err
}

func (f *fakePush) Register(_ context.Context, g PushGrant, person, label string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.refusal != "" {
		return service.Refuse(tongue.Text(f.refusal))
	}
	f.last++
	f.devices = append(f.devices, PushDevice{ID: f.last, Mark: PushMark(g.Endpoint), Person: person, Label: label, Made: noon})
	f.grants[f.last] = g
	return f.err
}

func (f *fakePush) Renew(_ context.Context, old string, g PushGrant) (bool, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for i := range f.devices {
		if d := &f.devices[i]; d.Mark == PushMark(old) {
			d.Mark, f.grants[d.ID] = PushMark(g.Endpoint), g
			return true, f.err
		}
	}
	return false, f.err
}

func (f *fakePush) Remove(_ context.Context, id int64) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.devices = slices.DeleteFunc(f.devices, func(d PushDevice) bool { return d.ID == id })
	return f.err
}

func (f *fakePush) Test(_ context.Context, id int64) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.refusal != "" {
		return service.Refuse(tongue.Text(f.refusal))
	}
	f.tested = append(f.tested, id)
	return f.err
}

func (f *fakePush) registered() []PushDevice {
	all, _ := f.Devices(context.Background())
	return all
}
