package service

import (
	"context"

	"telltale/alarms/companion"
)

// Companion is what another watch of the same garden, which accompanies this one, asks of
// it.
type Companion interface {
	// Report says how this watch is; echo is the newest word of the asker, "" for none.
	Report(echo string) companion.Report
	// Plan is what the asker copies, as text, and names its version.
	Plan() (text, version string)
	// Act does what somebody did at the asker. A refusal says why.
	Act(ctx context.Context, a companion.Act) error
}
