package door

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
	ackLinkForm = 1 // of what is signed; a link in another form is not read
	// ackLinkMAC is how much of the HMAC travels: half of it, the least that
	// RFC 2104, section 5, advises; nobody guesses 128 bits.
	ackLinkMAC = sha256.Size / 2
	maxAckLink = 1024 // characters of a token
)

// errAckLink: the token was not made by this watch, or not for this form.
var errAckLink = errors.New("this is no link that this watch has made")

// AckLinks makes and reads links that acknowledge one alarm with one tap. A link
// names the alarm, the transition that was told, the person who was told and
// when the link ends. It is signed: only who knows the key can make one.
type AckLinks struct{ key []byte }

// NewAckLinks returns what signs with key, which must stay secret and the same for
// as long as links live.
func NewAckLinks(key []byte) *AckLinks { return &AckLinks{key: bytes.Clone(key)} }

// Link returns the address below base, where people find the page, by which
// person may acknowledge alarm, as long as transition is its newest, until the
// given time (whole seconds count).
func (t *AckLinks) Link(base string, alarm alarms.AlarmID, transition, person string, until time.Time) string {
	return strings.TrimSuffix(base, "/") + "/tap?t=" + t.sign(AckLink{alarm, transition, person, until})
}

// AckLink is what one link stands for.
type AckLink struct {
	Alarm      alarms.AlarmID
	Transition string
	Person     string
	Until      time.Time
}

// sign writes p as a token.
func (t *AckLinks) sign(p AckLink) string {
	b := []byte{ackLinkForm}
	b = binary.AppendVarint(b, p.Until.Unix())
	for _, part := range []string{string(p.Alarm), shortTransition(p.Alarm, p.Transition), p.Person} {
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

func (t *AckLinks) mac(b []byte) []byte {
	m := hmac.New(sha256.New, t.key)
	m.Write([]byte("tap:"))
	m.Write(b)
	return m.Sum(nil)[:ackLinkMAC]
}

// Read returns what a token stands for, if this key signed it. Whether it has
// ended is for the caller to judge.
func (t *AckLinks) Read(token string) (AckLink, error) {
	if len(token) > maxAckLink {
		return AckLink{}, errAckLink
	}
	all, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(all) <= ackLinkMAC || strings.ContainsAny(token, "\r\n") {
		return AckLink{}, errAckLink
	}
	b, mac := all[:len(all)-ackLinkMAC], all[len(all)-ackLinkMAC:]
	if !hmac.Equal(mac, t.mac(b)) || b[0] != ackLinkForm {
		return AckLink{}, errAckLink
	}
	return parseAckLink(b[1:])
}

// parseAckLink reads what sign wrote, after the form.
func parseAckLink(b []byte) (AckLink, error) {
	until, n := binary.Varint(b)
	if n <= 0 {
		return AckLink{}, errAckLink
	}
	b = b[n:]
	var parts [3]string
	for i := range parts {
		size, n := binary.Uvarint(b)
		if n <= 0 || size > uint64(len(b)-n) {
			return AckLink{}, errAckLink
		}
		parts[i], b = string(b[n:n+int(size)]), b[n+int(size):]
	}
	if len(b) != 0 {
		return AckLink{}, errAckLink
	}
	p := AckLink{Alarm: alarms.AlarmID(parts[0]), Transition: parts[1], Person: parts[2], Until: time.Unix(until, 0)}
	if strings.HasPrefix(p.Transition, "#") {
		p.Transition = parts[0] + p.Transition
	}
	return p, nil
}
