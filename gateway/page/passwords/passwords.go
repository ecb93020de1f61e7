// Package passwords says what is a password of the page and what the hash of one,
// and makes and checks such hashes: Argon2id (RFC 9106).
//
// It promises that what Check and Parse take can be used, and that a password fits
// its hash however its letters are composed (Unicode NFC). An error goes on from
// whatever names the text, and never repeats it.
package passwords

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"

	"telltale/alarms/tongue"
)

// Bounds of a password, characters. A few plain words are easier to keep in mind
// than a short riddle; more than Most is a mistake or an attack.
const (
	least = 12
	Most  = 512
)

// Usual are the settings of new hashes: 19 MiB, two passes and one lane, small
// enough for a board with little memory if only one is computed at a time.
var Usual = Hash{Memory: 19 * 1024, Passes: 2, Lanes: 1}

// Lengths in new hashes, bytes.
const (
	SaltLength = 16
	keyLength  = 32
)

// ErrHash is the error of Parse.
var ErrHash = errors.New(string(hashForm))

const hashForm tongue.Text = "must be a hash such as $argon2id$v=19$m=19456,t=2,p=1$SALT$HASH"

// Check returns why text is no password, nil if it is one.
func Check(text string) error {
	switch n := utf8.RuneCountInString(norm.NFC.String(text)); {
	case n < least:
		return tongue.Put("must hold at least %d characters, a few plain words for example (got %d)", least, n)
	case n > Most:
		return tongue.Put("must hold at most %d characters (got %d)", Most, n)
	}
	return nil
}

// New makes the hash of a password, with a salt of its own. Errors: those of Check.
func New(text string) (Hash, error) {
	if err := Check(text); err != nil {
		return Hash{}, err
	}
	h := Usual
	h.Salt = make([]byte, SaltLength)
	if _, err := rand.Read(h.Salt); err != nil {
		return Hash{}, fmt.Errorf("gets no random numbers for its salt: %w", err)
	}
	return h.Of(text), nil
}

// Hash is one Argon2id hash with its settings.
type Hash struct {
	Memory    uint32 // KiB
	Passes    uint32
	Lanes     uint8
	Salt, Key []byte
}

// Of is the hash of a password with the settings and the salt of h.
func (h Hash) Of(password string) Hash {
	h.Key = h.compute(password, keyLength)
	return h
}

func (h Hash) compute(password string, length int) []byte {
	return argon2.IDKey([]byte(norm.NFC.String(password)), h.Salt, h.Passes, h.Memory, h.Lanes, uint32(length))
}

// Matches compares in constant time.
func (h Hash) Matches(password string) bool {
	return subtle.ConstantTimeCompare(h.compute(password, len(h.Key)), h.Key) == 1
}

// String writes the hash as it is usual.
func (h Hash) String() string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.Memory, h.Passes, h.Lanes,
		b64.EncodeToString(h.Salt), b64.EncodeToString(h.Key))
}

// Parse reads what String wrote and refuses settings that are weak or would take
// the machine's memory. Errors: ErrHash.
func Parse(text string) (Hash, error) {
	parts := strings.Split(strings.TrimSpace(text), "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return Hash{}, tongue.Put(hashForm).Of(ErrHash)
	}
	var h Hash
	if n, err := fmt.Sscanf(parts[3]+"\n", "m=%d,t=%d,p=%d\n", &h.Memory, &h.Passes, &h.Lanes); err != nil || n != 3 {
		return Hash{}, tongue.Put(hashForm).Of(ErrHash)
	}
	var errSalt, errKey error
	h.Salt, errSalt = base64.RawStdEncoding.DecodeString(parts[4])
	h.Key, errKey = base64.RawStdEncoding.DecodeString(parts[5])
	if errSalt != nil || errKey != nil {
		return Hash{}, tongue.Put(hashForm).Of(ErrHash)
	}
	strong := h.Memory >= 8*1024 && h.Passes >= 1 && h.Lanes >= 1 && len(h.Salt) >= 8 && len(h.Key) >= 16
	bearable := h.Memory <= 256*1024 && h.Passes <= 16 && h.Lanes <= 8 && len(h.Salt) <= 64 && len(h.Key) <= 64
	if !strong || !bearable {
		return Hash{}, tongue.Put(hashForm+"; got m=%d, t=%d, p=%d with %d bytes of salt and %d of hash, "+
			"want m from 8192 to 262144, t up to 16, p up to 8, salt from 8 and hash from 16 bytes",
			h.Memory, h.Passes, h.Lanes, len(h.Salt), len(h.Key)).Of(ErrHash)
	}
	return h, nil
}
