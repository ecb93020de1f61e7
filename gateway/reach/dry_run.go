package reach

import (
	"context"

	"github.com/rs/zerolog"
)

// DryRun tells nobody: it logs what would have been told over the channel and
// returns ErrRehearsed. For trying out a config.
func DryRun(log zerolog.Logger) Notifier { return dryRun{log} }

type dryRun struct{ log zerolog.Logger }

func (d dryRun) Tell(ctx context.Context, t Telling) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, e := range t.Events {
		d.log.Info().Str("channel", t.Channel).Str("person", t.Person).Str("telling", t.ID).
			Str("priority", e.Priority.String()).Str("sentence", e.Sentence).Msg("rehearsal: this would be told")
	}
	return ErrRehearsed
}
