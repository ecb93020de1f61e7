package say_test

import (
	"cmp"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/alarms/scenario"
	"telltale/alarms/tongue"
)

var read = flag.Bool("read", false, "print every German sentence, to be read")

// english are words that no German sentence has.
var english = regexp.MustCompile(`(?i)\b(the|is|it|its|were|since|has|have|had|not|and|of|at|by|to|from|with|for|on|off|probe|limit|hour|hours|days|today|fan|check|first|told|until|which|that|open|shut|outside|known|cold|heard|silent|value|season)\b`)

// TestEveryScenarioInGerman says whatever the scenarios bring about, and what is seen
// after each step, in German.
func TestEveryScenarioInGerman(t *testing.T) {
	files, err := filepath.Glob("../../testdata/scenario/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scenarios: %v", err)
	}
	rules, seen := map[alarms.Rule]bool{}, map[string]bool{}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		s, err := scenario.Parse(file, text, time.LoadLocation)
		if err != nil {
			t.Fatal(err)
		}
		s.Plan.Words.Tongue = tongue.German
		e, err := engine.New(s.Plan)
		if err != nil {
			t.Fatal(err)
		}
		names := written{}
		check := func(what string) {
			if what == "" || seen[what] {
				return
			}
			seen[what] = true
			if wrong := faultOf(what, names.out()); wrong != "" {
				t.Errorf("%s: %s: %s", filepath.Base(file), wrong, what)
			}
		}
		for _, step := range s.Steps {
			for _, in := range step.Inputs {
				ts := scenario.Feed(e, in)
				names.of(e.Plan(), in, ts)
				for _, tr := range ts {
					rules[tr.Reason.Rule] = true
					check(tr.Sentence)
				}
			}
			pic := say.Picture(e.Plan(), e.Picture(), say.Of(e.Plan()))
			for _, a := range pic.Alarms {
				check(a.Sentence)
			}
			check(pic.Sentence)
			for _, h := range pic.Houses {
				check(h.Sentence)
				for _, line := range h.InSeason {
					check(line)
				}
				for _, d := range h.Drives {
					check(d.Sentence)
				}
				for _, o := range h.Openings {
					check(o.Sentence)
				}
				for _, p := range h.Places {
					if p.Outlook != nil {
						check(p.Outlook.Sentence)
					}
				}
				if h.Loop != nil {
					check(h.Loop.Sentence)
					check(h.Loop.Depths)
					check(h.Loop.Sums)
				}
			}
		}
	}
	for _, r := range []alarms.Rule{alarms.RuleLimit, alarms.RuleAhead, alarms.RuleDay, alarms.RuleRate, alarms.RuleExposure, alarms.RuleSilent,
		alarms.RuleUnwatched, alarms.RuleFault, alarms.RuleSeason, alarms.RuleControl, alarms.RuleTrouble, alarms.RuleLoop, alarms.RuleOpening,
		alarms.RuleLink, alarms.RuleLeave, alarms.RulePerson, alarms.RuleSwitching, alarms.RuleRestart, alarms.RuleClock} {
		if !rules[r] {
			t.Errorf("no scenario says %s", r)
		}
	}
	if *read {
		var all []string
		for s := range seen {
			all = append(all, s)
		}
		slices.Sort(all)
		t.Log("\n" + strings.Join(all, "\n"))
	}
}

// faultOf says what is wrong with a sentence, apart from the names in it; "" for nothing.
func faultOf(sentence string, names *strings.Replacer) string {
	bare := names.Replace(sentence)
	first, _ := utf8.DecodeRuneInString(bare)
	switch {
	case strings.Contains(sentence, "%!"):
		return "the wrong verbs"
	case english.MatchString(bare):
		return "it says " + english.FindString(bare)
	case unicode.IsLower(first):
		return "it begins small"
	case !strings.HasSuffix(sentence, ".") && !strings.HasSuffix(sentence, "!") && !strings.HasSuffix(sentence, "?"):
		return "it has no end"
	case strings.Contains(sentence, "  ") || strings.Contains(sentence, ".."):
		return "it is doubled"
	}
	return ""
}

// written is what people and probes wrote, which is in a sentence as it was.
type written map[string]bool

// of takes in what is written in p, in and ts.
func (w written) of(p *alarms.Plan, in alarms.Input, ts []alarms.Transition) {
	all := []string{in.By, in.Note, strings.TrimSuffix(in.Note, ".")}
	for _, h := range p.Houses {
		all = append(all, h.Name, h.Directions)
		for _, pl := range h.Places {
			all = append(all, pl.Name, pl.Directions)
			for _, pr := range pl.Probes {
				all = append(all, pr.Name, string(pr.ID))
			}
			for _, x := range pl.Exposures {
				all = append(all, x.Says)
			}
		}
		for _, d := range h.Drives {
			all = append(all, d.Name)
		}
		for _, c := range h.Controls {
			all = append(all, c.Name, strings.TrimPrefix(c.Name, "the "))
			for _, st := range c.Stages {
				all = append(all, st.Name)
			}
		}
		for _, c := range h.Circuits {
			all = append(all, c.Name)
		}
		for _, o := range h.Openings {
			all = append(all, o.Name, strings.TrimPrefix(o.Name, "the "))
		}
		for _, s := range h.Selectors {
			all = append(all, s.Name)
		}
	}
	for _, t := range ts {
		all = append(all, t.Reason.By, t.Reason.Note, strings.TrimSuffix(t.Reason.Note, "."), t.Reason.Directions)
		all = append(all, t.Reason.Affected...)
		if t.Background != nil {
			all = append(all, strings.TrimSuffix(t.Background.Link, "."))
		}
	}
	for _, name := range all {
		w[name] = true
		if first, size := utf8.DecodeRuneInString(name); size > 0 { // as a sentence begins with it
			w[string(unicode.ToUpper(first))+name[size:]] = true
		}
	}
}

// out takes it out of a sentence, the longest first.
func (w written) out() *strings.Replacer {
	all := slices.SortedFunc(maps.Keys(w), func(a, b string) int { return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b)) })
	var pairs []string
	for _, name := range all {
		if name != "" {
			pairs = append(pairs, name, "∅")
		}
	}
	return strings.NewReplacer(pairs...)
}
