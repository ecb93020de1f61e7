package reach

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/scenario"
)

// told returns every transition of every scenario, by the name of its file.
func told(t *testing.T) map[string][]alarms.Transition {
	names, err := filepath.Glob("../../testdata/scenario/*.txt")
	if err != nil || len(names) < 25 {
		t.Fatalf("%d scenarios, %v", len(names), err)
	}
	all := map[string][]alarms.Transition{}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := scenario.Parse(name, text, time.LoadLocation)
		if err != nil {
			t.Fatal(err)
		}
		steps, err := s.Run()
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range steps {
			all[filepath.Base(name)] = append(all[filepath.Base(name)], step...)
		}
	}
	return all
}

// short is what a text message has room for in one part (TS 23.038).
const short = 160

// What, where, how bad, since when and what to look at first stand in the first
// part of a text message, for whoever reads no further.
func TestTheFirstPartOfATextSaysWhatToDo(t *testing.T) {
	seen := 0
	for file, all := range told(t) {
		for _, tr := range all {
			r := tr.Reason
			if tr.Move != alarms.Raise || r.Check == "" || len(r.Lost) > 0 {
				continue
			}
			switch r.Rule {
			case alarms.RuleLimit, alarms.RuleRate, alarms.RuleLink:
			case alarms.RuleSilent, alarms.RuleUnwatched:
				if len(r.Affected) > 1 || r.Circuit != "" || strings.Contains(tr.Sentence, "put aside") || strings.Contains(tr.Sentence, "readable") {
					continue // several names, or what was received, take their room
				}
			default:
				continue
			}
			seen++
			line := plainSigns(phoneLine(Rules{}.newEvent(tr)))
			asked := strings.Index(line, "Check first: ")
			if asked < 0 {
				t.Errorf("%s: %q asks nobody to look at anything", file, line)
				continue
			}
			if end := strings.IndexAny(line[asked+len("Check first: "):], "?.") + asked + len("Check first: ") + 1; utf8.RuneCountInString(line[:end]) > short {
				t.Errorf("%s: what to check first ends at sign %d: %q", file, utf8.RuneCountInString(line[:end]), line)
			}
		}
	}
	if seen < 60 {
		t.Errorf("%d sentences were looked at", seen)
	}
}

// A grower has never heard of the words of a process plant, reads every number
// with its unit, and no unit twice.
func TestNoSentenceSpeaksLikeAProcessPlant(t *testing.T) {
	wrong := map[string]*regexp.Regexp{
		"a word of process plants": regexp.MustCompile(`low-low|high-high|setpoint|deadband`),
		"a margin below nothing":   regexp.MustCompile(`margin [^.;]*−\d`),
		"a unit twice":             regexp.MustCompile(`(°C|°F|%|kPa|an hour) (°C|°F|%|kPa)`),
		"a number without a unit":  regexp.MustCompile(`\d\.\d[\s,;)]*(?:[,;)]| (?:limit|since|at|and|above|below|beyond|now)\b)`),
		"a question that is none":  regexp.MustCompile(`\?\.|\.\.|  `),
	}
	for file, all := range told(t) {
		for _, tr := range all {
			for _, s := range []string{tr.Sentence, tr.Other} {
				for what, re := range wrong {
					if m := re.FindString(s); m != "" {
						t.Errorf("%s: %s, %q: %s", file, what, m, s)
					}
				}
				if called := strings.Contains(s, "called"); called && tr.Reason.Rule != alarms.RuleControl && tr.Reason.Rule != alarms.RuleSwitching {
					t.Errorf("%s: what is called? %s", file, s)
				}
			}
		}
	}
}

// Directions are told once, behind what to check first, and a text message has
// only as much of them as leaves room for the rest.
func TestDirectionsAreToldShortByText(t *testing.T) {
	words := strings.Repeat("breaker 3 in the potting shed, ", 6) + "dry hands"
	tr := tooHot(alarms.High)
	tr.Reason.Directions = words
	tr.Sentence = "Too hot in Long House, bench: 33.4 °C (limit 32.0 °C) since 11:59. Check first: exhaust fan on? Directions: " + words + "."
	e := garden().newEvent(tr)
	if line := phoneLine(e); !strings.Contains(line, "Directions: breaker 3 in") || !strings.Contains(line, "…") ||
		utf8.RuneCountInString(line) > utf8.RuneCountInString(tr.Sentence)-utf8.RuneCountInString(words)+mostTexted+len("High: ") {
		t.Errorf("the text reads %q", line)
	}
	if text := Text(telling(garden(), "mail", tr)); strings.Count(text, words) != 1 {
		t.Errorf("the mail reads %q", text)
	}
}
