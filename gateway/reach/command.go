package reach

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

const (
	commandTime   = 30 * time.Second
	commandGrace  = 2 * time.Second // for pipes held open by what the program left behind
	commandOutput = 4 << 10         // bytes kept of each of its outputs
	commandQuote  = 200             // bytes of its error output in a sentence
)

// CommandOptions say which program to run.
type CommandOptions struct {
	Program string   // absolute path; no shell is involved
	Args    []string // passed as they are
	Dir     string   // working directory; default "/"
	// Env is added to the only other variables, PATH=/usr/bin:/bin and
	// LANG=C.UTF-8. What the watch itself has in its environment, secrets
	// included, is not passed on.
	Env   []string
	Limit time.Duration // real time until it is killed; default 30 s
}

// Command runs a program for each telling, with a Document on its standard
// input. Exit code 0 is success. Of sysexits.h 64 (wrong usage) and 65 (cannot
// use the data) are permanent; by 67 (person unknown), 77 (not allowed) and 78
// (wrong config) the telling is denied. Every other end is worth another try: 75 says so, and a script that
// ends with whatever its last program returned must not lose an alarm. At
// the time limit the program is killed with everything it started that stayed in
// its process group.
type Command struct{ o CommandOptions }

// NewCommand checks o; nothing is run yet.
func NewCommand(o CommandOptions) (*Command, error) {
	if !filepath.IsAbs(o.Program) {
		return nil, fmt.Errorf("the command needs the absolute path of a program (got %q)", o.Program)
	}
	for _, v := range o.Env {
		if name, _, ok := strings.Cut(v, "="); !ok || name == "" {
			return nil, errors.New("each environment variable of the command must read NAME=value (its text is not shown, it may hold a secret)")
		}
	}
	if o.Dir == "" {
		o.Dir = "/"
	}
	if o.Limit == 0 {
		o.Limit = commandTime
	}
	return &Command{o}, nil
}

// Tell runs the program and waits for its end.
func (c *Command) Tell(ctx context.Context, t Telling) error {
	body, err := document(t)
	if err != nil {
		return err
	}
	bounded, cancel := context.WithTimeout(ctx, c.o.Limit)
	defer cancel()
	var complaint, ignored head
	cmd := exec.CommandContext(bounded, c.o.Program, c.o.Args...)
	cmd.Dir = c.o.Dir
	cmd.Env = append([]string{"PATH=/usr/bin:/bin", "LANG=C.UTF-8"}, c.o.Env...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = bytes.NewReader(body), &ignored, &complaint
	cmd.WaitDelay = commandGrace
	inOwnGroup(cmd)
	err = cmd.Run()
	if errors.Is(err, exec.ErrWaitDelay) { // it ended well, but left something behind
		killGroup(cmd)
		err = nil
	}
	return c.judge(ctx, bounded, err, complaint.quote())
}

func (c *Command) judge(ctx, bounded context.Context, err error, complaint string) error {
	var exit *exec.ExitError
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return fmt.Errorf("the command %s was stopped: %w", c.o.Program, ctx.Err())
	case bounded.Err() != nil:
		return fmt.Errorf("the command %s did not end within %s and was killed; check what it waits for%s", c.o.Program, c.o.Limit, complaint)
	case !errors.As(err, &exit):
		return fmt.Errorf("the command could not be run; check that it is there and may be executed: %w", err)
	}
	said := fmt.Errorf("the command %s ended with %s%s", c.o.Program, exit, complaint)
	switch exit.ExitCode() {
	case 64, 65:
		return &Permanent{Err: said}
	case 67, 77, 78:
		return &Denied{Err: said, Address: exit.ExitCode() == 67}
	}
	return said
}

// head keeps the first bytes written to it and takes the rest without a word.
type head struct{ kept []byte }

func (h *head) Write(p []byte) (int, error) {
	room := max(0, commandOutput-len(h.kept))
	h.kept = append(h.kept, p[:min(room, len(p))]...)
	return len(p), nil
}

// quote returns the beginning as an addition to a sentence.
func (h *head) quote() string {
	text := strings.TrimSpace(oneLine(strings.ToValidUTF8(string(h.kept[:min(len(h.kept), commandQuote)]), "")))
	if text == "" {
		return ""
	}
	return fmt.Sprintf("; it said %q", text)
}
