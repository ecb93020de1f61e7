package main

import (
	"bytes"
	"strings"
	"testing"
)

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
