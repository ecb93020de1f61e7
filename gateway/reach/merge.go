package reach

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// mostEvents is how many events one message lists; the rest go into the next.
const mostEvents = 25

// letter is a telling with the rows it stands for, Events[i] from rows[i].
type letter struct {
	Telling
	rows []Row
}

// letters puts the due rows of one channel into messages: on an ordered channel
// one each and in the given order, otherwise one message for each person,
// the most urgent message first. Rows whose body cannot be read come back
// with the reason.
func letters(rows []Row, at time.Time, ordered bool) (made []letter, unreadable map[string]error) {
	unreadable = map[string]error{}
	open := map[string]int{} // person -> index of the letter being filled
	for _, row := range rows {
		e, err := readEvent(row.Body)
		if err != nil {
			unreadable[row.ID] = err
			continue
		}
		key := row.Person
		if e.Test {
			key += "|test" // never among real news
		}
		i, ok := open[key]
		if !ok || ordered || len(made[i].rows) == mostEvents {
			i = len(made)
			open[key] = i
			made = append(made, letter{Telling: Telling{Channel: row.Channel, Person: row.Person, At: at, Test: e.Test}})
		}
		made[i].rows = append(made[i].rows, row)
		made[i].Events = append(made[i].Events, e)
	}
	for i := range made {
		made[i].ID = tellingID(made[i].rows)
	}
	if !ordered {
		slices.SortStableFunc(made, func(a, b letter) int { return cmp.Compare(b.Worst(), a.Worst()) })
	}
	return made, unreadable
}

// tellingID is the row's ID, or for several rows a digest of their IDs: the
// same rows again make the same ID.
func tellingID(rows []Row) string {
	if len(rows) == 1 {
		return rows[0].ID
	}
	ids := make([]string, len(rows))
	for i, r := range rows {
		ids[i] = r.ID
	}
	slices.Sort(ids)
	sum := sha256.Sum256([]byte(strings.Join(ids, "\n")))
	return "together|" + hex.EncodeToString(sum[:12])
}

// tries and first sum up what was tried with the letter's rows before.
func (l letter) tries() int {
	n := 0
	for _, r := range l.rows {
		n = max(n, r.Tries)
	}
	return n
}

func (l letter) priorityOf(i int) alarms.Priority { return l.Events[i].Priority }
