package gateway

import (
	"fmt"
	"os"
	"testing"

	"telltale/gateway/config"
)

// TestMain lets the test binary also be a process that is killed or cramped.
func TestMain(m *testing.M) {
	for name, play := range map[string]func(string) error{
		"TELLTALE_GATEWAY_VICTIM":  victim,
		"TELLTALE_GATEWAY_CRAMPED": cramped,
		"TELLTALE_GATEWAY_STUFFED": stuffed,
		"TELLTALE_GATEWAY_SUBJECT": playSubject,
	} {
		if dir := os.Getenv(name); dir != "" {
			if err := play(dir); err != nil {
				fmt.Println("error", err)
				os.Exit(1)
			}
			os.Exit(0)
		}
	}
	os.Exit(m.Run())
}

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// read reads a config that is written in a test; its store is dir.
func read(text, dir string) (*config.Config, error) {
	c, problems := config.Parse("test.toml", []byte(text), func(string) (string, bool) { return "", false })
	if err := problems.Err(); err != nil {
		return nil, err
	}
	c.Store.Directory = dir
	return c, nil
}
