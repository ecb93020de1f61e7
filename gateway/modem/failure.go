package modem

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Errors that a caller may want to tell apart.
var (
	// ErrNotReady: nothing was tried, because nothing could go out now.
	ErrNotReady = errors.New("the modem is not ready")
	// ErrRefused: another try with the same number or text will not help.
	ErrRefused = errors.New("the message will not get through")
	// ErrNobody is an ErrRefused by the network, which knows nobody at the number.
	ErrNobody = fmt.Errorf("%w", ErrRefused)
	// errSpent: the day's number of messages has gone out.
	errSpent = errors.New("the day's text messages are spent")
	// errNotReached: a call did not ring.
	errNotReached = errors.New("the call did not ring")

	errSilent = errors.New("the modem gives no answer")
	errGone   = errors.New("the line to the modem is broken")
)

// failure is a final result code that says no.
type failure struct {
	kind string // "CME", "CMS" or the result code itself
	code int    // -1 if none was given
	text string
}

func (f *failure) Error() string {
	switch {
	case f.code >= 0 && f.text != "":
		return fmt.Sprintf("the modem says: %s (%s error %d)", f.text, f.kind, f.code)
	case f.code >= 0:
		return fmt.Sprintf("the modem says: %s error %d", f.kind, f.code)
	case f.text != "":
		return "the modem says: " + f.text
	}
	return "the modem says: " + f.kind
}

// is reports whether f is one of some codes of a kind; texts are compared
// too, for modems that write words only.
func (f *failure) is(kind string, codes ...int) bool {
	words := cmeWords
	if kind == "CMS" {
		words = cmsWords
	}
	return f.kind == kind && slices.ContainsFunc(codes, func(c int) bool {
		return f.code == c || f.code < 0 && strings.EqualFold(f.text, words[c])
	})
}

// failed reads a final result code; nil: line is none that says no.
func failed(line string) *failure {
	for _, kind := range []string{"CME", "CMS"} {
		rest, ok := strings.CutPrefix(line, "+"+kind+" ERROR:")
		if !ok {
			continue
		}
		rest = strings.TrimSpace(rest)
		n, err := strconv.Atoi(rest)
		if err != nil || n < 0 {
			return &failure{kind: kind, code: -1, text: rest}
		}
		words := cmeWords
		if kind == "CMS" {
			words = cmsWords
		}
		return &failure{kind: kind, code: n, text: words[n]}
	}
	if line == "ERROR" || line == "COMMAND NOT SUPPORT" {
		return &failure{kind: "ERROR", code: -1}
	}
	return nil
}

// cmeWords are those of TS 27.007, section 9.2, that a modem for messages and
// calls gives.
var cmeWords = map[int]string{
	0: "phone failure", 1: "no connection to phone", 3: "operation not allowed", 4: "operation not supported",
	10: "SIM not inserted", 11: "SIM PIN required", 12: "SIM PUK required", 13: "SIM failure", 14: "SIM busy", 15: "SIM wrong",
	16: "incorrect password", 17: "SIM PIN2 required", 18: "SIM PUK2 required", 20: "memory full", 21: "invalid index",
	22: "not found", 30: "no network service", 31: "network timeout", 32: "network not allowed - emergency calls only", 100: "unknown",
}

// cmsWords are those of TS 27.005, section 3.2.5, of TS 24.011, annex E, and
// of TS 23.040, section 9.2.3.22.
var cmsWords = map[int]string{
	1: "unassigned number", 8: "operator determined barring", 10: "call barred", 21: "short message transfer rejected",
	27: "destination out of service", 28: "unidentified subscriber", 29: "facility rejected", 30: "unknown subscriber",
	38: "network out of order", 41: "temporary failure", 42: "congestion", 47: "resources unavailable",
	50: "requested facility not subscribed", 69: "requested facility not implemented", 96: "invalid mandatory information",
	111: "protocol error", 127: "interworking",
	192: "SC busy", 193: "no SC subscription", 194: "SC system failure", 195: "invalid SME address", 196: "destination SME barred",
	300: "ME failure", 301: "SMS service of ME reserved", 302: "operation not allowed", 303: "operation not supported",
	304: "invalid PDU mode parameter", 305: "invalid text mode parameter",
	310: "SIM not inserted", 311: "SIM PIN required", 312: "PH-SIM PIN required", 313: "SIM failure", 314: "SIM busy", 315: "SIM wrong",
	316: "SIM PUK required", 320: "memory failure", 321: "invalid memory index", 322: "memory full", 330: "SMSC address unknown",
	331: "no network service", 332: "network timeout", 340: "no +CNMA acknowledgement expected", 500: "unknown error",
}

// sendError says what to check when the network or the modem did not take a
// message. Only a wrong number or a wrong text is for good.
func sendError(err error, to string) error {
	var f *failure
	switch {
	case !errors.As(err, &f):
		return err
	case f.is("CMS", 1, 28, 30, 195):
		return fmt.Errorf("%w: check the number %s: %w", ErrNobody, to, f)
	case f.is("CMS", 8, 10, 21, 29, 50, 193):
		return fmt.Errorf("the network does not take the message; check the credit and what the SIM may do: %w", f)
	case f.is("CMS", 330):
		return fmt.Errorf("the SIM does not know its service centre; give service-centre in [modem] or check the SIM: %w", f)
	}
	return fmt.Errorf("the message was not taken; check the network, the signal and the credit: %w", f)
}

// Spent says until when only messages of high priority go out.
type Spent struct {
	Most  int
	Until time.Time
}

func (s *Spent) Error() string {
	return fmt.Sprintf("%v: %d were allowed, and until midnight only high priority goes out; raise most-per-day in [modem] if that is too few", errSpent, s.Most)
}

// Unwrap makes s an errSpent.
func (s *Spent) Unwrap() error { return errSpent }
