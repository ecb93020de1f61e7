package page

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"strings"
	"time"

	"telltale/alarms"
)

const (
	tapForm = 1 // of what is signed; a link in another form is not read
	// tapMAC is how much of the HMAC travels: half of it, the least that
	// RFC 2104, section 5, advises; nobody guesses 128 bits.
	tapMAC = sha256.Size / 2
	maxTap = 1024 // characters of a token
)

// errTap: the token was not made by this watch, or not for this form.
var errTap = errors.New("this is no link that this watch has made")

// Taps makes and reads links that acknowledge one alarm with one tap. A link
// names the alarm, the transition that was told, the person who was told and
// when the link ends. It is signed: only who knows the key can make one.
type Taps struct{ key []byte }

// NewTaps returns what signs with key, which must stay secret and the same for
// as long as links live.
func NewTaps(key []byte) *Taps { return &Taps{key: bytes.Clone(key)} }

// Link returns the address below base, where people find the page, by which
// person may acknowledge alarm, as long as transition is its newest, until the
// given time (whole seconds count).
func (t *Taps) Link(base string, alarm alarms.AlarmID, transition, person string, until time.Time) string {
	return strings.TrimSuffix(base, "/") + "/tap?t=" + t.sign(tap{alarm, transition, person, until})
}

// tap is what one link stands for.
type tap struct {
	alarm      alarms.AlarmID
	transition string
	person     string
	until      time.Time
}

// sign writes p as a token.
func (t *Taps) sign(p tap) string {
	b := []byte{tapForm}
	b = binary.AppendVarint(b, p.until.Unix())
	for _, part := range []string{string(p.alarm), shortTransition(p.alarm, p.transition), p.person} {
		b = binary.AppendUvarint(b, uint64(len(part)))
		b = append(b, part...)
	}
	return base64.RawURLEncoding.EncodeToString(append(b, t.mac(b)...))
}

// shortTransition leaves out of a transition's ID the alarm's, with which it
// usually begins: links are short that way.
func shortTransition(a alarms.AlarmID, transition string) string {
	if rest, ok := strings.CutPrefix(transition, string(a)); ok && strings.HasPrefix(rest, "#") {
		return rest
	}
	return transition
}

func (t *Taps) mac(b []byte) []byte {
	m := hmac.New(sha256.New, t.key)
	m.Write([]byte("tap:"))
	m.Write(b)
	return m.Sum(nil)[:tapMAC]
}

// read returns what a token stands for, if this key signed it. Whether it has
// ended is for the caller to judge.
func (t *Taps) read(token string) (tap, error) {
	if len(token) > maxTap {
		return tap{}, errTap
	}
	all, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(all) <= tapMAC || strings.ContainsAny(token, "\r\n") {
		return tap{}, errTap
	}
	b, mac := all[:len(all)-tapMAC], all[len(all)-tapMAC:]
	if !hmac.Equal(mac, t.mac(b)) || b[0] != tapForm {
		return tap{}, errTap
	}
	return parseTap(b[1:])
}

// parseTap reads what sign wrote, after the form.
func parseTap(b []byte) (tap, error) {
	until, n := binary.Varint(b)
	if n <= 0 {
		return tap{}, errTap
	}
	b = b[n:]
	var parts [3]string
	for i := range parts {
		size, n := binary.Uvarint(b)
		if n <= 0 || size > uint64(len(b)-n) {
			return tap{}, errTap
		}
		parts[i], b = string(b[n:n+int(size)]), b[n+int(size):]
	}
	if len(b) != 0 {
		return tap{}, errTap
	}
	p := tap{alarm: alarms.AlarmID(parts[0]), transition: parts[1], person: parts[2], until: time.Unix(until, 0)}
	if strings.HasPrefix(p.transition, "#") {
		p.transition = parts[0] + p.transition
	}
	return p, nil
}
