package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const firstFile = `
[house.long-house]
name = "Long House"
[house.long-house.place.bench.temperature]
high = 33
[probe.bench]
place = "long-house/bench"
topic = "g/bench"
temperature = {}
[person.ada]
channels = ["mail", "horn"]
mail = "ada@example.org"
[person.ben]
channels = ["horn"]
[[tell]]
people = ["ada"]
[[tell]]
people = ["ben"]
channels = ["horn"]
[channel.mail]
kind = "mail"
server = "127.0.0.1:25"
security = "none"
from = "a@example.org"
[channel.horn]
kind = "command"
run = ["/bin/true"]
`

const secondFile = `
[companion]
first = "http://127.0.0.1:8470"
token-env = "TOKEN"
shares = ["router", "breaker"]
[channel.mail]
kind = "mail"
server = "127.0.0.1:26"
security = "none"
from = "b@example.org"
[store]
directory = "store"
`

func companionEnv(name string) (string, bool) {
	if name == "TOKEN" {
		return "a token of at least 24 characters", true
	}
	return "", false
}

// copyOf puts a copy where the companion keeps it, and reads the companion's file.
func copyOf(t *testing.T, text, file string) (*Config, Problems) {
	t.Helper()
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "store"), 0o700); err != nil {
		t.Fatal(err)
	}
	if text != "" {
		if err := os.WriteFile(filepath.Join(dir, "store", CompanionPlan), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return Parse(filepath.Join(dir, "second.toml"), []byte(file), companionEnv)
}

func TestACompanionHasThePlanOfTheFirst(t *testing.T) {
	first, problems := Parse("first.toml", []byte(firstFile), companionEnv)
	if first == nil {
		t.Fatal(problems)
	}
	c, problems := copyOf(t, string(first.Shared.Text), secondFile)
	if c == nil {
		t.Fatal(problems)
	}
	if !strings.Contains(problems.Error(), `over "horn"`) && !strings.Contains(problems.Error(), "over horn") {
		t.Errorf("that a way is left out is not said: %v", problems)
	}
	for _, want := range []string{"companion.shares[1]: says that both are on one router", "companion.shares[2]: says that both hang on one breaker"} {
		if !strings.Contains(problems.Error(), want) {
			t.Errorf("%q is not said: %v", want, problems)
		}
	}
	if c.Companion.Plan != first.Shared.Version || c.Companion.Plan == "" {
		t.Errorf("the plan is %q, want %q", c.Companion.Plan, first.Shared.Version)
	}
	if !c.Watches() || len(c.Sources) != 1 || c.Plan.Houses[0].Name != "Long House" {
		t.Errorf("the plan is %+v", c.Plan)
	}
	if n := len(c.Reach.Tell); n != 1 {
		t.Errorf("%d rules tell, want 1: nobody is told over a way that is not there", n)
	}
	if len(c.Reach.People) != 2 || len(c.Reach.People[0].Channels) != 1 || len(c.Reach.People[1].Channels) != 0 {
		t.Errorf("people are %+v", c.Reach.People)
	}
	again, _ := copyOf(t, string(first.Shared.Text), secondFile)
	if again.Shared.Version != c.Shared.Version {
		t.Error("the version of the same plan differs")
	}
}

func TestOnlyWhatIsSharedIsCopied(t *testing.T) {
	first, _ := Parse("first.toml", []byte(firstFile), companionEnv)
	for _, word := range []string{"channel.", "/bin/true", "127.0.0.1:25", "[store"} {
		if strings.Contains(string(first.Shared.Text), word) {
			t.Errorf("the copy has %q:\n%s", word, first.Shared.Text)
		}
	}
	forged := string(first.Shared.Text) + "\n[channel.evil]\nkind = \"command\"\nrun = [\"/bin/sh\"]\n[page]\naddress = \"0.0.0.0:1\"\n[export]\nfile = \"/etc/x\"\n"
	c, problems := copyOf(t, forged, secondFile)
	if c == nil {
		t.Fatal(problems)
	}
	if len(c.Reach.Channels) != 1 || c.Page.Address != defaultPage || c.Export.File.Path != "" {
		t.Errorf("the first has a say in what is not shared: %+v %+v %+v", c.Reach.Channels, c.Page, c.Export)
	}
}

func TestACompanionWithoutAPlanWaitsForIt(t *testing.T) {
	c, problems := copyOf(t, "", secondFile)
	if c == nil {
		t.Fatal(problems)
	}
	if c.Watches() || c.Companion.Plan != "" || c.Plain || c.Unclaimed() && c.Untouched() {
		t.Errorf("got %+v", c.Companion)
	}
	first, _ := Parse("first.toml", []byte(firstFile), companionEnv)
	text := string(first.Shared.Text)
	next, problems := ParseEdited(c.File, []byte(secondFile), companionEnv, map[string]string{c.Companion.File: text})
	if next == nil || !next.Watches() || next.Companion.Plan != first.Shared.Version {
		t.Fatalf("a copy that is not kept yet is not read: %v", problems)
	}
}

func TestWhatIsWrongWithACompanion(t *testing.T) {
	first, _ := Parse("first.toml", []byte(firstFile), companionEnv)
	good := string(first.Shared.Text)
	for _, c := range []struct{ name, copy, file, says string }{
		{"its own house", good, secondFile + "[house.x]\n", "is copied from the first watch"},
		{"a damaged copy", "x = [", secondFile, "is damaged"},
		{"no token", good, strings.Replace(secondFile, "token-env", "# ", 1), "needs token-file or token-env"},
		{"no address", good, strings.Replace(secondFile, "first =", "# ", 1), "companion.first: is missing"},
		{"another machine by http", good, strings.Replace(secondFile, "127.0.0.1:8470", "example.org", 1), "must begin with https://"},
		{"the first one's topics", good, secondFile + "[channel.lamp]\nkind = \"mqtt\"\nprefix = \"telltale\"\n", "must begin with \"telltale/companion\""},
		{"nobody is told", good, strings.Replace(secondFile, "[channel.mail]", "[channel.post]", 1), "nobody is told of high-priority alarms"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, problems := copyOf(t, c.copy, c.file)
			if !strings.Contains(problems.Error(), c.says) {
				t.Errorf("got %v\nwant one that says %q", problems, c.says)
			}
		})
	}
}

// Whoever sets up a companion says what it hangs on together with the first.
func TestACompanionIsAskedWhatItShares(t *testing.T) {
	for given, want := range map[string]string{
		"":                         `say what both boards hang on, of "breaker", "internet", "router" or "socket", or shares = [] for none of it`,
		"shares = [\"brekaer\"]\n": `must be "breaker", "internet", "router" or "socket" (got "brekaer"); did you mean "breaker"?`,
		"shares = \"router\"\n":    "must be a list such as",
	} {
		c, problems := copyOf(t, "", strings.Replace(secondFile, "shares = [\"router\", \"breaker\"]\n", given, 1))
		if c != nil || !strings.Contains(problems.Error(), want) {
			t.Errorf("%q: got %v, want %q", given, problems, want)
		}
	}
}
