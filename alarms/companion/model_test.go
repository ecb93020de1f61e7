package companion

import (
	"fmt"
	"os"
	"testing"
	"time"

	"telltale/alarms"
)

// The model walks every order of what can happen to two watches, up to a number of
// events between which time passes in any amount: the first's and the companion's
// machine, their ways to people, what they hear, the network each way, a slow first, a
// companion with another plan, an excursion, and a person who acknowledges at either.
// Deciding is the real rule, and so is what one takes over from the other; the watches
// around them are as small as can be. A unit is 15 s.
const (
	unit    = 15 * time.Second
	again   = 8  // units after which what nobody acknowledges is told again
	longest = 18 // ages are not told apart beyond it
	lag     = 2  // units that a slow first takes to judge
	house   = alarms.AlarmID("house/bench/temperature/high")
)

// node is one watch.
type node struct {
	up, phone, hears bool
	state            alarms.State
	row              int8 // units since the message that waits was due; -1: none waits
	repeat           bool // that message tells again
	since            int8 // units for which it is in its state
	last             int8 // units since the newest message was made
	hot              int8 // units for which it has heard that it is hot
	heard            int8 // units since the newest reading
}

// model is everything at one moment.
type model struct {
	a, b    node
	out, in bool // the network from the companion to the first, and back
	slow    bool // the first judges late
	other   bool // the plan of the companion judges late
	hot     bool
	steady  bool // time has passed since that changed
	toldA   int8 // units since the first told somebody; -1: it has not, or forgot
	known   bool // somebody was told of this excursion, or has it in hand
	ableA   int8 // units for which the first could have told, and it was hot
	ableB   int8
	from    int8         // units since the newest report; -1: there is none
	shows   alarms.State // of the report: the state of the alarm
	told    int8         // of the report: as toldA
	judged  int8
	act     bool // acknowledged at the companion, on its way to the first
	taken   bool // the acknowledgement at the first was taken over
	differ  int8 // units for which both heard one another and said different things of it
}

func newModel() model {
	n := node{up: true, phone: true, hears: true, row: -1}
	return model{a: n, b: n, out: true, in: true, steady: true, toldA: -1, from: -1}
}

type event struct {
	name string
	do   func(*model) bool // false: it changes nothing
}

func flip(name string, of func(*model) *bool) event {
	return event{name, func(m *model) bool { p := of(m); *p = !*p; return true }}
}

var events = []event{
	{"the first's machine", func(m *model) bool {
		m.a.up = !m.a.up
		m.toldA = -1 // it forgets what it told
		return true
	}},
	{"the companion's machine", func(m *model) bool {
		m.b.up = !m.b.up
		m.from = -1
		return true
	}},
	flip("the first's way to people", func(m *model) *bool { return &m.a.phone }),
	flip("the companion's way to people", func(m *model) *bool { return &m.b.phone }),
	flip("the first's ears", func(m *model) *bool { return &m.a.hears }),
	flip("the companion's ears", func(m *model) *bool { return &m.b.hears }),
	flip("the network to the first", func(m *model) *bool { return &m.out }),
	flip("the network to the companion", func(m *model) *bool { return &m.in }),
	flip("a slow first", func(m *model) *bool { return &m.slow }),
	flip("the companion's plan", func(m *model) *bool { return &m.other }),
	{"the excursion", func(m *model) bool {
		if !m.steady {
			return false
		}
		m.hot, m.steady, m.known, m.ableA, m.ableB = !m.hot, false, false, 0, 0
		return true
	}},
	{"acknowledged at the first", func(m *model) bool {
		if !m.a.up || m.a.state != alarms.Unacknowledged {
			return false
		}
		m.a.state, m.a.row, m.a.since, m.known, m.taken = alarms.Acknowledged, -1, 0, m.known || m.hot, false
		return true
	}},
	{"acknowledged at the companion", func(m *model) bool {
		if !m.b.up || m.b.state != alarms.Unacknowledged {
			return false
		}
		m.b.state, m.b.since, m.act, m.known = alarms.Acknowledged, 0, true, m.known || m.hot
		return true
	}},
}

func older(n *int8) {
	if *n >= 0 && *n < longest {
		*n++
	}
}

// judge lets a watch judge what it hears; late is for how long it waits.
func (n *node) judge(hot bool, late int8) {
	older(&n.row)
	older(&n.last)
	older(&n.heard)
	older(&n.since)
	if !n.up {
		return
	}
	if n.hears {
		n.heard = 0
		if older(&n.hot); !hot {
			n.hot = 0
		}
		switch {
		case hot && n.state == alarms.Normal && n.hot > late:
			n.state, n.row, n.last, n.repeat, n.since = alarms.Unacknowledged, 0, 0, false, 0
		case !hot:
			n.state = alarms.Normal
			if n.repeat {
				n.row = -1
			}
		}
	}
	if n.state == alarms.Unacknowledged && n.last >= again {
		n.row, n.last, n.repeat = 0, 0, true
	}
}

// tick lets a unit pass.
func (m *model) tick(decide func(Row, alarms.State, *Heard) Verdict) {
	before := m.a.state
	m.steady = true
	m.a.judge(m.hot, late(m.slow))
	m.b.judge(m.hot, late(m.other))
	older(&m.toldA)
	if before == alarms.Normal && m.a.state == alarms.Unacknowledged {
		m.toldA = -1
	}
	if m.a.state == alarms.Normal {
		m.toldA, m.taken = -1, false
	}
	if m.a.up && m.a.phone && m.a.row >= 0 {
		m.a.row, m.toldA, m.known = -1, 0, m.known || m.hot
	}
	m.exchange()
	m.companion(decide)
	m.measure()
}

func late(slow bool) int8 {
	if slow {
		return lag
	}
	return 0
}

// exchange carries a report to the companion, and an acknowledgement to the first.
func (m *model) exchange() {
	older(&m.from)
	if !m.a.up || !m.b.up || !m.out {
		return
	}
	if m.act && m.a.state == alarms.Unacknowledged {
		m.a.state, m.a.row, m.a.since = alarms.Acknowledged, -1, 0
	}
	if !m.in {
		return
	}
	r := m.a.says(m.toldA)
	m.from, m.judged, m.shows, m.told = 0, m.a.heard, m.a.state, m.toldA
	m.act = m.act && !(Act{Kind: alarms.Acknowledge.String(), Alarm: house}).Done(m.b.picture(), &r)
	done := Followed{}
	if m.taken && len(r.Alarms) > 0 {
		done.Acts = map[alarms.AlarmID]string{house: r.Alarms[0].Act} // the same: another would have set taken back
	}
	do, next := done.Follow(m.b.picture(), &r, func(string) bool { return m.act })
	for _, in := range do {
		if in.Kind == alarms.Acknowledge && m.b.state == alarms.Unacknowledged {
			m.b.state, m.b.since = alarms.Acknowledged, 0
		}
	}
	m.taken = next.Acts[house] != ""
}

func at(units int8) time.Time {
	return time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(units) * unit)
}

func (n *node) picture() alarms.Picture {
	p := alarms.Picture{At: at(0), Newest: at(-n.heard)}
	if n.state != alarms.Normal {
		p.Alarms = []alarms.AlarmPicture{{ID: house, State: n.state, Level: alarms.Outer, Active: true, Since: at(-n.since), Until: at(longest)}}
	}
	return p
}

// says is the report of a watch that told somebody some units ago, -1 for not.
func (n *node) says(ago int8) Report {
	told := Told{}
	if ago >= 0 {
		told = Told{Level: alarms.Outer, At: at(-ago)}
	}
	return Of(n.picture(), at(0), func(alarms.AlarmID) Told { return told })
}

// companion decides of what waits at the companion.
func (m *model) companion(decide func(Row, alarms.State, *Heard) Verdict) {
	b := &m.b
	if !b.up || b.row < 0 || time.Duration(b.row)*unit < waitHigh {
		return
	}
	var h *Heard
	if m.from >= 0 {
		then := node{state: m.shows, heard: m.judged}
		h = &Heard{From: at(-m.from), Report: then.says(m.told)}
		h.Deaf = h.Report.Deaf(time.Duration(b.heard)*unit, true)
	}
	row := Row{Alarm: house, Move: alarms.Raise, Level: alarms.Outer, Due: at(-b.row)}
	if b.repeat {
		row.Move = alarms.Realarm
	}
	switch decide(row, b.state, h) {
	case Tell:
		if b.phone {
			b.row, m.known = -1, m.known || m.hot
		}
	default:
		b.row = -1
	}
}

// plain makes states equal between which nothing that comes tells a difference.
func (m *model) plain() {
	for _, n := range []*node{&m.a, &m.b} {
		n.hot = min(n.hot, lag+1)
		if n.last = min(n.last, again); n.state != alarms.Unacknowledged {
			n.last = 0
		}
		if n.row < 0 {
			n.repeat = false
		}
		if n.state == alarms.Normal {
			n.since = 0
		}
	}
	m.a.row = min(m.a.row, 1)
	if m.a.up && m.a.hears {
		m.a.heard = 0
	}
	if m.b.row < 0 || m.from > m.b.row { // it is older than any message that comes
		m.from = -1
	}
	if m.from < 0 {
		m.shows, m.told, m.judged = alarms.Normal, 0, 0
	}
	if m.known {
		m.ableA, m.ableB = 0, 0
	}
	m.differ = min(m.differ, 2)
}

func (m *model) measure() {
	count := func(n *int8, holds bool) {
		if older(n); !holds {
			*n = 0
		}
	}
	count(&m.ableA, m.hot && m.a.up && m.a.phone && m.a.hears)
	count(&m.ableB, m.hot && m.b.up && m.b.phone && m.b.hears)
	said := func(n node) bool { return n.state == alarms.Acknowledged }
	on := func(n node) bool { return n.state == alarms.Unacknowledged }
	both := m.a.up && m.b.up && m.in && m.out && m.a.hears && m.b.hears
	count(&m.differ, both && (said(m.a) && on(m.b) || on(m.a) && said(m.b)))
	m.plain()
}

// Bounds, in units of a unit, for as long as one lives, hears, and reaches people.
const (
	boundA = again + 2           // it may have been told, and that not have counted
	boundB = 5 + lag + 1 + again // its wait, another plan, the question; told again where the first said that it had
)

func (m *model) wrong() string {
	switch {
	case !m.known && m.ableA > boundA:
		return fmt.Sprintf("the first could tell for %d units, and nobody was told", m.ableA)
	case !m.known && m.ableB > boundB:
		return fmt.Sprintf("the companion could tell for %d units, and nobody was told", m.ableB)
	case m.differ > 1:
		return "they heard one another and said different things of an acknowledged alarm"
	}
	return ""
}

// node of the search: how a state was come by.
type visit struct {
	m     model
	spent int8
}

// walk walks every order of at most n events, and returns how many states there were,
// and the way to one that is wrong.
func walk(n int8, decide func(Row, alarms.State, *Heard) Verdict) (states int, way []string) {
	type step struct {
		from int32
		name int16
	}
	start := visit{newModel(), 0}
	seen := map[model]int8{start.m: 0}
	queue, steps := []visit{start}, []step{{-1, -1}}
	for i := 0; i < len(queue); i++ {
		v := queue[i]
		if best := seen[v.m]; best < v.spent {
			continue
		}
		add := func(m model, spent int8, name int) bool {
			if old, ok := seen[m]; ok && old <= spent {
				return false
			}
			seen[m] = spent
			queue, steps = append(queue, visit{m, spent}), append(steps, step{int32(i), int16(name)})
			return m.wrong() != ""
		}
		next := v.m
		next.tick(decide)
		bad := add(next, v.spent, -1)
		for k := 0; v.spent < n && k < len(events) && !bad; k++ {
			if next = v.m; events[k].do(&next) {
				bad = add(next, v.spent+1, k)
			}
		}
		if bad {
			for at := int32(len(queue) - 1); at > 0; at = steps[at].from {
				name := "15 s"
				if steps[at].name >= 0 {
					name = events[steps[at].name].name
				}
				way = append([]string{name}, way...)
			}
			last := queue[len(queue)-1].m
			return len(seen), append(way, last.wrong(), fmt.Sprintf("%+v", last))
		}
	}
	return len(seen), nil
}

func TestEveryOrderOfEvents(t *testing.T) {
	depth := 3
	if os.Getenv("TELLTALE_THOROUGH") != "" {
		depth = 4
	}
	states, way := walk(int8(depth), Decide)
	if way != nil {
		t.Fatalf("%q", way)
	}
	t.Logf("%d states in every order of at most %d events", states, depth)
}

// A companion that is quiet because the first lives is none: the first may be deaf, or
// have no way to people.
func TestTheModelFindsAWrongRule(t *testing.T) {
	quietWhileItLives := func(r Row, own alarms.State, h *Heard) Verdict {
		if h != nil && h.since(r.Due) {
			return Confirmed
		}
		return Decide(r, own, h)
	}
	if states, way := walk(3, quietWhileItLives); way == nil {
		t.Fatalf("nothing wrong was found in %d states", states)
	}
}
