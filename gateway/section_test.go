package gateway

import (
	"os"
	"testing"

	"telltale/gateway/config"
)

// demoGarden is the demo's config.
func demoGarden(t *testing.T) *config.Config {
	t.Helper()
	data, err := os.ReadFile("../cmd/telltale/demo.toml")
	ok(t, err)
	cfg, problems := config.Parse("demo.toml", data, os.LookupEnv)
	ok(t, problems.Err())
	return cfg
}

// The gardens that are handed out draw both of their houses.
func TestFormsOfTheGardens(t *testing.T) {
	forms := demoGarden(t).Forms
	if len(forms) != 2 {
		t.Fatalf("got %d forms, want 2", len(forms))
	}
	long := forms[0]
	if !long.LeanTo || long.Width != 3.5 || long.Length != 6 || long.Ridge != 2.8 || len(long.Bench) != 2 {
		t.Errorf("got %+v, want the lean-to of 6.0 x 3.5 m with its ridge at 2.8 m", long)
	}
	if at := long.Places["loop-deep"]; at.Height != -2.3 {
		t.Errorf("the deep outlet is at %v, want 2.3 m in the ground", at)
	}
	if at := long.Drives["exhaust"]; at.Across != 0 || at.Height != 2.45 {
		t.Errorf("the exhaust fan is at %v, want at the peak of the high wall", at)
	}
}
