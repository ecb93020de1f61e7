//go:build !unix

package reach

import "os/exec"

// inOwnGroup does nothing where there are no process groups: only the program
// itself is killed at the time limit.
func inOwnGroup(*exec.Cmd) {}

func killGroup(*exec.Cmd) {}
