package entry

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"strings"
	"sync"
	"time"
)

const (
	tries   = 5
	goodFor = 30 * time.Minute // the code, and then the browser that gave it
	// letters of a code: those that look like a digit are left out, and taken for it.
	letters    = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	codeLength = 8
)

// stage is how far the first person has come.
type stage uint8

const (
	asking stage = iota // for the code
	taken               // by one browser
	made                // the account is there
	closed              // too many wrong codes, or too late
)

// lock is the code, and who has opened it. Times are given by its user and have a
// monotonic reading.
type lock struct {
	mu     sync.Mutex
	code   string
	left   int
	until  time.Time
	stage  stage
	holder [sha256.Size]byte // of the browser's ticket
}

func newLock(now time.Time) *lock {
	raw := make([]byte, codeLength)
	_, _ = rand.Read(raw) // it never fails: it ends the process
	for i := range raw {
		raw[i] = letters[int(raw[i])%len(letters)] // 256 is a multiple of 32
	}
	return &lock{code: string(raw), left: tries, until: now.Add(goodFor)}
}

// words are the code as people read and type it.
func (l *lock) words() string { return l.code[:codeLength/2] + "-" + l.code[codeLength/2:] }

// tidied is what was typed as a code is kept; "" where it cannot be one.
func tidied(typed string) string {
	if len(typed) > 64 {
		return ""
	}
	out := strings.NewReplacer(" ", "", "-", "", "I", "1", "L", "1", "O", "0").Replace(strings.ToUpper(typed))
	if len(out) != codeLength || strings.Trim(out, letters) != "" {
		return ""
	}
	return out
}

// at is the stage at a time. It is called with mu held.
func (l *lock) at(now time.Time) stage {
	if l.stage != made && !now.Before(l.until) {
		l.stage = closed
	}
	return l.stage
}

// try compares what was typed with the code. Right, it gives a ticket, once.
func (l *lock) try(typed string, now time.Time) (ticket string, s stage, left int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.at(now) != asking {
		return "", l.stage, 0
	}
	guess := tidied(typed)
	if guess == "" {
		return "", asking, l.left
	}
	if subtle.ConstantTimeCompare([]byte(guess), []byte(l.code)) == 1 {
		ticket = rand.Text()
		l.stage, l.holder, l.until = taken, sha256.Sum256([]byte(ticket)), now.Add(goodFor)
		return ticket, taken, 0
	}
	if l.left--; l.left == 0 {
		l.stage = closed
	}
	return "", l.stage, l.left
}

// look returns the stage, and whether a ticket is that of the browser inside.
func (l *lock) look(ticket string, now time.Time) (s stage, mine bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	sum := sha256.Sum256([]byte(ticket))
	s = l.at(now)
	return s, (s == taken || s == made) && subtle.ConstantTimeCompare(sum[:], l.holder[:]) == 1
}

// make calls do for the browser inside, one call at a time; where do succeeds, it
// is the last. after is called then, and again for a browser that comes back.
func (l *lock) make(ticket string, now time.Time, do func() error, after func()) (mine bool, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	sum := sha256.Sum256([]byte(ticket))
	at := l.at(now)
	if at != taken && at != made || subtle.ConstantTimeCompare(sum[:], l.holder[:]) != 1 {
		return false, nil
	}
	if at == taken {
		if err = do(); err != nil {
			return true, err
		}
		l.stage = made
	}
	after()
	return true, nil
}

// ends is how long it is until nobody is let in any more, and why that is.
func (l *lock) ends(now time.Time) (s stage, wait time.Duration, why string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	why = "The half hour for it is over."
	if l.left == 0 {
		why = "Five wrong codes were given."
	}
	return l.at(now), l.until.Sub(now), why
}
