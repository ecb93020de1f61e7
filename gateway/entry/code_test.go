package entry

import (
	"strings"
	"testing"
	"time"
)

func TestCodesAreTypedAsPeopleType(t *testing.T) {
	for typed, want := range map[string]string{
		"7K2M-9QXD": "7K2M9QXD", "7k2m9qxd": "7K2M9QXD", " 7k2m 9qxd ": "7K2M9QXD", "oilM-9QXD": "011M9QXD",
		"": "", "7K2M-9QX": "", "7K2M-9QXDD": "", "7K2M-9QXU": "", "7K2M_9QXD": "", "７K2M9QXD": "", strings.Repeat("-", 64) + "7K2M9QXD": "",
	} {
		if got := tidied(typed); got != want {
			t.Errorf("%q is taken for %q, want %q", typed, got, want)
		}
	}
}

// Each letter comes at each of the eight places: none is left out, none is fixed.
func TestCodesAreDrawnFromAllLetters(t *testing.T) {
	seen, codes := [codeLength]map[byte]bool{}, map[string]bool{}
	for range 2000 { // a letter is missing at a place once in 10^25
		l := newLock(time.Now())
		if tidied(l.words()) != l.code || len(l.words()) != codeLength+1 {
			t.Fatalf("%q is told as %q", l.code, l.words())
		}
		codes[l.code] = true
		for i := range codeLength {
			if seen[i] == nil {
				seen[i] = map[byte]bool{}
			}
			seen[i][l.code[i]] = true
		}
	}
	if len(codes) < 1999 { // two of 2000 are the same once in 500 000 times, two such pairs never
		t.Errorf("of 2000 codes %d were different", len(codes))
	}
	for i, s := range seen {
		if len(s) != len(letters) {
			t.Errorf("at place %d there were %d of %d letters", i, len(s), len(letters))
		}
	}
}

// wrong is a code that is not l's.
func wrong(l *lock) string {
	if l.code[0] == 'Z' {
		return "Y" + l.code[1:]
	}
	return "Z" + l.code[1:]
}

func TestTheFifthTryMayBeRight(t *testing.T) {
	now := time.Now()
	for guesses := range tries + 2 {
		l := newLock(now)
		for i := range guesses {
			_, s, left := l.try(wrong(l), now)
			if want := max(0, tries-1-i); left != want || (s == closed) != (i >= tries-1) {
				t.Errorf("after %d guesses there are %d left at stage %d, want %d", i+1, left, s, want)
			}
			l.try("none!", now) // does not count
		}
		ticket, s, _ := l.try(l.code, now)
		if open := guesses < tries; (ticket != "") != open || (s == taken) != open {
			t.Errorf("after %d guesses the code is at stage %d, ticket %q", guesses, s, ticket)
		}
	}
}

// The code is good for half an hour, and so is what it opened; then neither, for
// ever, also where somebody asks for a time before.
func TestTheHalfHours(t *testing.T) {
	now := time.Now()
	l := newLock(now)
	if ticket, _, _ := l.try(l.code, now.Add(goodFor)); ticket != "" {
		t.Error("it is good for longer than half an hour")
	}
	if ticket, s, _ := l.try(l.code, now); ticket != "" || s != closed {
		t.Error("what is over comes back")
	}
	l = newLock(now)
	now = now.Add(goodFor - time.Nanosecond)
	ticket, _, _ := l.try(l.code, now)
	if ticket == "" {
		t.Fatal("it is not good for half an hour")
	}
	if _, mine := l.look(ticket, now.Add(goodFor-time.Nanosecond)); !mine {
		t.Error("the browser is put out before its half hour is over")
	}
	if mine, _ := l.make(ticket, now.Add(goodFor), func() error { t.Error("it is made"); return nil }, func() {}); mine {
		t.Error("the browser may make the account after its half hour")
	}
	if s, _, why := l.ends(now); s != closed || !strings.Contains(why, "half hour") {
		t.Errorf("it is at stage %d: %s", s, why)
	}
}
