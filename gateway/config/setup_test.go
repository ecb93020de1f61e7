package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestAFileWithoutAHouseIsGoodToSetUpAlone(t *testing.T) {
	const text = "[page]\naddress = \"127.0.0.1:0\"\n"
	if c, _ := Parse("x.toml", []byte(text), fixedEnv); c != nil {
		t.Error("a file without a house is good for watching")
	}
	c, problems := ParseToSetUp("x.toml", []byte(text), fixedEnv)
	if c == nil || c.Watches() || c.Page.Address != "127.0.0.1:0" || !c.Broker.Run {
		t.Fatalf("got %+v, %v", c, problems)
	}
	for _, bad := range []string{
		"[page]\ncolour = \"blue\"\n",
		"[page]\naddress = \"0.0.0.0:8470\"\n", // others could reach it without a password
		"[house.long-house]\n",
		"[probe.bench-1]\nplace = \"a/b\"\ntopic = \"a\"\ntemperature = {}\n",
	} {
		if c, _ := ParseToSetUp("x.toml", []byte(bad), fixedEnv); c != nil {
			t.Errorf("good to set up: %q", bad)
		}
	}
}

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
	c, problems := LoadToSetUp(file, fixedEnv)
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
	if c, problems := ParseToSetUp(file, []byte(text), fixedEnv); c == nil || c.Broker.Run || c.Page.Address != "0.0.0.0:8470" {
		t.Errorf("with its examples in force: %v", problems)
	}
}
