package supervise

import (
	"time"

	"golang.org/x/sys/unix"
)

// monotonicMicroseconds reads CLOCK_MONOTONIC, which RELOADING=1 must carry.
func monotonicMicroseconds() (int64, error) {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts); err != nil {
		return 0, err
	}
	return time.Duration(ts.Nano()).Microseconds(), nil
}
