package thermal

import (
	"math"
	"testing"
	"time"
	"unsafe"
)

// The slopes that the filter goes by are those of the equations.
func TestSlopes(t *testing.T) {
	var f filter
	f.empty()
	f.x[probeNode], f.x[airNode], f.x[lightNode], f.x[massNode], f.x[cloud], f.x[outside] = 24, 27, 30, 22, 0.7, 15
	const hours, sun, by = 0.03, 0.6, 1e-5
	share := [drives]float64{0.7, 0.4, 0.3}
	go1 := func(f filter) [4]float64 {
		r := f.rates()
		n := r.move(f.node(), hours, sun, &share)
		return [4]float64{n.probe, n.air, n.light, n.mass}
	}
	r := f.rates()
	j := r.slopes(f.node(), hours, sun, &share)
	for i := range states {
		up, down := f, f
		up.x[i] += by
		down.x[i] -= by
		a, b := go1(up), go1(down)
		for k := range a {
			if want := (a[k] - b[k]) / (2 * by); math.Abs(j[k][i]-want) > 1e-6*(1+math.Abs(want)) {
				t.Errorf("slope of node %d by state %d: got %.8g, want %.8g", k, i, j[k][i], want)
			}
		}
	}
}

// A house that was saved at any point, and brought back, says the same afterwards.
func TestSavedGoesOn(t *testing.T) {
	g, h := lived(3, 3, ExhaustFan, time.Minute, true)
	for i := range 1440 {
		if i%97 == 0 {
			saved := h.Save()
			if len(saved) > 1950 {
				t.Fatalf("%d bytes", len(saved))
			}
			back := New(g.latitude, 0)
			if err := back.Load(saved); err != nil {
				t.Fatal(err)
			}
			if *back != *h {
				t.Fatalf("after %d minutes another came back:\n%+v\n%+v", i, *back, *h)
			}
			h = back
		}
		h.Step(g.read(time.Minute, i%500 < 400))
	}
	if size := unsafe.Sizeof(*h); size > 2200 {
		t.Errorf("%d bytes in memory", size)
	}
	before := *h
	for _, bad := range []string{"\x01", "", "\x03\x00\x00"} {
		if h.Load([]byte(bad)) == nil || *h != before {
			t.Errorf("%q was taken", bad)
		}
	}
}

// Nothing is said in the first two days, of a drive that only ran or only stood, with a
// drive that is not known, nor of what is long past; and nothing ever is no number.
func TestNotKnownYet(t *testing.T) {
	g, h := opened(2, ExhaustFan)
	g.dead[Heater] = true
	known := 0
	for i := range 9 * 1440 {
		in := g.read(time.Minute, true)
		h.Step(in)
		if h.Known(ExhaustFan, in.At) {
			known++
			if i < 2*1440 {
				t.Fatalf("known after %d minutes", i)
			}
		}
		if h.Known(Heater, in.At) || h.Known(LoopFan, in.At) {
			t.Fatal("known of a drive that never ran")
		}
	}
	if known == 0 {
		t.Fatal("never known: this tests nothing")
	}
	last := g.now
	if h.Known(ExhaustFan, last.Add(16*time.Minute)) || h.Known(ExhaustFan, last.Add(-time.Minute)) || !h.Known(ExhaustFan, last.Add(14*time.Minute)) {
		t.Error("for how long a reading stands")
	}
	for !h.Known(ExhaustFan, g.now) {
		h.Step(g.read(time.Minute, true))
	}
	sunless := *h
	for _, gain := range []int{airGain, lightGain, massGain} {
		sunless.f.x[gain] -= 5
	}
	if sunless.Known(ExhaustFan, g.now) || len(sunless.Figures()) >= len(h.Figures()) {
		t.Errorf("the sun is found to warm by %.2f K/h, and what comes without the fan is known", sunless.figure(&sunless.f, Warming))
	}
	runs, never := New(g.latitude, 0), New(g.latitude, 0)
	for range 4 * 1440 {
		in := g.read(time.Minute, true)
		in.Drives[ExhaustFan] = 1
		runs.Step(in)
		in.Drives[ExhaustFan] = math.NaN()
		never.Step(in)
	}
	if runs.Known(ExhaustFan, g.now) || never.Known(ExhaustFan, g.now) || len(never.Figures()) > 0 {
		t.Error("known of a drive that always ran, or was never known")
	}
}

// What is wrong in what is heard, gaps and steps of the clock of years leave finite states.
func TestWhatIsWrongIsBorne(t *testing.T) {
	g, h := lived(4, 3, ExhaustFan, time.Minute, true)
	c := chance(5)
	for range 3 * 1440 {
		in := g.read(time.Minute, true)
		switch int(c.between(0, 40)) {
		case 0:
			in.Air = math.NaN()
		case 1:
			in.Air = c.between(-90, 90)
		case 2:
			in.Outside = math.Inf(1)
		case 3:
			in.Outside = c.between(-90, 90)
		case 4:
			in.Wall = in.Wall.AddDate(int(c.between(-40, 40)), 0, 0)
		case 5:
			in.At = in.At.Add(-time.Hour)
		case 6:
			in.Drives = [drives]float64{c.between(-1, 2), c.next(), c.next()}
		case 7:
			for range 60 {
				g.step()
			}
		}
		h.Step(in)
		for d := range drives {
			a := h.InHand(d, High, 35, in.At)
			if a.Soon < 0 || a.Middle < 0 || a.Late < 0 || a.Middle != 0 && (a.Soon > a.Middle || a.Soon == 0) || a.Late != 0 && (a.Late < a.Middle || a.Middle == 0) {
				t.Fatalf("%+v", a)
			}
		}
	}
	for i, v := range h.f.x {
		if !(v >= bounds[i].low && v <= bounds[i].high) {
			t.Errorf("state %d is %v", i, v)
		}
	}
	for _, f := range h.Figures() {
		if !(f.From > 0 && f.From < f.Value && f.Value < f.To && f.To < 1e5) {
			t.Errorf("%+v", f)
		}
	}
}

func TestNoAllocation(t *testing.T) {
	g, h := lived(2, 5, ExhaustFan, time.Minute, true)
	if n := testing.AllocsPerRun(200, func() {
		in := g.read(time.Minute, true)
		h.Step(in)
		h.InHand(ExhaustFan, High, 35, in.At)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkStep(b *testing.B) {
	g, h := lived(2, 3, ExhaustFan, time.Minute, true)
	in := g.read(time.Minute, true)
	for b.Loop() {
		in.At, in.Wall = in.At.Add(time.Minute), in.Wall.Add(time.Minute)
		h.Step(in)
	}
}

func BenchmarkInHand(b *testing.B) {
	g, h := lived(2, 5, ExhaustFan, time.Minute, true)
	for b.Loop() {
		h.InHand(ExhaustFan, High, 60, g.now)
	}
}
