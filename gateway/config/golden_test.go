package config

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// -rewrite writes what the program says now into the cases. Only commit that
// if you understand what caused each change.
var rewrite = flag.Bool("rewrite", false, "rewrite the expected problems of the cases")

const expected = "#> " // begins a line that the program must print, after the input

// fixedEnv is the environment that cases see.
func fixedEnv(name string) (string, bool) {
	v, ok := map[string]string{
		"GOOD_SECRET":  "correct-horse-of-thimble-garth",
		"GOOD_KEY":     "whsec_Y29ycmVjdC1ob3JzZS1vZi10aGltYmxlLWdhcnRo",
		"GOOD_URL":     "https://heartbeat.example.org/correct-horse",
		"SHORT_SECRET": "short",
		"SHORT_KEY":    "whsec_Y29ycmVjdC1ob3JzZS1vZi10aGltYmw=", // 23 bytes
		"EMPTY":        "",
		"CUT_HASH":     "$argon2id$v=19$m=19456,t=2,p=1$AAECAwQFBgcICQoLDA0ODw",
		"SIX_SIGNS":    strings.Repeat("e\u0301", 6), // which are twelve by their parts
	}[name]
	return v, ok
}

// inSecretsFolder moves to a new folder with the files that cases name.
func inSecretsFolder(t *testing.T) {
	t.Helper()
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "secrets"), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, f := range []struct {
		name, text string
		mode       os.FileMode
	}{
		{"secrets/good", "correct-horse-of-thimble-garth\n", 0o600},
		{"secrets/open", "correct-horse-of-thimble-garth\n", 0o644},
		{"secrets/short", "short\n", 0o600},
		{"secrets/empty", "\n", 0o600},
		{"secrets/two-lines", "one\ntwo\n", 0o600},
		{"authority.pem", "", 0o644},
	} {
		path := filepath.Join(dir, f.name)
		if err := os.WriteFile(path, []byte(f.text), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(path, f.mode); err != nil { // whatever the umask is
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
}

// splitCase parts a case into the input and the lines expected.
func splitCase(text string) (input string, want []string) {
	for line := range strings.Lines(text) {
		if w, ok := strings.CutPrefix(line, expected); ok {
			want = append(want, strings.TrimSuffix(w, "\n"))
			continue
		}
		input += line
	}
	return input, want
}

func TestCases(t *testing.T) {
	files, err := filepath.Glob("../../testdata/config/cases/*.toml")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < 40 {
		t.Fatalf("found %d cases, want at least 40: is the folder testdata/config/cases complete?", len(files))
	}
	for i, f := range files {
		if files[i], err = filepath.Abs(f); err != nil {
			t.Fatal(err)
		}
	}
	inSecretsFolder(t)
	for _, f := range files {
		t.Run(strings.TrimSuffix(filepath.Base(f), ".toml"), func(t *testing.T) { checkCase(t, f) })
	}
}

func checkCase(t *testing.T, file string) {
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	input, want := splitCase(string(data))
	c, problems := Parse(filepath.Base(file), []byte(input), fixedEnv)
	if (c == nil) != (problems.Err() != nil) {
		t.Errorf("got a configuration: %v, errors: %v; want exactly one of them", c != nil, problems.Err())
	}
	var got []string
	if len(problems) > 0 {
		got = strings.Split(problems.Error(), "\n")
	}
	if *rewrite {
		rewriteCase(t, file, input, got)
		return
	}
	if g, w := strings.Join(got, "\n"), strings.Join(want, "\n"); g != w {
		t.Errorf("got\n%s\nwant\n%s", g, w)
	}
	for _, secret := range []string{"open-sesame", "correct-horse"} {
		if strings.Contains(problems.Error(), secret) {
			t.Errorf("a problem shows the secret %q", secret)
		}
	}
}

func rewriteCase(t *testing.T, file, input string, got []string) {
	var b strings.Builder
	b.WriteString(input)
	for _, line := range got {
		b.WriteString(expected + line + "\n")
	}
	if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
