package main

import (
	"bytes"
	"strings"
	"testing"
)

func TestVersionIsACommandAndAFlag(t *testing.T) {
	t.Parallel()
	var said [2]string
	for i, arg := range []string{"version", "--version"} {
		var out bytes.Buffer
		root := newRoot()
		root.SetArgs([]string{arg})
		root.SetOut(&out)
		ok(t, root.Execute())
		said[i] = out.String()
	}
	if said[0] != said[1] || !strings.HasPrefix(said[0], "telltale ") || strings.Count(said[0], "\n") != 1 {
		t.Errorf("got %q and %q, want one line, the same", said[0], said[1])
	}
}

func TestNoticesPrintsTheLicences(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	root := newRoot()
	root.SetArgs([]string{"notices"})
	root.SetOut(&out)
	ok(t, root.Execute())
	for _, want := range []string{"\nThe Go standard library\n", "\ngithub.com/mochi-mqtt/server/v2 v", "SQLite itself", "Permission is hereby granted"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the notices lack %q", want)
		}
	}
}
