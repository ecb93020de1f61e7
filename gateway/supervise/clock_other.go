//go:build !linux

package supervise

import (
	"errors"
	"time"
)

// monotonicMicroseconds is for Linux, where the service manager is.
func monotonicMicroseconds() (int64, error) { return 0, nil }

// SinceBoot is known on Linux alone.
func SinceBoot() (time.Duration, error) {
	return 0, errors.New("how long this machine has been up cannot be read here")
}

// BootID is known on Linux alone.
func BootID() string { return "" }
