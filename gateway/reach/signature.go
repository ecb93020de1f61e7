package reach

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"time"
)

// Headers of a webhook request.
const (
	TimestampHeader = "Telltale-Timestamp" // seconds since 1970, decimal
	SignatureHeader = "Telltale-Signature" // see Sign
)

// Sign returns the signature of a webhook body: HMAC-SHA-256 (RFC 2104,
// FIPS 180-4) under secret of the timestamp, a full stop and the body, written
// as 64 lower-case hex digits.
func Sign(secret []byte, timestamp string, body []byte) string {
	return hex.EncodeToString(authenticate(secret, []byte(timestamp), []byte("."), body))
}

// authenticate is HMAC-SHA-256 over the parts put together.
func authenticate(secret []byte, parts ...[]byte) []byte {
	mac := hmac.New(sha256.New, secret)
	for _, p := range parts {
		mac.Write(p)
	}
	return mac.Sum(nil)
}

// Verify is what a receiver does: it checks the two headers against the body as
// received, byte for byte and before it is parsed, and that the timestamp is no
// more than tolerance away from now. The receiver should also remember the id
// in the body for that long and answer success without acting when it comes
// again. A receiver in another language does the same in these steps.
func Verify(secret []byte, timestamp, signature string, body []byte, now time.Time, tolerance time.Duration) error {
	seconds, err := strconv.ParseInt(timestamp, 10, 64)
	if err != nil {
		return fmt.Errorf("the header %s must be a whole number of seconds (got %q)", TimestampHeader, timestamp)
	}
	got, err := hex.DecodeString(signature)
	if err != nil || len(got) != sha256.Size {
		return fmt.Errorf("the header %s must be 64 hex digits (got %d characters)", SignatureHeader, len(signature))
	}
	if !hmac.Equal(got, authenticate(secret, []byte(timestamp), []byte("."), body)) {
		return fmt.Errorf("the signature does not fit the body; check that both sides have the same secret")
	}
	if away := now.Sub(time.Unix(seconds, 0)).Abs(); away > tolerance {
		return fmt.Errorf("the message is %s away from the receiver's clock, more than %s; check both clocks, or it is an old message sent again", away.Round(time.Second), tolerance)
	}
	return nil
}
