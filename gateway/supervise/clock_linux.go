package supervise

import (
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// monotonicMicroseconds reads CLOCK_MONOTONIC, which RELOADING=1 must carry.
func monotonicMicroseconds() (int64, error) {
	d, err := read(unix.CLOCK_MONOTONIC)
	return d.Microseconds(), err
}

// SinceBoot returns for how long the machine has been up, time in which it was
// suspended included (CLOCK_BOOTTIME): a clock that nobody can set.
func SinceBoot() (time.Duration, error) { return read(unix.CLOCK_BOOTTIME) }

// BootID names this start of the machine, "" where that cannot be known.
func BootID() string {
	b, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

func read(clock int32) (time.Duration, error) {
	var ts unix.Timespec
	if err := unix.ClockGettime(clock, &ts); err != nil {
		return 0, err
	}
	return time.Duration(ts.Nano()), nil
}
