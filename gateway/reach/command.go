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

// Command runs a program for each telling, with a Document on its standard
// input. Exit code 0 is success. Of sysexits.h 64 (wrong usage) and 65 (cannot
// use the data) are permanent; by 67 (person unknown), 77 (not allowed) and 78
// (wrong config) the telling is denied. Every other end is worth another try: 75 says so, and a script that
// ends with whatever its last program returned must not lose an alarm. At
// the time limit the program is killed with everything it started that stayed in
// its process group.
//
// The only variables in its environment are PATH=/usr/bin:/bin and LANG=C.UTF-8:
// what the watch itself has there, secrets included, is not passed on.
type Command struct {
	program string
	args    []string
	dir     string
	limit   time.Duration // real time until it is killed
}

// NewCommand takes the absolute path of a program, and arguments that are passed
// as they are: no shell is involved. Nothing is run yet.
func NewCommand(program string, args []string) (*Command, error) {
	if !filepath.IsAbs(program) {
		return nil, fmt.Errorf("the command needs the absolute path of a program (got %q)", program)
	}
	return &Command{program: program, args: args, dir: "/", limit: commandTime}, nil
}

// Tell runs the program and waits for its end.
func (c *Command) Tell(ctx context.Context, t Telling) error {
	body, err := document(t)
	if err != nil {
		return err
	}
	bounded, cancel := context.WithTimeout(ctx, c.limit)
	defer cancel()
	var complaint, ignored head
	cmd := exec.CommandContext(bounded, c.program, c.args...)
	cmd.Dir = c.dir
	cmd.Env = []string{"PATH=/usr/bin:/bin", "LANG=C.UTF-8"}
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
		return fmt.Errorf("the command %s was stopped: %w", c.program, ctx.Err())
	case bounded.Err() != nil:
		return fmt.Errorf("the command %s did not end within %s and was killed; check what it waits for%s", c.program, c.limit, complaint)
	case !errors.As(err, &exit):
		return fmt.Errorf("the command could not be run; check that it is there and may be executed: %w", err)
	}
	said := fmt.Errorf("the command %s ended with %s%s", c.program, exit, complaint)
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
