//go:build unix

package edit

import (
	"os"
	"syscall"
	"testing"
)

func ownerOf(t *testing.T, file string) int {
	t.Helper()
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	return int(info.Sys().(*syscall.Stat_t).Uid)
}
