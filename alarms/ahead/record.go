package ahead

import (
	"encoding/json"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tape"
	"telltale/alarms/timing"
)

const (
	comes      = 2 * time.Hour       // after its end in which a warning may still come true, and the longest lead that counts
	remembered = 30 * 24 * time.Hour // what came of a warning
	mostKept   = 48                  // of these; more than one and a half a day are one too many anyway
	mostSaid   = 4
)

// said is a warning of which it is not known yet what comes of it.
type said struct {
	At    timing.Instant `json:"at"`
	Ended timing.Instant `json:"ended,omitempty"` // 0: it stands
}

// outcome is what came of a warning.
type outcome struct {
	At   timing.Instant `json:"at"`   // to the second
	Lead int            `json:"lead"` // minutes; less than none: it did not come true
}

// record is what came of the warnings of a place, oldest first.
type record []outcome

// say notes that a warning was told.
func (w *warned) say(now timing.Instant) {
	if n := len(w.Said); n > 0 && w.Said[n-1].Ended == 0 {
		return
	}
	if len(w.Said) == mostSaid {
		w.Said = w.Said[1:]
	}
	w.Said = append(slices.Clip(w.Said), said{At: now})
}

// close notes that the warning is over.
func (w *warned) close(now timing.Instant) {
	if n := len(w.Said); n > 0 && w.Said[n-1].Ended == 0 {
		all := slices.Clone(w.Said)
		all[n-1].Ended = now
		w.Said = all
	}
}

// came notes that the limit of w is reached: what was said has come true.
func (r *record) came(w *warned, now timing.Instant) {
	for _, s := range w.Said {
		if s.Ended == 0 || now.Since(s.Ended) <= comes {
			r.note(outcome{s.At, int(min(now.Since(s.At), comes) / time.Minute)}, now)
		} else {
			r.note(outcome{s.At, -1}, now)
		}
	}
	w.Said = nil
}

// expire notes what did not come true.
func (r *record) expire(w *warned, now timing.Instant) {
	for len(w.Said) > 0 && w.Said[0].Ended != 0 && now.Since(w.Said[0].Ended) > comes {
		r.note(outcome{w.Said[0].At, -1}, now)
		if w.Said = w.Said[1:]; len(w.Said) == 0 {
			w.Said = nil
		}
	}
}

func (r *record) note(o outcome, now timing.Instant) {
	kept := make([]outcome, 0, len(*r)+1)
	for _, one := range *r {
		if now.Since(one.At) <= remembered {
			kept = append(kept, one)
		}
	}
	if len(kept) == mostKept {
		kept = kept[1:]
	}
	o.At -= o.At % timing.Instant(time.Second)
	*r = append(kept, o)
}

// never is what is saved for a warning that did not come true.
const never = 255

// MarshalJSON saves a record in about 4 bytes a warning.
func (r record) MarshalJSON() ([]byte, error) {
	var t tape.Tape
	last := int64(0)
	for _, one := range r {
		at, lead := int64(one.At/timing.Instant(time.Second)), uint64(never)
		if one.Lead >= 0 {
			lead = uint64(one.Lead)
		}
		since := at - last
		t.Varint(&since)
		t.Bits(&lead, 1)
		last = at
	}
	return json.Marshal(t.Data)
}

// UnmarshalJSON brings it back.
func (r *record) UnmarshalJSON(text []byte) error {
	var data []byte
	if err := json.Unmarshal(text, &data); err != nil {
		return err
	}
	t, all := tape.Read(data), record(nil)
	for at := int64(0); len(t.Data) > 0; {
		var since int64
		var lead uint64
		t.Varint(&since)
		t.Bits(&lead, 1)
		at += since
		one := outcome{timing.Instant(at) * timing.Instant(time.Second), int(lead)}
		if lead == never {
			one.Lead = -1
		}
		all = append(all, one)
	}
	if t.Bad { // it begins anew
		all = nil
	}
	*r = all
	return nil
}

// sum is what came of the warnings of the last 30 days.
func (r record) sum(now timing.Instant) (sum alarms.WarningRecord) {
	var leads []int
	for _, one := range r {
		switch {
		case now.Since(one.At) > remembered:
		case one.Lead < 0:
			sum.False++
		default:
			sum.Right++
			leads = append(leads, one.Lead)
		}
	}
	if n := len(leads); n > 0 {
		slices.Sort(leads)
		sum.Spare = time.Duration(leads[n/2]+leads[(n-1)/2]) * time.Minute / 2
	}
	return sum
}
