package letter

import (
	"slices"
	"time"
)

// Due are the letters that are due at a moment, which is core by the core's time and wall by
// the clocks of the garden, in their zone. changed reports whether s is another than before.
func (s State) Due(readers []Reader, away func(name string) bool, core, wall time.Time) (due []Letter, changed bool) {
	for _, r := range readers {
		of := r.last(wall)
		sent, known := s[r.Name]
		switch {
		case !known:
			s[r.Name], changed = Sent{Of: of}, true
		case of.Equal(sent.Of):
		case away(r.Name), !sent.From.IsZero() && core.Sub(sent.From) < r.least(sent.Trial):
			sent.Of = of
			s[r.Name], changed = sent, true
		default:
			due = append(due, Letter{Reader: r, Of: of, Number: sent.Number + 1})
		}
	}
	return due, changed
}

// least is how long after what was sent the next may come. Who comes to get letters
// instead of trials does not wait for a month.
func (r Reader) least(trial bool) time.Duration {
	if r.Trial && trial {
		return leastTrial
	}
	return leastLetter
}

// last is when a letter to r was due last.
func (r Reader) last(wall time.Time) time.Time {
	y, m, d := wall.Date()
	for back := 0; ; back++ {
		at := time.Date(y, m, d-back, Hour, 0, 0, 0, wall.Location())
		if at.Weekday() == r.Day && !at.After(wall) && (!r.Trial || at.Day() <= 7) {
			return at
		}
	}
}

// Sent notes that l is on its way. It can be read from a time of the core on.
func (s State) Sent(l Letter, from time.Time) {
	s[l.Name] = Sent{Of: l.Of, Number: l.Number, Trial: l.Trial, From: from, Asks: l.Answers && !l.Trial, Missed: s[l.Name].Missed}
}

// Stand is how it stands with a letter.
type Stand int

// Stands.
const (
	Waits     Stand = iota // to be confirmed
	Confirmed              // it was
	Older                  // than the newest, which is to be confirmed
	Unknown                // it was never sent to that person
)

// Stands is how it stands with the letter to a person of a number; 0: the newest.
func (s State) Stands(name string, number int) Stand {
	sent, known := s[name]
	switch {
	case !known || sent.From.IsZero() || number > sent.Number:
		return Unknown
	case number > 0 && number < sent.Number:
		return Older
	case !sent.Taken.IsZero():
		return Confirmed
	}
	return Waits
}

// Take notes that a person says that a letter arrived, if it waits for that. It returns how
// it stood.
func (s State) Take(name string, number int, wall time.Time) Stand {
	stood := s.Stands(name, number)
	if stood == Waits {
		sent := s[name]
		sent.Taken, sent.Missed = wall, time.Time{}
		s[name] = sent
	}
	return stood
}

// Look looks at what was not confirmed by a time of the core, and reports whether s is
// another than before. Whoever gets letters no more is forgotten.
func (s State) Look(readers []Reader, away func(name string) bool, core time.Time) (changed bool) {
	for name, sent := range s {
		i := slices.IndexFunc(readers, func(r Reader) bool { return r.Name == name })
		was := sent
		switch {
		case i < 0:
			delete(s, name)
			changed = true
			continue
		case !sent.Asks && sent.Missed.IsZero():
		case readers[i].Trial, !readers[i].Answers, away(name):
			sent.Asks, sent.Missed = false, time.Time{}
		case sent.Asks && sent.Taken.IsZero() && core.Sub(sent.From) > Patience:
			sent.Asks = false
			if sent.Missed.IsZero() {
				sent.Missed = sent.Of
			}
		}
		if sent != was {
			s[name], changed = sent, true
		}
	}
	return changed
}
