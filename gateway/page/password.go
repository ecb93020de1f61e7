package page

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
)

// MinPassword is the least number of characters of a password. A few plain
// words are easier to keep in mind than a short riddle.
const MinPassword = 12

const maxPassword = 512 // characters; more is a mistake or an attack

// Cost of hashing: Argon2id (RFC 9106) with 19 MiB, two passes and one lane,
// small enough for a board with little memory. Only one is computed at a time.
const (
	hashMemory  = 19 * 1024 // KiB
	hashPasses  = 2
	hashLanes   = 1
	hashSaltLen = 16
	hashKeyLen  = 32
)

// Errors of passwords.
var (
	ErrPasswordShort = fmt.Errorf("the page's password is too short: it needs at least %d characters", MinPassword)
	ErrPasswordHash  = errors.New("the page's password hash cannot be read: " +
		"it must look like $argon2id$v=19$m=19456,t=2,p=1$SALT$HASH")
)

// HashPassword returns the Argon2id hash of a password in the usual text form,
// fit for Options.PasswordHash. It fails with ErrPasswordShort.
func HashPassword(password string) (string, error) {
	password = norm.NFC.String(password)
	if utf8.RuneCountInString(password) < MinPassword {
		return "", ErrPasswordShort
	}
	if utf8.RuneCountInString(password) > maxPassword {
		return "", fmt.Errorf("the page's password is too long: it may have at most %d characters", maxPassword)
	}
	h := hash{memory: hashMemory, passes: hashPasses, lanes: hashLanes, salt: make([]byte, hashSaltLen)}
	if _, err := rand.Read(h.salt); err != nil {
		return "", fmt.Errorf("no random numbers for the password's salt: %w", err)
	}
	h.key = h.compute(password, hashKeyLen)
	return h.String(), nil
}

// hash is one Argon2id hash with its settings.
type hash struct {
	memory, passes uint32
	lanes          uint8
	salt, key      []byte
}

func (h hash) compute(password string, length int) []byte {
	return argon2.IDKey([]byte(norm.NFC.String(password)), h.salt, h.passes, h.memory, h.lanes, uint32(length))
}

// matches compares in constant time.
func (h hash) matches(password string) bool {
	return subtle.ConstantTimeCompare(h.compute(password, len(h.key)), h.key) == 1
}

func (h hash) String() string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.memory, h.passes, h.lanes,
		b64.EncodeToString(h.salt), b64.EncodeToString(h.key))
}

// parseHash reads what String wrote and refuses settings that are weak or
// would take the machine's memory.
func parseHash(text string) (hash, error) {
	parts := strings.Split(strings.TrimSpace(text), "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return hash{}, ErrPasswordHash
	}
	var h hash
	if n, err := fmt.Sscanf(parts[3]+"\n", "m=%d,t=%d,p=%d\n", &h.memory, &h.passes, &h.lanes); err != nil || n != 3 {
		return hash{}, ErrPasswordHash
	}
	var errSalt, errKey error
	h.salt, errSalt = base64.RawStdEncoding.DecodeString(parts[4])
	h.key, errKey = base64.RawStdEncoding.DecodeString(parts[5])
	if errSalt != nil || errKey != nil {
		return hash{}, ErrPasswordHash
	}
	strong := h.memory >= 8*1024 && h.passes >= 1 && h.lanes >= 1 && len(h.salt) >= 8 && len(h.key) >= 16
	bearable := h.memory <= 256*1024 && h.passes <= 16 && h.lanes <= 8 && len(h.salt) <= 64 && len(h.key) <= 64
	if !strong || !bearable {
		return hash{}, fmt.Errorf("%w; got m=%d, t=%d, p=%d with %d bytes of salt and %d of hash, "+
			"want m from 8192 to 262144, t up to 16, p up to 8, salt from 8 and hash from 16 bytes",
			ErrPasswordHash, h.memory, h.passes, h.lanes, len(h.salt), len(h.key))
	}
	return h, nil
}
