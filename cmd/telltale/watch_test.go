package main

import (
	"testing"

	"telltale/gateway"
	"telltale/gateway/config"
)

func TestTheLogSaysWhereABrowserFindsThePage(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		page config.Page
		at   string
		want string
	}{
		{config.Page{}, "127.0.0.1:8470", "http://127.0.0.1:8470/"},
		{config.Page{}, "[::]:8470", "http://localhost:8470/"},
		{config.Page{}, "0.0.0.0:8470", "http://localhost:8470/"},
		{config.Page{}, "[fd00::7]:8470", "http://[fd00::7]:8470/"},
		{config.Page{CertFile: "page.pem"}, "192.0.2.7:443", "https://192.0.2.7:443/"},
		{config.Page{URL: "https://garden.example.org/"}, "127.0.0.1:8470", "https://garden.example.org/"},
	} {
		if got := pageURL(&config.Config{Page: c.page}, gateway.Running{Page: c.at}); got != c.want {
			t.Errorf("at %s: got %s, want %s", c.at, got, c.want)
		}
	}
}
