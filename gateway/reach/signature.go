package reach

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
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
