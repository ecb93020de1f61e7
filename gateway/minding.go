package gateway

import (
	"slices"
	"time"

	"telltale/alarms"
)

// minding is a trouble that the owner asks after, beside its other work. A restart does
// not end it: whoever is asked knows soon whether it still holds.
type minding struct {
	id alarms.AlarmID
	// ask says what is wrong, as tongue.Keep has it, "" for nothing; not known: it is too soon
	// to tell.
	ask    func(now time.Time) (why string, known bool)
	anew   bool   // it is told again when why is another
	told   string // why, as it was told
	answer bool   // there was one
}

// minds are the troubles that the parts of p know of.
func (p *parts) minds() []*minding {
	all := []*minding{
		{id: alarms.TroubleCopies, ask: func(time.Time) (string, bool) { s := p.keeper.State(); return s.Late, s.Known }},
		{id: alarms.TroubleLetters, anew: true, ask: func(time.Time) (string, bool) { return p.letters.missed() }},
	}
	if p.accompanied != nil {
		all = append(all, &minding{id: alarms.TroubleCompanion, ask: p.accompanied.trouble})
	}
	if p.accompanying != nil {
		all = append(all, &minding{id: alarms.TroubleFirst, ask: p.accompanying.trouble})
	}
	return all
}

// mind reports what is wrong by what the owner asks after, and when it is over.
func (o *owner) mind(now time.Time) {
	for _, m := range o.minds {
		why, known := m.ask(now)
		same := (why == "") == (m.told == "") && (!m.anew || why == m.told)
		if !known || m.answer && same {
			continue
		}
		in := alarms.Input{At: now, Kind: alarms.TroubleOff, Alarm: m.id, Note: why}
		if why != "" {
			in.Kind = alarms.TroubleOn
		}
		if m.answer || why != "" || o.recovered { // a watch that has just been made has nothing to end
			o.apply(in)
		}
		m.answer, m.told = true, why
	}
}

// minded reports whether the owner asks after a trouble.
func (o *owner) minded(id alarms.AlarmID) bool {
	return slices.ContainsFunc(o.minds, func(m *minding) bool { return m.id == id })
}
