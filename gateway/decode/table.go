package decode

import (
	"slices"
	"sync"
	"time"

	"telltale/alarms/walk"
	"telltale/gateway/topic"
)

// Table decodes for a fixed set of sources. Decode must be called by one
// goroutine at a time; Filters, Stats and Unclaimed by any.
type Table struct {
	filters []string
	router  router
	batch   batch

	mu    sync.Mutex
	tally tally
}

// New checks the sources and builds a table. The error joins everything that
// is wrong, each with where it is, what was got and what would be right.
func New(sources []Source) (*Table, error) {
	ready, err := prepareAll(sources)
	if err != nil {
		return nil, err
	}
	filters := walk.Each(ready, func(s *source) string { return s.Filter })
	return &Table{filters: topic.Fewest(filters), router: newRouter(ready), tally: newTally(ready)}, nil
}

// Filters returns what to subscribe to: the filters of all sources without
// those that another one covers, in the order of the sources.
func (t *Table) Filters() []string { return slices.Clone(t.filters) }

// Decode reads one message that came in at received and calls emit for each
// value, in the order in which they were measured. It returns what could not
// be read, nil if all is well. It never fails as a whole.
//
// An empty payload deletes a retained message: neither a value nor a problem.
// A topic that no source claims is counted and otherwise ignored.
func (t *Table) Decode(topic string, payload []byte, received time.Time, emit func(Value)) []Problem {
	r := t.router.route(topic)
	if r == nil {
		t.mu.Lock()
		t.tally.unclaimed++
		t.mu.Unlock()
		return nil
	}
	if len(payload) == 0 {
		t.mu.Lock()
		t.tally.empty++
		t.mu.Unlock()
		return nil
	}
	b := &t.batch
	b.values, b.problems = b.values[:0], nil
	for _, p := range r.parts {
		p.decode(payload, received, b)
	}
	b.sort()
	t.mu.Lock()
	t.tally.values(b.values)
	for i := range b.problems {
		b.problems[i].First = t.tally.problem(b.problems[i], received)
	}
	t.mu.Unlock()
	for _, v := range b.values {
		emit(v)
	}
	return b.problems
}

// sort brings values that state a time into its order, so that a pack of
// history is not taken for late. Values without a time stay where they are
// in the order of the payload.
func (b *batch) sort() {
	early := func(x, y Value) int { return x.Measured.Compare(y.Measured) }
	if len(b.values) > 1 && !slices.IsSortedFunc(b.values, early) {
		slices.SortStableFunc(b.values, early)
	}
}
