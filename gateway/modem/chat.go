package modem

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/rs/zerolog"
)

// chat is the talk with the modem. Its methods are for the one goroutine that
// owns the line. What the modem says unasked, at whatever moment, waits in
// heard.
type chat struct {
	line  *line
	split splitter
	lines []string
	heard []news
	half  *news // its data come in the next line
	text  bool  // text mode
	plain bool  // text mode that writes texts as they are
	log   zerolog.Logger

	quiet   bool   // echo was turned off
	anew    bool   // the modem has started again: it echoes again
	garbage uint64 // lines that mean nothing
}

// news is something that the modem said unasked.
type news struct {
	code string // such as "+CMTI", "RING"
	line string
	data string // of +CMT and +CDS in PDU mode, and of +CMT in text mode
}

// ask is one command.
type ask struct {
	text   string
	want   string // information responses begin so; empty: none
	free   bool   // information responses may be anything
	bodies bool   // each information response has a line of data behind it
	data   string // to be sent when the modem asks for it
	call   bool   // results of a call are final too
	limit  time.Duration
}

const (
	usual   = 10 * time.Second       // limit of a command that says none
	settled = 200 * time.Millisecond // a modem that says nothing for so long has said all
	ctrlZ   = "\x1a"
	escKey  = "\x1b"
)

// errOdd: the modem did something else than the standard says.
var errOdd = errors.New("the modem answers in a way that the standard does not know")

// do sends a command and returns the information that came before its final
// result. A *failure is a result that says no.
func (c *chat) do(ctx context.Context, a ask) ([]string, error) {
	a.limit = cmp.Or(a.limit, usual)
	if err := c.write(a.text + "\r"); err != nil {
		return nil, err
	}
	ends := time.After(a.limit)
	e := exchange{chat: c, ask: a}
	for {
		for len(c.lines) > 0 {
			line := c.lines[0]
			c.lines = c.lines[1:]
			if done, err := e.take(line); done {
				return e.info, err
			}
		}
		if e.asked() && c.split.prompted() {
			if err := e.hand(); err != nil {
				return nil, err
			}
		}
		if err := c.more(ctx, ends); err != nil {
			return e.overdue(err)
		}
	}
}

// more waits for something to come.
func (c *chat) more(ctx context.Context, ends <-chan time.Time) error {
	select {
	case chunk, ok := <-c.line.in:
		if !ok {
			return fmt.Errorf("%w: %w", errGone, c.line.err)
		}
		c.take(chunk)
		return nil
	case <-ends:
		return errSilent
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (c *chat) take(chunk []byte) { c.lines = append(c.lines, c.split.feed(chunk)...) }

func (c *chat) write(text string) error {
	if _, err := c.line.port.Write([]byte(text)); err != nil {
		return fmt.Errorf("%w: %w", errGone, err)
	}
	return nil
}

// exchange is a command under way.
type exchange struct {
	*chat
	ask    ask
	handed bool // the data were sent
	body   bool // the next line is the data of the newest information
	info   []string
}

// asked reports whether the modem is yet to ask for the data.
func (e *exchange) asked() bool { return e.ask.data != "" && !e.handed }

// hand sends the data, which the modem has asked for.
func (e *exchange) hand() error {
	e.handed = true
	return e.write(e.ask.data + ctrlZ)
}

// overdue ends a command whose final result has not come, so that the modem
// can take the next one.
func (e *exchange) overdue(err error) ([]string, error) {
	if e.ask.data != "" && !errors.Is(err, errGone) {
		_ = e.write(escKey) // else it would take the next command for data
	}
	if !errors.Is(err, errSilent) {
		return nil, err
	}
	if n := len(e.info); e.plain && e.ask.bodies && n > 0 && e.info[n-1] == "OK" {
		return append(e.info[:n-1], ""), nil // it was the result, behind an empty text
	}
	return nil, fmt.Errorf("%w to %s within %s", errSilent, e.shown(), e.ask.limit)
}

// shown is the command as it may be logged: without what is secret.
func (e *exchange) shown() string {
	name, _, _ := strings.Cut(e.ask.text, "=")
	return name
}

// take judges one line; done says that the command is over.
func (e *exchange) take(line string) (done bool, err error) {
	switch {
	case line == ">" && e.asked(): // something unasked for followed the prompt at once
		err = e.hand()
		return err != nil, err
	case e.completes(line):
		return false, nil
	case line == e.ask.text || e.ask.data != "" && strings.Trim(line, "> \x1a") == e.ask.data:
		e.anew = e.anew || e.quiet
		return false, nil
	case e.body && e.fits(line):
		e.info, e.body = append(e.info, line), false
		return false, nil
	}
	if f := failed(line); f != nil {
		return true, f
	}
	switch {
	case line == "OK":
		return true, nil
	case e.ask.call && callEnds[line]:
		return true, &failure{kind: line, code: -1}
	case e.ask.want != "" && strings.HasPrefix(line, e.ask.want+":") && answers(e.ask, line):
		e.info, e.body = append(e.info, line), e.ask.bodies
	case e.unasked(line):
	case e.ask.free:
		e.info = append(e.info, line)
	case strings.HasPrefix(line, "+") && strings.HasPrefix(e.ask.text, "AT"+codeOf(line)):
		// more than was asked for
	default:
		e.odd(line)
	}
	return false, nil
}

// fits reports whether line can be the data that are awaited. In PDU mode, and
// where text mode writes UCS-2, data are hexadecimal, so a text "OK" is never
// taken for a result, nor a result for a text. Elsewhere the line behind the
// header is the text, whatever it says.
func (c *chat) fits(line string) bool {
	return hexadecimal(line) || c.plain && !unaskedCodes[codeOf(line)]
}

func hexadecimal(line string) bool {
	return len(line)%2 == 0 && strings.Trim(line, "0123456789ABCDEFabcdef") == ""
}

// callEnds are the results of a call (ITU-T V.250, TS 27.007).
var callEnds = map[string]bool{"NO CARRIER": true, "BUSY": true, "NO ANSWER": true, "NO DIALTONE": true, "NO DIAL TONE": true}

// answers tells the response to a question from the same code said unasked:
// +CREG: 1 is news, +CREG: 0,1 the answer to AT+CREG?. News may go on with an
// area code in quotes, which an answer has further behind.
func answers(a ask, line string) bool {
	if a.want != "+CREG" && a.want != "+CEREG" {
		return true
	}
	_, second, ok := strings.Cut(line, ",")
	second = strings.TrimSpace(second)
	return ok && second != "" && second[0] >= '0' && second[0] <= '9'
}

// completes takes line as the data of news that began before.
func (c *chat) completes(line string) bool {
	if c.half == nil {
		return false
	}
	n := *c.half
	c.half = nil
	if !c.fits(line) { // the modem broke it off
		return false
	}
	n.data = line
	c.heard = append(c.heard, n)
	return true
}

// unaskedCodes are what a modem may say at any moment.
var unaskedCodes = map[string]bool{"+CMTI": true, "+CMT": true, "+CDS": true, "+CDSI": true, "+CREG": true, "+CEREG": true,
	"+CRING": true, "+CLIP": true, "RING": true, "NO CARRIER": true, "BUSY": true, "NO ANSWER": true, "NO DIALTONE": true,
	"NO DIAL TONE": true, "+CPIN": true}

// codeOf is what stands before the colon of a line, or all of it.
func codeOf(line string) string {
	code, _, _ := strings.Cut(line, ":")
	return code
}

// unasked takes line as news, if it is.
func (c *chat) unasked(line string) bool {
	code := codeOf(line)
	if !unaskedCodes[code] {
		return false
	}
	n := news{code: code, line: line}
	if code == "+CMT" || code == "+CDS" && !c.text {
		c.half = &n
		return true
	}
	c.heard = append(c.heard, n)
	return true
}

// odd counts a line that means nothing, and logs the first.
func (c *chat) odd(line string) {
	if c.garbage++; c.garbage == 1 {
		c.log.Info().Str("line", clipped(line)).Msg("the modem said something that is not known here; it is ignored, and so is more of the kind")
	}
}

func clipped(s string) string { return s[:min(len(s), 80)] }

// listen takes what came while no command is under way.
func (c *chat) listen(chunk []byte) {
	c.take(chunk)
	for _, line := range c.lines {
		if !c.completes(line) && !c.unasked(line) {
			c.odd(line)
		}
	}
	c.lines = nil
}

// rouse asks until the modem answers, and throws away what it still has to say
// on what was asked before.
func (c *chat) rouse(ctx context.Context, tries int, limit time.Duration) error {
	var err error
	for range tries {
		if _, err = c.do(ctx, ask{text: "AT", limit: limit}); err == nil || errors.Is(err, errGone) || ctx.Err() != nil {
			break
		}
	}
	if err != nil {
		return err
	}
	settle := time.After(min(limit/10, settled))
	for {
		switch err := c.more(ctx, settle); {
		case errors.Is(err, errSilent):
			c.listen(nil)
			return nil
		case err != nil:
			return err
		}
	}
}
