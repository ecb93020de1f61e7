package reach

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Headers of a webhook request, by the Standard Webhooks specification.
const (
	IDHeader        = "Webhook-Id"
	TimestampHeader = "Webhook-Timestamp" // seconds since 1970, decimal
	SignatureHeader = "Webhook-Signature" // see Sign
)

// Bytes of a webhook secret, by that specification.
const (
	leastSecret = 24
	mostSecret  = 64
)

const signatureVersion = "v1,"

// headerID is what stands in IDHeader for a Document's ID, which may hold
// characters that no header may, and full stops.
func headerID(id string) string {
	sum := sha256.Sum256([]byte(id))
	return "msg_" + hex.EncodeToString(sum[:16])
}

// Sign returns the signature of a webhook request as in version 1 of the
// Standard Webhooks specification: "v1," and, in base64, the HMAC-SHA-256
// (RFC 2104, FIPS 180-4) under secret of the ID in the header, the timestamp
// and the body, with a full stop between them.
func Sign(secret []byte, id, timestamp string, body []byte) string {
	return signatureVersion + base64.StdEncoding.EncodeToString(authenticate(secret, []byte(id), []byte("."), []byte(timestamp), []byte("."), body))
}

// authenticate is HMAC-SHA-256 over the parts put together.
func authenticate(secret []byte, parts ...[]byte) []byte {
	mac := hmac.New(sha256.New, secret)
	for _, p := range parts {
		mac.Write(p)
	}
	return mac.Sum(nil)
}

// Verify is what a receiver does, or a library of that specification for it: it
// checks the three headers against the body as received, byte for byte and
// before it is parsed, and that the timestamp is no more than tolerance away
// from now. One of the signatures in the header, which are parted by spaces, must
// fit. The receiver should also remember the ID for that long and answer success
// without acting when it comes again.
func Verify(secret []byte, id, timestamp, signatures string, body []byte, now time.Time, tolerance time.Duration) error {
	seconds, err := strconv.ParseInt(timestamp, 10, 64)
	if err != nil {
		return fmt.Errorf("the header %s must be a whole number of seconds (got %q)", TimestampHeader, timestamp)
	}
	fits, read := false, false
	for _, one := range strings.Fields(signatures) {
		read = read || strings.HasPrefix(one, signatureVersion)
		fits = fits || hmac.Equal([]byte(one), []byte(Sign(secret, id, timestamp, body)))
	}
	switch {
	case !read:
		return fmt.Errorf("the header %s must hold a signature that begins with %q (got %d characters)", SignatureHeader, signatureVersion, len(signatures))
	case !fits:
		return fmt.Errorf("the signature does not fit the ID, the time and the body; check that both sides have the same secret")
	}
	if away := now.Sub(time.Unix(seconds, 0)).Abs(); away > tolerance {
		return fmt.Errorf("the message is %s away from the receiver's clock, more than %s; check both clocks, or it is an old message sent again", away.Round(time.Second), tolerance)
	}
	return nil
}
