package config

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

func TestAccounts(t *testing.T) {
	c := load(t, "accounts.toml")
	var got []string
	for _, a := range c.Page.Accounts {
		got = append(got, fmt.Sprintf("%s %q %s person=%q password=%v hash=%v token=%v",
			a.ID, a.Name, a.May, a.Person, a.Password.Given(), a.PasswordHash.Given(), a.Token.Given()))
		if out := fmt.Sprintf("%+v %#v", a, a); strings.Contains(out, "correct-horse") {
			t.Errorf("a secret shows: %s", out)
		}
	}
	want := `ada "Ada" act person="" password=true hash=false token=false
ben "Ben" look person="ben" password=true hash=false token=false
shed-screen "shed-screen" look person="" password=false hash=false token=true`
	if strings.Join(got, "\n") != want {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), want)
	}
	if c.Page.LinksFor != 24*time.Hour || load(t, "every-key.toml").Page.LinksFor != 12*time.Hour {
		t.Errorf("links are good for %s, want 24h by default and 12h where the file says so", c.Page.LinksFor)
	}
}
