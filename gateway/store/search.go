package store

import (
	"context"
	"database/sql"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
)

// Kind parts the log by what its lines are about.
type Kind uint8

// Kinds. Every transition is of one of them.
const (
	AnyKind   Kind = iota
	OfAlarms       // an alarm came, changed or went
	OfPeople       // somebody did something
	OfDrives       // the log of switchings and of the ground loop's days
	OfWatch        // the watch itself: away, cut off, in trouble
	kindCount int  = iota
)

// What the kinds are in the database. Notes are of a log that is no alarm, or
// of what somebody could not do.
const (
	sqlDrives = `(substr(alarm, -10) = '/switching' OR substr(alarm, -12) = '/ground-loop')`
	sqlWatch  = `(substr(alarm, 1, 6) = 'watch/' AND alarm <> 'watch/leave')`
	sqlPeople = `(move IN ('acknowledge', 'shelve', 'unshelve', 'take-out', 'put-back')
		OR move = 'note' AND NOT ` + sqlDrives + ` AND NOT ` + sqlWatch + `)`
)

var sqlKinds = [kindCount]string{
	OfAlarms: `NOT ` + sqlPeople + ` AND NOT ` + sqlDrives + ` AND NOT ` + sqlWatch,
	OfPeople: sqlPeople,
	OfDrives: sqlDrives,
	OfWatch:  sqlWatch + ` AND NOT ` + sqlPeople,
}

// Mark is a place in the log, between two transitions. The zero Mark is before
// the newest one.
type Mark struct {
	Due int64 // ns since 1970
	Seq int64
}

// SearchQuery says what is looked for. Zero fields ask for all.
type SearchQuery struct {
	From     Mark // looks at what is older
	House    alarms.HouseID
	Kind     Kind
	Priority alarms.Priority
	Words    []string // each stands in the sentence; case of ASCII letters does not matter
	Limit    int      // default 100, at most 1000
	Look     int      // transitions looked at, at most; default 50,000
}

// Found is what a search found.
type Found struct {
	Transitions []alarms.Transition // newest first
	More        bool                // older ones were not looked at
	Next        Mark                // from where to go on
	Back        time.Time           // how far back this search looked
}

// Search looks through the saved transitions, newest first by Due and then by
// the order of saving. It looks at no more than so many at once, so that it is
// quick however long the log is and however little of it is wanted.
func (l *Log) Search(ctx context.Context, q SearchQuery) (f Found, err error) {
	limit, look := bounded(q.Limit, 100, 1000), bounded(q.Look, 50_000, 100_000)
	seen, args := `SELECT * FROM transition`, []any{}
	if q.From != (Mark{}) {
		seen, args = seen+` WHERE (due, seq) < (?, ?)`, append(args, q.From.Due, q.From.Seq)
	}
	seen += ` ORDER BY due DESC, seq DESC LIMIT ?`
	args = append(args, look)
	w := q.conditions()
	rows, err := sqlite.Collect(ctx, l.disk.db().Read, scanFound, `SELECT body, due, seq FROM (`+seen+`)`+w.sql()+
		` ORDER BY due DESC, seq DESC LIMIT ?`, append(append(args[:len(args):len(args)], w.args...), limit)...)
	if err != nil {
		return f, err
	}
	for _, r := range rows {
		f.Transitions = append(f.Transitions, r.Transition)
	}
	if len(rows) == limit {
		f.More, f.Next, f.Back = true, rows[limit-1].Mark, rows[limit-1].Transition.Due
		return f, nil
	}
	ends, err := sqlite.Collect(ctx, l.disk.db().Read, func(r *sql.Rows, m *Mark) error { return r.Scan(&m.Due, &m.Seq) },
		`SELECT due, seq FROM (`+seen+`) ORDER BY due, seq LIMIT 1`, args...)
	if err != nil || len(ends) == 0 {
		return f, err
	}
	f.Next, f.Back = ends[0], timeOf(ends[0].Due)
	f.More, err = sqlite.One[bool](ctx, l.disk.db().Read, `SELECT EXISTS (SELECT 1 FROM transition WHERE (due, seq) < (?, ?))`,
		f.Next.Due, f.Next.Seq)
	return f, err
}

// where is what is asked of rows, with what stands for its question marks.
type where struct {
	conds []string
	args  []any
}

func (w *where) and(cond string, args ...any) {
	w.conds, w.args = append(w.conds, cond), append(w.args, args...)
}

// sql is empty where nothing is asked.
func (w *where) sql() string {
	if len(w.conds) == 0 {
		return ""
	}
	return " WHERE " + strings.Join(w.conds, " AND ")
}

func bounded(n, std, most int) int {
	if n <= 0 {
		return std
	}
	return min(n, most)
}

type foundRow struct {
	alarms.Transition
	Mark
}

func scanFound(r *sql.Rows, f *foundRow) error {
	var body []byte
	if err := r.Scan(&body, &f.Mark.Due, &f.Seq); err != nil {
		return err
	}
	return readTransition(body, &f.Transition)
}

// conditions returns what q asks of a transition, for the database.
func (q SearchQuery) conditions() where {
	var w where
	if q.House != "" {
		w.and("house = ?", q.House)
	}
	if q.Kind > AnyKind && int(q.Kind) < kindCount {
		w.and(sqlKinds[q.Kind])
	}
	if q.Priority != alarms.NoPriority { // a quote within a text of JSON has a backslash before it
		w.and(`instr(CAST(body AS TEXT), ?) > 0`, `"Priority":"`+q.Priority.String()+`"`)
	}
	for _, word := range q.Words {
		w.and(`(json_extract(CAST(body AS TEXT), '$.Sentence') LIKE ? ESCAPE '\' OR json_extract(CAST(body AS TEXT), '$.Other') LIKE ? ESCAPE '\')`,
			likely(word), likely(word))
	}
	return w
}

// likely makes a pattern of the text w.
func likely(w string) string {
	return "%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(w) + "%"
}
