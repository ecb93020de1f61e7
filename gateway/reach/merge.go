package reach

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"

	"telltale/alarms/walk"
)

// mostEvents is how many events one message lists; the rest go into the next.
const mostEvents = 25

// letter is a telling with the rows it stands for, Events[i] from rows[i].
type letter struct {
	Telling
	rows []Row
}

// gather picks what is to be told now from rows sorted by NotBefore: all that is
// due, and what else waits for another try to the same people. While a server is
// away the rows so come together into one message for each person, and trying
// costs little.
func gather(rows []Row, now time.Time) []Row {
	people := map[string]bool{}
	var due []Row
	for _, r := range rows {
		switch {
		case !r.NotBefore.After(now):
			people[r.Person] = true
			due = append(due, r)
		case r.Tries > 0 && people[r.Person]:
			due = append(due, r)
		}
	}
	return due
}

// letters puts the due rows of one channel into messages: on an ordered channel
// one each and in the given order, otherwise one message for each person,
// the most urgent message first. Rows whose body cannot be read come back
// with the reason.
func letters(rows []Row, at time.Time, ordered bool, garden string) (made []letter, unreadable map[string]error) {
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
		if e.Letter {
			key += "|" + e.ID
		}
		i, ok := open[key]
		if !ok || ordered || len(made[i].rows) == mostEvents {
			i = len(made)
			open[key] = i
			made = append(made, letter{Telling: Telling{Garden: garden, Channel: row.Channel, Person: row.Person, At: at, Test: e.Test}})
		}
		made[i].rows = append(made[i].rows, row)
		made[i].Unsaved = cmp.Or(made[i].Unsaved, row.Unsaved)
		made[i].Events = append(made[i].Events, e)
		made[i].Rows = append(made[i].Rows, row.ID)
	}
	for i := range made {
		made[i].ID = made[i].of(tellingID(made[i].rows))
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
	ids := walk.Each(rows, func(r Row) string { return r.ID })
	slices.Sort(ids)
	sum := sha256.Sum256([]byte(strings.Join(ids, "\n")))
	return "together|" + hex.EncodeToString(sum[:12])
}

// tries is how often the letter's most tried row was tried before.
func (l letter) tries() int {
	n := 0
	for _, r := range l.rows {
		n = max(n, r.Tries)
	}
	return n
}
