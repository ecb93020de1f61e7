package main

import (
	"bytes"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"telltale/gateway/page"
)

func TestPasswordPrintsItsHash(t *testing.T) {
	for _, typed := range []string{"lettuce kettle bramble\n", "lettuce kettle bramble", "lettuce kettle bramble\r\nmore\n"} {
		var out bytes.Buffer
		root := newRoot()
		root.SetArgs([]string{"password"})
		root.SetIn(strings.NewReader(typed))
		root.SetOut(&out)
		if err := root.Execute(); err != nil {
			t.Fatal(err)
		}
		hash := strings.TrimSuffix(out.String(), "\n")
		if !strings.HasPrefix(hash, "$argon2id$") || strings.Contains(hash, "lettuce") {
			t.Fatalf("got %q", hash)
		}
		if _, err := page.New(page.Options{Watch: nil, PasswordHash: hash, Log: zerolog.Nop()}); err == nil || strings.Contains(err.Error(), "hash") {
			t.Errorf("the page does not take the hash %s: %v", hash, err)
		}
	}
}

func TestPasswordRefuses(t *testing.T) {
	for typed, want := range map[string]string{"": "(got 0)", "kettle\n": "the password must hold at least 12 characters", "\n": "(got 0)"} {
		var out bytes.Buffer
		root := newRoot()
		root.SetArgs([]string{"password"})
		root.SetIn(strings.NewReader(typed))
		root.SetOut(&out)
		if err := root.Execute(); err == nil || !strings.Contains(err.Error(), want) || out.Len() > 0 {
			t.Errorf("%q: got %v and %q, want an error that says %q", typed, err, out.String(), want)
		}
	}
}
