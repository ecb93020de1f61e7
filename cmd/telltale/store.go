package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/record"
	"telltale/gateway/store"
	"telltale/gateway/store/copies"
)

func newStore() *cobra.Command {
	return &cobra.Command{
		Use: "store FILE", Short: "Read the store of a watch through, and say what is in it and what is wrong",
		Long: "Reads the store of the watch that the config FILE describes through, database and journal,\n" +
			"and prints what is there. The watch may run; nothing is changed. Ends with 0 if all could be\n" +
			"read, with 1 if not, with 4 if there is no store or a newer version wrote it.",
		Args: oneConfig,
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := load(args[0], cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			return sayStore(cmd.Context(), cmd.OutOrStdout(), c)
		},
	}
}

func sayStore(ctx context.Context, out io.Writer, c *config.Config) error {
	found, err := store.Inspect(ctx, c.Store.Directory)
	if err != nil {
		return ofStore(fmt.Errorf("the store %s cannot be read: %w", c.Store.Directory, err))
	}
	s := &storeSheet{c: c, found: found, now: time.Now()}
	s.whole()
	s.kept()
	s.state()
	for _, a := range found.Aside {
		s.line("Put aside as damaged", "%s, %s", a.Name, copies.Megabytes(a.Bytes))
	}
	for _, p := range found.Problems {
		s.line("PROBLEM", "%s", p)
	}
	if _, err := io.WriteString(out, s.text.String()); err != nil {
		return err
	}
	if n := len(found.Problems); n > 0 {
		return fmt.Errorf("the store %s has %s; the watch mends what it can at its next start, and a copy that telltale backup made can be put back", c.Store.Directory, count(n, "problem"))
	}
	_, err = fmt.Fprintln(out, "Good: all of it could be read.")
	return err
}

// storeSheet writes what was found, a line each.
type storeSheet struct {
	c     *config.Config
	found *store.Contents
	now   time.Time
	text  strings.Builder
}

func (s *storeSheet) line(name, form string, args ...any) {
	fmt.Fprintf(&s.text, "%-22s %s\n", name+":", fmt.Sprintf(form, args...))
}

func (s *storeSheet) clock(t time.Time) string { return say.Of(&s.c.Plan).Moment(t) }

func (s *storeSheet) whole() {
	use := "no watch is running on it"
	if s.found.InUse {
		use = "a watch is running on it"
	}
	s.line("Store", "%s, %s; %s", s.c.Store.Directory, copies.Megabytes(s.found.Bytes), use)
	if free, err := copies.Room(s.c.Store.Directory); err == nil {
		s.line("Room on its disk", "%s", copies.Megabytes(free))
	}
	if s.found.Older {
		s.line("Version", "an older program wrote it; the watch brings it up to date at its next start")
	}
}

func (s *storeSheet) kept() {
	f := s.found
	s.line("Readings", "%s (quantities of probes: %d)%s", record.Thousands(uint64(f.Readings)), f.Streams, s.span(f.ReadingsFrom, f.ReadingsTo))
	if f.Sums > 0 {
		s.line("Kept as 10 minutes", "%s, from %s on", record.Thousands(uint64(f.Sums)), s.clock(f.SumsFrom))
	}
	s.line("Log", "%s%s", count(int(f.Log), "line"), s.span(f.LogFrom, f.LogTo))
	s.line("Messages", "%s told, %s waiting, %s given up", record.Thousands(uint64(f.Outbox.Told)), record.Thousands(uint64(f.Outbox.Waiting)), record.Thousands(uint64(f.Outbox.Abandoned)))
	s.line("Devices", "%d that take pushed alarms", f.Devices)
}

func (s *storeSheet) span(from, to time.Time) string {
	if from.IsZero() {
		return ""
	}
	return ", from " + s.clock(from) + " to " + s.clock(to)
}

// state tells of the state of the alarms and the journal since.
func (s *storeSheet) state() {
	f := s.found
	e, err := engine.New(s.c.Plan)
	if err == nil && f.Snapshot != nil {
		e, err = engine.Restore(s.c.Plan, f.Snapshot)
	}
	switch {
	case err != nil:
		f.Problems = append(f.Problems, "the state of the alarms does not fit the config: "+err.Error())
	case f.Snapshot == nil:
		s.line("State of the alarms", "not laid down yet")
	default:
		at := e.Wall(e.Now())
		s.line("State of the alarms", "as of %s, %s ago", s.clock(at), say.Locale{}.Span(s.now.Sub(at)))
	}
	if f.Inputs == 0 {
		s.line("Journal since", "nothing")
		return
	}
	last := f.Last.Add(f.Ahead)
	s.line("Journal since", "%s in %s, the last of %s, %s ago", count(f.Inputs, "input"), count(f.Journal, "part"), s.clock(last), say.Locale{}.Span(s.now.Sub(last)))
}
