package edit

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"telltale/gateway/config"
)

func TestBeginWritesAFileThatCanBeSetUp(t *testing.T) {
	file := filepath.Join(t.TempDir(), "thimble-garth.toml")
	for _, want := range []bool{true, false} {
		if made, err := Begin(file, fixedEnv); err != nil || made != want {
			t.Fatalf("made %v, %v, want %v", made, err, want)
		}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, caution := range []string{"switches nothing", "no fire alarm", "licensed electrician", "Test it regularly"} {
		if !strings.Contains(string(data), caution) {
			t.Errorf("the first file does not say %q", caution)
		}
	}
	c, problems := config.LoadToSetUp(file, fixedEnv)
	if c == nil {
		t.Fatal(problems)
	}
	if want := filepath.Join(filepath.Dir(file), "thimble-garth-store"); c.Store.Directory != want {
		t.Errorf("the store is %s, want %s", c.Store.Directory, want)
	}
	for line := range strings.Lines(string(data)) { // what is offered as a comment works too
		if strings.HasPrefix(line, "# [") || strings.Contains(line, " = ") {
			data = []byte(strings.Replace(string(data), line, strings.TrimPrefix(line, "# "), 1))
		}
	}
	text := strings.Replace(string(data), `password-file = "secrets/page"`, `password-env = "GOOD_SECRET"`, 1)
	if c, problems := config.ParseToSetUp(file, []byte(text), fixedEnv); c == nil || c.Broker.Run || c.Page.Address != "0.0.0.0:8470" {
		t.Errorf("with its examples in force: %v", problems)
	}
}
