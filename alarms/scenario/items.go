package scenario

import (
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/walk"
)

// item is one thing that a line says of a part of the plan, such as "deadband 0.5":
// how it is read from a file and how it is written into one.
type item struct {
	words string // with which it begins; "": it is what begins with no other's
	read  func(c *cursor)
	said  func() string // the whole of it; "": it is not said
}

// items are what a line may say, with commas between them, in the order in which
// it is written.
type items []item

func (it items) String() string {
	var all []string
	for _, i := range it {
		if s := i.said(); s != "" {
			all = append(all, s)
		}
	}
	return strings.Join(all, ", ")
}

// or is what it says, or s if it says nothing.
func (it items) or(s string) string {
	if all := it.String(); all != "" {
		return all
	}
	return s
}

// after is what it says behind head and a separator, or head alone.
func (it items) after(head, separator string) string {
	if all := it.String(); all != "" {
		return head + separator + all
	}
	return head
}

// next takes the words of the item that comes next; of several the longest.
func (it items) next(c *cursor) *item {
	start, end, found := c.next, 0, -1
	for i := range it {
		if c.take(strings.Fields(it[i].words)...) && (found < 0 || c.next > end) {
			found, end = i, c.next
		}
		c.next = start
	}
	if found < 0 {
		return nil
	}
	c.next = end
	return &it[found]
}

// begin reports whether one of the items comes next.
func (it items) begin(c *cursor) bool {
	start := c.next
	defer func() { c.next = start }()
	return !c.done() && it.next(c) != nil
}

// one reads one item.
func (it items) one(c *cursor) {
	if i := it.next(c); i != nil {
		i.read(c)
		return
	}
	words := walk.Each(it, func(i item) string { return i.words })
	last := len(words) - 1
	c.fail("want %s or %s, got %s", strings.Join(words[:last], ", "), words[last], c.got())
}

// list reads items with commas between them.
func (it items) list(c *cursor) {
	for more := true; more && c.err == nil; more = c.take(",") {
		it.one(c)
	}
}

// more reads items that each follow a comma.
func (it items) more(c *cursor) {
	for c.take(",") {
		it.one(c)
	}
}

// said writes words and what follows them, if there is anything to say.
func said(words string, something bool, what func() string) string {
	if !something {
		return ""
	}
	return words + " " + what()
}

func limit(words string, at *alarms.Limit) item {
	return item{words, func(c *cursor) { *at = alarms.At(c.number(words)) },
		func() string { return said(words, at.Set, func() string { return figure(at.Value) }) }}
}

func number(words string, v *float64) item {
	return item{words, func(c *cursor) { *v = c.number(words) },
		func() string { return said(words, *v != 0, func() string { return figure(*v) }) }}
}

// numberOr is a number, or a negative one for the word none.
func numberOr(words string, v *float64, none string) item {
	plain := number(words, v)
	return item{words, func(c *cursor) {
		if c.take(none) {
			*v = -1
			return
		}
		plain.read(c)
	}, func() string {
		if *v < 0 {
			return words + " " + none
		}
		return plain.said()
	}}
}

func count(words string, n *int) item {
	return item{words, func(c *cursor) { *n = c.count(words) },
		func() string { return said(words, *n != 0, func() string { return figure(float64(*n)) }) }}
}

// duration is a length of time, or a negative one for the word none, if there is one.
func duration(words string, d *time.Duration, none string) item {
	return item{words, func(c *cursor) {
		if none == "" || !c.take(none) {
			*d = c.duration(words)
			return
		}
		*d = -1
	}, func() string { return said(words, *d != 0, func() string { return lengthOr(*d, none) }) }}
}

// each is a length of time behind a word of its own, such as "low after 24h", or
// "never".
func each(words, how string, d *time.Duration) item {
	i := duration(words+" "+how, d, "")
	return item{words, func(c *cursor) {
		if c.take("never") {
			*d = -1
			return
		}
		c.need(how)
		i.read(c)
	}, func() string {
		if *d < 0 {
			return words + " never"
		}
		return i.said()
	}}
}

func priority(words string, p *alarms.Priority) item {
	return item{words, func(c *cursor) { *p = named[alarms.Priority](c, "a priority") },
		func() string { return strings.TrimSpace(said(words, *p != alarms.NoPriority, p.String)) }}
}

// flag is said by its words alone, which set *v to is.
func flag[T comparable](words string, v *T, is T) item {
	return item{words, func(*cursor) { *v = is }, func() string {
		if *v != is {
			return ""
		}
		return words
	}}
}

// text is a name, which what names in errors.
func text[T ~string](words, what string, s *T) item {
	return item{words, func(c *cursor) { *s = T(c.name(what)) },
		func() string { return said(words, *s != "", func() string { return word(string(*s)) }) }}
}

// names are such as "exhaust and shutter".
func names[T ~string](words, what string, list *[]T) item {
	return item{words, func(c *cursor) { *list = namesOf[T](c, what) },
		func() string { return said(words, len(*list) > 0, func() string { return namesWords(*list) }) }}
}

// namesOf takes "exhaust and shutter".
func namesOf[T ~string](c *cursor, what string) []T {
	var out []T
	for more := true; more && c.err == nil; more = c.take("and") {
		out = append(out, T(c.name(what)))
	}
	return out
}

func namesWords[T ~string](list []T) string {
	return strings.Join(walk.Each(list, func(n T) string { return word(string(n)) }), " and ")
}

// oneOf takes a word that stands in a list.
func oneOf[T ~string](c *cursor, what string, list []T) T {
	got := T(c.name("a " + what))
	for _, k := range list {
		if k == got {
			return k
		}
	}
	c.fail("want a %s, one of %q, got %q", what, list, got)
	return ""
}

// quantity takes the name of a quantity.
func quantity(c *cursor) alarms.Quantity {
	q := alarms.Quantity(c.name("a quantity"))
	if c.err == nil && !q.Known() {
		c.fail("want one of the quantities %v, got %q", alarms.Quantities, q)
	}
	return q
}

// joined is what say writes of each of list.
func joined[T any](list []T, say func(*T) string) string {
	var all []string
	for i := range list {
		all = append(all, say(&list[i]))
	}
	return strings.Join(all, "; ")
}

// parts reads what stands between semicolons.
func parts[T any](c *cursor, read func(*cursor) T) (all []T) {
	for more := true; more && c.err == nil; more = c.take(";") {
		all = append(all, read(c))
	}
	return all
}
