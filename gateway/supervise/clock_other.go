//go:build !linux

package supervise

// monotonicMicroseconds is for Linux, where the service manager is.
func monotonicMicroseconds() (int64, error) { return 0, nil }
