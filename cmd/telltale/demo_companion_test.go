package main

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

// toldLine is what somebody was told, in the demo of two boards.
type toldLine struct {
	at        time.Time
	companion bool
	text      string
}

// pairShown plays the demo of two boards and returns what it wrote, and what of that
// people were told.
func pairShown(t *testing.T) (string, []toldLine) {
	t.Helper()
	var out bytes.Buffer
	p := &pair{demo: &demo{out: &out, speed: 240}, dir: t.TempDir(), ends: pairEnds}
	ok(t, p.show(t.Context()))
	var all []toldLine
	for line := range strings.Lines(out.String()) {
		clock, rest, _ := strings.Cut(strings.TrimSpace(line), " !! ")
		who, text, told := strings.Cut(rest, ": ")
		if !told {
			continue
		}
		at, err := time.Parse("2006-01-02 15:04", "2026-07-14 "+clock)
		ok(t, err)
		all = append(all, toldLine{at, who == "The companion", text})
	}
	return out.String(), all
}

func TestTheCompanionTellsWhileTheFirstBoardHasNoPower(t *testing.T) {
	if testing.Short() {
		t.Skip("plays for 40 seconds")
	}
	t.Parallel()
	said, told := pairShown(t)
	defer func() {
		if t.Failed() {
			t.Logf("the demo wrote\n%s", said)
		}
	}()
	for _, want := range []string{"12:55 · The first board loses its power.", "13:45 · The first board has power again."} {
		if !strings.Contains(said, want) {
			t.Errorf("the demo does not say %q", want)
		}
	}
	// when is when somebody was told a text first, and that by the companion or not.
	when := func(companion bool, text string) time.Time {
		for _, l := range told {
			if l.companion == companion && strings.Contains(l.text, text) {
				return l.at
			}
		}
		return time.Time{}
	}
	for _, w := range []struct {
		what      string
		companion bool
		text      string
		from, to  time.Time
	}{
		{"the first is gone", true, "The first watch does not do its work", pairCut, pairCut.Add(3 * time.Minute)},
		{"its broker says how", true, "and by its broker it is gone without a word", pairCut, pairCut.Add(3 * time.Minute)},
		{"the heat is told", true, "Too hot in Long House, bench: 33", pairCut, pairOpens.Add(25 * time.Minute)},
		{"the companion says why it tells", true, "The companion tells you this, because the first watch has not been heard since 12:5", pairCut, pairOpens.Add(25 * time.Minute)},
		{"the first says that it was away", false, "The watch was away from 12:55 to 13:4", pairBack, pairBack.Add(5 * time.Minute)},
		{"it is handed back", true, "The first watch does its work again, and tells", pairBack, pairBack.Add(5 * time.Minute)},
		{"the first tells the heat", false, "Too hot in Long House, bench", pairBack, pairBack.Add(10 * time.Minute)},
		{"the first tells its end", false, "Long House, bench: back within its limits", pairBack, pairEnds},
		{"whoever told the beginning tells the end", true, "The companion had told you that it began", pairBack, pairEnds},
	} {
		if at := when(w.companion, w.text); at.Before(w.from) || at.After(w.to) {
			t.Errorf("%s: told at %v, want it between %v and %v", w.what, at, w.from, w.to)
		}
	}
	for _, l := range told {
		switch {
		case l.companion && l.at.Before(pairCut):
			t.Errorf("the companion told while the first did: %v %s", l.at, l.text)
		case !l.companion && !l.at.Before(pairCut) && l.at.Before(pairBack):
			t.Errorf("a board without power told: %v %s", l.at, l.text)
		case strings.Contains(l.text, "has been silent"):
			t.Errorf("a probe is missed that was heard all the time: %v %s", l.at, l.text)
		}
	}
}
