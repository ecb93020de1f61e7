package control

import (
	"testing"
	"time"

	"telltale/alarms/timing"
)

// Evidence that is inverted, with its deadband.
func TestInvertedEvidence(t *testing.T) {
	for _, c := range []struct {
		spec   EvidenceSpec
		values []float64
		runs   []bool
	}{
		{EvidenceSpec{What: Contact, Above: 0.5, Inverted: true}, []float64{1, 0, 1}, []bool{false, true, false}},
		{EvidenceSpec{What: Power, Above: 100, Inverted: true}, []float64{120, 100, 99, 105, 111, 105}, []bool{false, false, true, true, false, false}},
		{EvidenceSpec{What: Duct, Above: 30}, []float64{29.9, 30, 29.6, 29.4, 29.9}, []bool{false, true, true, false, false}},
	} {
		var e said
		for i, v := range c.values {
			if e.take(1, &c.spec, v); e.Runs != c.runs[i] {
				t.Errorf("%+v: reading %d, %v: runs %v", c.spec, i, v, e.Runs)
			}
		}
	}
}

// Evidence that is sent on change alone, and said that the fan runs, is not
// believed for ever; what is heard each time is, and so is that it stands.
func TestEvidenceHasAnAge(t *testing.T) {
	for _, c := range []struct {
		name  string
		every time.Duration
		value float64
		want  Shown
	}{
		{"runs", 0, 1, Unknown}, {"stands", 0, 0, Standing}, {"due each minute, which its silence ends", time.Minute, 1, Running},
	} {
		spec := oneFan()
		spec.Drives[0].Evidence[0].Every = c.every
		j := judge(spec)
		at := timing.Instant(time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC).UnixNano())
		j.Evidence(at, 0, 0, c.value)
		j.Day(at.Add(12 * time.Hour))
		if got := j.Proof(0).State; got == Unknown {
			t.Errorf("%s: forgotten after 12 h", c.name)
		}
		j.Day(at.Add(36 * time.Hour))
		if got := j.Proof(0).State; got != c.want {
			t.Errorf("%s: %v after 36 h, want %v", c.name, got, c.want)
		}
	}
}
