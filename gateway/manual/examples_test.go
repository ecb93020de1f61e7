package manual

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms/scenario"
	"telltale/alarms/tongue"
)

var rewrite = flag.Bool("rewrite", false, "write the examples of the alarms' topic in other languages anew")

// played are the sentences of all scenarios in a language, in one order.
func played(t *testing.T, in tongue.Tongue) (all []string) {
	t.Helper()
	names, err := filepath.Glob("../../testdata/scenario/*.txt")
	if err != nil || len(names) < 25 {
		t.Fatalf("found %d scenarios (%v)", len(names), err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := scenario.Parse(name, text, time.LoadLocation)
		if err != nil {
			t.Fatal(err)
		}
		s.Plan.Words.Tongue = in
		steps, err := s.Run()
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range steps {
			for _, tr := range step {
				all = append(all, tr.Sentence)
			}
		}
	}
	return all
}

// sentences cuts a text behind each full stop and question mark, but not behind that of
// a date ("2. Januar").
func sentences(text string) (all []string) {
	words := strings.Fields(text)
	begin := 0
	for i, w := range words {
		date := i+1 < len(words) && strings.ContainsAny(w[:1], "0123456789") && !strings.ContainsAny(w, ":,") && isMonth(words[i+1])
		if strings.ContainsAny(w[len(w)-1:], ".?!") && !date || i == len(words)-1 {
			all = append(all, strings.Join(words[begin:i+1], " "))
			begin = i + 1
		}
	}
	return all
}

func isMonth(word string) bool {
	for m := time.January; m <= time.December; m++ {
		if strings.HasPrefix(word, tongue.German.Month(m)) {
			return true
		}
	}
	return false
}

// The examples in another language are what the program says there: the same sentences of
// the same scenario.
func TestExamplesAreToldInEveryLanguage(t *testing.T) {
	english := played(t, tongue.English)
	for _, in := range tongue.Tongues() {
		if in == tongue.English {
			continue
		}
		text, other := In(in).source("alarms"), played(t, in)
		if len(english) != len(other) {
			t.Fatalf("%s: %d sentences, want %d", in.Name(), len(other), len(english))
		}
		have := examples(In(in), "alarms")
		for k, example := range examples(English, "alarms") {
			want := ""
			for i, s := range english {
				before, _, is := strings.Cut(s, example)
				if !is {
					continue
				}
				said, first := sentences(other[i]), len(sentences(before))
				want = strings.Join(said[first:min(len(said), first+len(sentences(example)))], " ")
				break
			}
			if have[k] == want {
				continue
			}
			if !*rewrite {
				t.Errorf("%s: the example is not what is told:\ngot  %s\nwant %s", in.Name(), have[k], want)
				continue
			}
			text = replaceExample(text, k, want)
		}
		if *rewrite {
			if err := os.WriteFile("alarms."+string(in)+".md", []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// replaceExample puts words into the example of a number, in lines of a hundred letters.
func replaceExample(text string, k int, words string) string {
	const open = "```text\n"
	at := 0
	for range k + 1 {
		at += strings.Index(text[at:], open) + len(open)
	}
	end := at + strings.Index(text[at:], "```")
	lines, line := []string{}, ""
	for _, w := range strings.Fields(words) {
		if line != "" && len([]rune(line))+1+len([]rune(w)) > 100 {
			lines, line = append(lines, line), ""
		}
		line = strings.TrimSpace(line + " " + w)
	}
	return text[:at] + strings.Join(append(lines, line), "\n") + "\n" + text[end:]
}
