package manual

import (
	"errors"
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"telltale/alarms/tongue"
)

func TestEveryFileIsATopic(t *testing.T) {
	names, err := fs.Glob(files, "*.md")
	if err != nil {
		t.Fatal(err)
	}
	var there []string
	for _, n := range names {
		name, in, _ := strings.Cut(strings.TrimSuffix(n, ".md"), ".")
		switch {
		case in == "":
			there = append(there, name)
		case !slices.Contains(tongue.Tongues(), tongue.Tongue(in)) || name != "keys" && !slices.Contains(order, name):
			t.Errorf("%s is of no topic, or in no language that there is", n)
		}
	}
	want := slices.Sorted(slices.Values(order))
	if !slices.Equal(there, want) {
		t.Errorf("the files are %v, the topics %v", there, want)
	}
	for _, topic := range English.Topics() {
		if topic.Title == "" || !strings.HasPrefix(English.source(topic.Name), "# "+topic.Title+"\n\n") {
			t.Errorf("%s: the title is %q", topic.Name, topic.Title)
		}
	}
}

func TestLinksLeadToTopics(t *testing.T) {
	any := regexp.MustCompile(`\]\(([^)]*)\)`)
	n := 0
	for _, in := range tongue.Tongues() {
		for _, name := range order {
			for _, m := range any.FindAllStringSubmatch(In(in).source(name), -1) {
				n++
				if to, ok := strings.CutSuffix(m[1], ".md"); !ok || !slices.Contains(order, to) {
					t.Errorf("%s.md in %s: the link to %q leads to no topic", name, in.Name(), m[1])
				}
			}
		}
	}
	if n < 3 {
		t.Errorf("only %d links: too few to judge", n)
	}
	got, err := English.HTML("start", func(topic string) string { return "/help/" + topic })
	if err != nil || !strings.Contains(string(got), `<a href="/help/probes">`) || strings.Contains(string(got), ".md\"") {
		t.Errorf("the page has %v\n%s", err, got)
	}
	if text, err := English.Text("start"); err != nil || !strings.Contains(text, "What a probe must publish (telltale manual probes)") {
		t.Errorf("the terminal has %v\n%s", err, text)
	}
}

// Every piece of config in it can be read.
func TestConfigInItIsTOML(t *testing.T) {
	block := regexp.MustCompile("(?s)```toml\n(.*?)```")
	n := 0
	for _, name := range order {
		for _, m := range block.FindAllStringSubmatch(English.source(name), -1) {
			n++
			var into map[string]any
			if err := toml.Unmarshal([]byte(m[1]), &into); err != nil {
				t.Errorf("%s.md: %v in\n%s", name, err, m[1])
			}
		}
	}
	if n < 8 {
		t.Errorf("only %d pieces: too few to judge", n)
	}
}

func TestWhatIsNotThere(t *testing.T) {
	for _, name := range []string{"", "nothing", "../doc", "start.md"} {
		if _, err := English.Text(name); !errors.Is(err, ErrNoTopic) || !strings.Contains(err.Error(), "start, probes") {
			t.Errorf("English.Text(%q): %v", name, err)
		}
		if _, err := English.HTML(name, nil); !errors.Is(err, ErrNoTopic) {
			t.Errorf("English.HTML(%q): %v", name, err)
		}
	}
	if got := English.Find("  "); got != nil {
		t.Errorf("nothing is found as %v", got)
	}
	if got := English.Find("xylophone"); got != nil {
		t.Errorf("found %v", got)
	}
}

func TestFind(t *testing.T) {
	got := English.Find("Witness zero VOLTAGE")
	if len(got) == 0 || got[0].Name != "probes" || got[0].Heading != "What feeds it" {
		t.Fatalf("got %+v", got)
	}
	for _, p := range got {
		for _, w := range []string{"witness", "zero", "voltage"} {
			if !strings.Contains(strings.ToLower(p.Heading+p.Text), w) {
				t.Errorf("%q does not hold %q", p.Text, w)
			}
		}
	}
	rows := English.Find("asked to stop bad config")
	if len(rows) != 0 {
		t.Errorf("words of two passages are found in one: %+v", rows)
	}
	if rows = English.Find("bad config service manager"); len(rows) != 1 || rows[0].Text != "3 · bad config; a service manager should not start it again" {
		t.Errorf("a row is found as %+v", rows)
	}
}

func TestPassagesHaveNoMarks(t *testing.T) {
	for give, want := range map[string]string{
		"**Keep** it as `secrets/NAME`":          "Keep it as secrets/NAME",
		"on *Download*, 3 * 4":                   "on Download, 3 * 4",
		"[Keep a copy](copies.md) first":         "Keep a copy first",
		"| `[store]` | 90 days | keep it |":      "[store] · 90 days · keep it",
		"may-send = [\"thimble-garth/bench-1\"]": "may-send = [\"thimble-garth/bench-1\"]",
	} {
		if got := plain(give); got != want {
			t.Errorf("%q is shown as %q, want %q", give, got, want)
		}
	}
}

// Nothing in the files is more than what the page can show: no raw HTML, which
// would be left out without a word.
func TestNoRawHTML(t *testing.T) {
	for _, name := range order {
		html, err := English.HTML(name, func(string) string { return "/" })
		if err != nil || strings.Contains(string(html), "<!-- raw HTML omitted -->") || !strings.Contains(string(html), "<h1") {
			t.Errorf("%s.md: %v", name, err)
		}
	}
}
