package engine_test

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// drive returns the picture of one drive of the only house.
func (r *run) drive(id alarms.DriveID) alarms.DrivePicture {
	r.t.Helper()
	for _, d := range picture(r.e).Houses[0].Drives {
		if d.ID == id {
			return d
		}
	}
	r.t.Fatalf("no drive %s in the picture", id)
	return alarms.DrivePicture{}
}

func (r *run) says(id alarms.DriveID, want string) {
	r.t.Helper()
	if got := r.drive(id).Sentence; got != want {
		r.t.Errorf("%s at %s:\n got %s\nwant %s", id, r.now.Format("15:04 on 2 January"), got, want)
	}
}

// cycle is one switching as it should be, of 43 min.
func (r *run) cycle() {
	r.work(24, 0, 0, 20*time.Minute)
	r.work(30.5, 0, 0, time.Minute)
	r.work(30, 0.33, 1, 8*time.Minute)
	r.work(27, 0.33, 1, 4*time.Minute)
	r.work(23, 0, 0, 10*time.Minute)
}

func TestADriveSaysWhatSpeaksForIt(t *testing.T) {
	r := start(t, fanned())
	r.work(24, 0, 0, 5*time.Minute)
	r.says("exhaust-fan", "The exhaust fan has not yet been seen to start and stop as it should; it stands still.")
	r.says("intake-shutter", "The intake shutter has not yet been seen to open and shut as it should; it is shut.")
	r.cycle()
	r.says("exhaust-fan", "The exhaust fan switched as it should, once today, at 30.0 °C; it stands still.")
	r.cycle()
	r.work(30.5, 0.33, 1, 5*time.Minute)
	r.says("exhaust-fan", "The exhaust fan switched as it should, 2 times today, first at 30.0 °C; it has been running since 13:31.")
	r.says("intake-shutter", "The intake shutter opened and shut as it should, 2 times today, first at 30.0 °C; it has been open since 13:31.")

	d := r.drive("exhaust-fan")
	ran := 2*12*time.Minute + 5*time.Minute
	if d.State != alarms.DriveRunning || d.Call != "called" || d.StartsToday != 3 || d.RightToday != 2 ||
		(d.RanToday-ran).Abs() > time.Minute || d.RanTotal != d.RanToday || d.FirstTemp == nil || *d.FirstTemp != 30 ||
		d.Wish != "to follow the thermostat" || d.Failing || !d.Evidenced || d.Inferred != nil {
		t.Errorf("got %+v", d)
	}
	if s := r.drive("intake-shutter"); s.Wish != "to follow the exhaust fan" || s.Kind != alarms.IntakeShutter {
		t.Errorf("got %+v", s)
	}
	r.work(23, 0, 0, 12*time.Hour) // past midnight
	r.says("exhaust-fan", "The exhaust fan last switched as it should at 13:36 on 1 July; it stands still.")
	if n := r.drive("exhaust-fan"); n.StartsToday != 0 || n.RanToday != 0 || n.StartsTotal != 3 || n.RanTotal < ran-time.Minute {
		t.Errorf("after midnight: %+v", n)
	}
}

// The verdict that an alarm tells is told of the drive in the same words.
func TestAFailingDriveIsNotPraised(t *testing.T) {
	r := start(t, fanned())
	r.cycle()
	r.work(32, 0, 0, 20*time.Minute)
	d := r.drive("exhaust-fan")
	if !d.Failing || !strings.HasPrefix(d.Sentence, "The exhaust fan did not start: the thermostat should have switched it on at 12:43 (32.0 °C)") {
		t.Errorf("got %+v", d)
	}
	said := false
	for _, a := range picture(r.e).Alarms {
		said = said || strings.Contains(a.Sentence, "exhaust fan did not start: the thermostat should have switched it on at 12:43 (32.0 °C)")
	}
	if !said {
		t.Errorf("no alarm says so: %+v", picture(r.e).Alarms)
	}
}

// seldom is fanned with probes that send every ten minutes.
func seldom() alarms.Plan {
	p := fanned()
	h := &p.Houses[0]
	for i := range h.Places {
		for j := range h.Places[i].Probes {
			h.Places[i].Probes[j].Every = 10 * time.Minute
		}
	}
	return p
}

func TestADriveWithoutOccasionAsksForATestByHand(t *testing.T) {
	r := start(t, seldom())
	quiet := func(days int) {
		for i, end := 0, r.now.AddDate(0, 0, days); r.now.Before(end); i++ {
			r.work(19+float64(i%20)/10, 0, 0, 30*time.Second)
			r.now = r.now.Add(9*time.Minute + 30*time.Second)
		}
	}
	quiet(13)
	r.says("exhaust-fan", "The exhaust fan has not yet been seen to start and stop as it should; it stands still.")
	quiet(3)
	r.says("exhaust-fan", "The exhaust fan has had no occasion to prove itself for 16 days; it stands still. "+
		"To test it by hand: turn the dial below the present temperature until the fan starts, then back.")
	r.says("intake-shutter", "The intake shutter has had no occasion to prove itself for 16 days; it is shut. "+
		"To test it by hand: turn the dial below the present temperature until the fan starts and the shutter opens, then back.")
	if d := r.drive("exhaust-fan"); !d.Unproven.Equal(noon) {
		t.Errorf("unproven since %v", d.Unproven)
	}
	r.work(20, 0.33, 1, 4*time.Minute)
	r.work(20, 0, 0, 10*time.Minute)
	r.says("exhaust-fan", "The exhaust fan was last tested by hand at 12:04; it stands still.")
}

// What no probe shows is inferred with a probe outside alone, and said to be.
func TestWhatNoProbeShowsIsSaidToBeInferred(t *testing.T) {
	p := fanned()
	for i := range p.Houses[0].Drives {
		p.Houses[0].Drives[i].Evidence = nil
	}
	const unseen = "No probe shows whether the exhaust fan runs. Look at it now and then."
	r := start(t, p)
	r.says("exhaust-fan", unseen)
	r.work(24, 0, 0, 40*time.Minute)
	r.says("exhaust-fan", unseen)
	if d := r.drive("exhaust-fan"); d.Inferred != nil || d.Guess != "" || d.Evidenced || d.State != alarms.DriveUnknown || !d.Unproven.IsZero() {
		t.Fatalf("without a probe outside: got %+v", d)
	}
	r.says("intake-shutter", "No probe shows whether the intake shutter is open. Look at it now and then.")

	h := &p.Houses[0]
	h.Places = append(h.Places, alarms.Place{ID: "outside", Probes: []alarms.Probe{{ID: "outside-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}})
	r = start(t, p)
	for range 30 {
		r.step(alarms.Input{At: r.now, Kind: alarms.ReadingIn, Probe: "outside-1", Quantity: alarms.Temperature, Value: 20})
		r.work(24, 0, 0, time.Minute)
	}
	d := r.drive("exhaust-fan")
	if d.Inferred == nil || math.IsNaN(*d.Inferred) || *d.Inferred < 0 || *d.Inferred > 1 ||
		!strings.Contains(d.Sentence, "inferred from the temperatures inside and outside alone") || !strings.HasSuffix(d.Sentence, "; no probe shows it.") {
		t.Errorf("got %+v", d)
	}
}

func TestSelectorsAndWhatTheyWant(t *testing.T) {
	p := fanned()
	h := &p.Houses[0]
	for i := range h.Drives {
		h.Drives[i].Barred = []alarms.Season{alarms.SeasonWinter}
	}
	h.Selectors = []alarms.Selector{{ID: "mode", Name: "fan switch", Positions: []alarms.Position{
		{Name: "automatic", Follow: []alarms.DriveID{"exhaust-fan"}},
		{Name: "on", On: []alarms.DriveID{"exhaust-fan"}},
		{Name: "off", Off: []alarms.DriveID{"exhaust-fan"}}}}}
	r := start(t, p)
	r.work(20, 0, 0, time.Minute)
	want := alarms.SelectorPicture{ID: "mode", Name: "fan switch", At: "automatic", Told: alarms.ToldByPerson}
	got := picture(r.e).Houses[0].Selectors
	if len(got) != 1 || strings.Join(got[0].Positions, " ") != "automatic on off" || got[0].At != want.At || got[0].Told != want.Told || got[0].Name != want.Name {
		t.Fatalf("got %+v", got)
	}
	r.step(alarms.Input{Kind: alarms.SetSelector, House: "long-house", Selector: "mode", Position: "off", By: "Ann"})
	r.says("exhaust-fan", "The exhaust fan is to stay off: its switch is off; it stands still.")
	r.step(alarms.Input{Kind: alarms.SetSelector, House: "long-house", Selector: "mode", Position: "on", By: "Ann"})
	r.says("exhaust-fan", "The exhaust fan is to run all the time; it stands still.")
	if at := picture(r.e).Houses[0].Selectors[0].At; at != "on" {
		t.Errorf("it is at %q", at)
	}
	r.step(alarms.Input{Kind: alarms.SetSeason, House: "long-house", Season: alarms.SeasonWinter})
	r.says("intake-shutter", "The intake shutter is not to be open in this season; it is shut.")
}

// Looking changes nothing: what is saved and told is the same.
func TestAPictureOfDrivesChangesNothing(t *testing.T) {
	plain, looked := start(t, fanned()), start(t, fanned())
	for _, r := range []*run{plain, looked} {
		r.cycle()
		for range 20 {
			r.work(31, 0.33, 1, 30*time.Second)
			if r == looked {
				if a, b := r.drive("exhaust-fan"), r.drive("exhaust-fan"); a.Sentence != b.Sentence || a.RanTotal != b.RanTotal {
					t.Errorf("two looks differ:\n%+v\n%+v", a, b)
				}
			}
		}
	}
	a, err := plain.e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	b, err := looked.e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Errorf("another snapshot after looking:\n%s\n%s", a, b)
	}
	back, err := engine.Restore(fanned(), b)
	if err != nil {
		t.Fatal(err)
	}
	before, after := picture(looked.e).Houses[0].Drives[0], picture(back).Houses[0].Drives[0]
	if before.StartsTotal != after.StartsTotal || before.RanTotal != after.RanTotal || before.RightToday != after.RightToday {
		t.Errorf("counts after a restart:\n%+v\n%+v", before, after)
	}
}
