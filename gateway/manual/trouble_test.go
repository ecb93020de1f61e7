package manual

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// program returns all that the program can say: its sources, and what tests expect.
func program(t *testing.T) string {
	t.Helper()
	var all strings.Builder
	for _, top := range []string{"../../alarms", "../../cmd", "../../gateway", "../../testdata/scenario", "../../testdata/config"} {
		err := filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.HasSuffix(path, "_test.go") {
				return err
			}
			switch filepath.Ext(path) {
			case ".go", ".html", ".js", ".txt", ".toml":
				b, err := os.ReadFile(path)
				all.Write(b)
				return err
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	spaces := regexp.MustCompile(`\s+`)
	text := strings.ReplaceAll(all.String(), "<strong>", "")
	text = strings.ReplaceAll(strings.ReplaceAll(text, "</strong>", ""), `\"`, `"`)
	return spaces.ReplaceAllString(text, " ")
}

// quotes are what a topic says that the program says: whole sentences or parts of
// them in quotation marks, with dots for what differs. Words of less than three are
// no quotes.
func quotes(topic string) []string {
	text := regexp.MustCompile("(?s)```.*?```|`[^`]*`").ReplaceAllString(English.source(topic), "")
	var out []string
	for _, part := range regexp.MustCompile(`\n\n|\n(?:[-0-9])`).Split(text, -1) {
		for _, m := range regexp.MustCompile(`"([^"]+)"`).FindAllStringSubmatch(strings.Join(strings.Fields(part), " "), -1) {
			if strings.Count(m[1], " ") >= 2 {
				out = append(out, m[1])
			}
		}
	}
	return out
}

// What the topic quotes is what the program says.
func TestTroubleQuotesTheProgram(t *testing.T) {
	said, n := program(t), 0
	for _, quote := range append(quotes("trouble"), examples(English, "trouble")...) {
		for _, part := range strings.Split(quote, "…") {
			part = strings.Trim(part, " .:;?")
			if len(part) < 4 {
				continue
			}
			n++
			if !strings.Contains(said, part) {
				t.Errorf("trouble.md quotes %q, which the program never says", part)
			}
		}
	}
	if n < 40 {
		t.Errorf("found %d quotes: too few to judge", n)
	}
	if entries := strings.Count(English.source("trouble"), "\n### "); entries < 25 {
		t.Errorf("trouble.md has %d entries, want 25 at least", entries)
	}
}
