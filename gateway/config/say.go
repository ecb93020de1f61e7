package config

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"telltale/alarms/tongue"
)

// got says what stands in the file: a text, or one in each language.
func got(raw any) any {
	switch v := raw.(type) {
	case string:
		if strings.Contains(v, "://") && strings.Contains(v, "@") {
			return tongue.Text("an address that may hold a password")
		}
		return strconv.Quote(v)
	case bool:
		return strconv.FormatBool(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return figure(v)
	case []any:
		return tongue.Text("a list")
	case map[string]any:
		return tongue.Text("a table")
	default:
		return tongue.Text("a date or time")
	}
}

// figure writes a number with at most three decimals.
func figure(v float64) string {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return fmt.Sprint(v)
	}
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

// after is a unit behind a figure.
func after(unit any) any {
	if unit == "" {
		return ""
	}
	return tongue.Saying{Args: []any{" ", unit}}
}

func spaced(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}

// Meant returns `; did you mean "low"?` for the nearest of words, or nothing.
func Meant[W ~string](word string, words []W) tongue.Saying {
	best, at := "", 1+max(1, len(word)/3)
	for _, w := range words {
		if d := distance(fold(word), fold(string(w))); d < at {
			best, at = string(w), d
		}
	}
	if best == "" || word == "" {
		return tongue.Saying{}
	}
	return tongue.Put("; did you mean %q?", best)
}

func fold(s string) string { return strings.ReplaceAll(strings.ToLower(s), "_", "-") }

// distance is the number of letters to insert, delete, change or swap with
// their neighbour to make b of a (optimal string alignment).
func distance(a, b string) int {
	before, prev, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			row[j] = min(prev[j]+1, row[j-1]+1, prev[j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, prev, row = prev, row, before
	}
	return prev[len(b)]
}

// span writes a length of time as the file does: 1h30m, 90d.
func span(d time.Duration) string {
	if d == 0 {
		return "0s"
	}
	var b strings.Builder
	for _, u := range spanUnits {
		if n := d / u.length; n > 0 {
			fmt.Fprintf(&b, "%d%s", n, u.letter)
			d -= n * u.length
		}
	}
	return b.String()
}

var spanUnits = []struct {
	letter string
	length time.Duration
}{{"d", 24 * time.Hour}, {"h", time.Hour}, {"m", time.Minute}, {"s", time.Second}, {"ms", time.Millisecond}}

// readSpan reads what span writes.
func readSpan(s string) (time.Duration, bool) {
	var sum time.Duration
	rest := s
	for _, u := range spanUnits {
		digits := len(rest) - len(strings.TrimLeft(rest, "0123456789"))
		if digits == 0 || digits > 9 || !strings.HasPrefix(rest[digits:], u.letter) {
			continue
		}
		if u.letter == "m" && strings.HasPrefix(rest[digits:], "ms") {
			continue
		}
		n, err := strconv.Atoi(rest[:digits])
		if err != nil || time.Duration(n) > (math.MaxInt64-sum)/u.length {
			return 0, false
		}
		sum += time.Duration(n) * u.length
		rest = rest[digits+len(u.letter):]
	}
	return sum, s != "" && rest == ""
}

func bounded(raw any, lo, hi time.Duration, never string) (time.Duration, error) {
	or := tongue.Saying{}
	if never != "" {
		or = tongue.Put(", or %q", never)
	}
	s, ok := raw.(string)
	d, fine := readSpan(s)
	if !ok || !fine {
		return 0, tongue.Put("must be a length of time such as \"30s\", \"5m\", \"2h\" or \"90d\"%s (got %s)", or, got(raw))
	}
	if d < lo || d > hi {
		return 0, tongue.Put("must be from %s to %s%s (got %s)", span(lo), span(hi), or, s)
	}
	return d, nil
}
