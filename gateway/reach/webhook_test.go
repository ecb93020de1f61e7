package reach

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms"
)

var secret = []byte("thimble-garth-secret-0001")

// receiver is a webhook receiver that checks what comes.
type receiver struct {
	*httptest.Server
	t *testing.T

	mu     sync.Mutex
	status int
	hang   bool
	got    []Document
}

func startReceiver(t *testing.T) *receiver {
	t.Helper()
	r := &receiver{t: t, status: http.StatusNoContent}
	r.Server = httptest.NewUnstartedServer(r)
	r.Config.ErrorLog = log.New(io.Discard, "", 0) // refused handshakes are meant to be
	r.StartTLS()
	t.Cleanup(r.Close)
	return r
}

func (r *receiver) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	body, err := io.ReadAll(req.Body)
	if err != nil {
		r.t.Error(err)
	}
	r.mu.Lock()
	status, hangs := r.status, r.hang
	r.mu.Unlock()
	if hangs {
		<-req.Context().Done()
		panic(http.ErrAbortHandler) // or it might still answer, with success
	}
	id := req.Header.Get("webhook-id")
	if err := verify(secret, id, req.Header.Get("webhook-timestamp"), req.Header.Get("webhook-signature"), body, noon, time.Minute); err != nil {
		r.t.Error(err)
	}
	var head struct{ ID string }
	if err := json.Unmarshal(body, &head); err != nil || id != headerID(head.ID) || !regexp.MustCompile(`^msg_[0-9a-f]{32}$`).MatchString(id) {
		r.t.Errorf("the header's ID %q is not that of the body's, %q", id, head.ID)
	}
	if kind := req.Header.Get("Content-Type"); req.Method != http.MethodPost || kind != "application/json; charset=utf-8" {
		r.t.Errorf("got %s of %s", req.Method, kind)
	}
	checkAgainst(r.t, "webhook.json", body)
	var d Document
	if err := json.Unmarshal(body, &d); err != nil {
		r.t.Error(err)
	}
	if status < 300 {
		r.mu.Lock()
		r.got = append(r.got, d)
		r.mu.Unlock()
	}
	w.Header().Set("Location", "https://example.org/elsewhere")
	w.WriteHeader(status)
}

func (r *receiver) set(change func(*receiver)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	change(r)
}

func webhookTo(t *testing.T, r *receiver) *Webhook {
	t.Helper()
	roots := r.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs
	w, err := NewWebhook(WebhookOptions{URL: r.URL + "/hook?token=s3cr3t", Secret: secret, Roots: roots, Now: func() time.Time { return noon }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(w.Close)
	return w
}

func TestWebhookAnswers(t *testing.T) {
	r := startReceiver(t)
	w := webhookTo(t, r)
	for code, want := range map[int]string{
		200: "", 202: "", 204: "",
		301: "denied", 302: "denied", 307: "denied", 308: "denied",
		401: "denied", 403: "denied", 404: "denied", 405: "denied", 410: "denied",
		400: "permanent", 413: "permanent", 415: "permanent", 422: "permanent",
		408: "temporary", 425: "temporary", 429: "temporary", 500: "temporary", 502: "temporary", 503: "temporary", 504: "temporary",
	} {
		r.set(func(r *receiver) { r.status = code })
		err := w.Tell(t.Context(), telling(garden(), "hook", tooHot(alarms.High)))
		if got := kindOfError(err); got != want {
			t.Errorf("%d: got %q (%v), want %q", code, got, err, want)
		}
		noSecrets(t, err)
	}
}

// noSecrets looks for the token in the URL and for the shared secret.
func noSecrets(t *testing.T, err error) {
	t.Helper()
	if err != nil && (strings.Contains(err.Error(), "s3cr3t") || strings.Contains(err.Error(), string(secret)) || strings.Contains(err.Error(), "/hook")) {
		t.Errorf("the sentence shows a secret: %v", err)
	}
}

func TestWebhookUnreached(t *testing.T) {
	r := startReceiver(t)
	w := webhookTo(t, r)
	r.set(func(r *receiver) { r.hang = true })
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	err := w.Tell(ctx, telling(garden(), "hook", tooHot(alarms.High)))
	if !errors.Is(err, context.DeadlineExceeded) || !strings.HasPrefix(err.Error(), "no answer from the webhook at 127.0.0.1:") {
		t.Errorf("got %v", err)
	}
	noSecrets(t, err)

	r.set(func(r *receiver) { r.hang = false })
	_, strangers := certificate(t)
	doubting, err := NewWebhook(WebhookOptions{URL: r.URL + "/hook?token=s3cr3t", Secret: secret, Roots: strangers})
	if err != nil {
		t.Fatal(err)
	}
	defer doubting.Close()
	err = doubting.Tell(t.Context(), telling(garden(), "hook", tooHot(alarms.High)))
	if err == nil || !strings.Contains(err.Error(), "was not accepted; check the certificate and this machine's clock") {
		t.Errorf("a stranger's certificate: got %v", err)
	}
	noSecrets(t, err)

	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	free.Close()
	nobody, err := NewWebhook(WebhookOptions{URL: "http://" + free.Addr().String() + "/hook?token=s3cr3t", Secret: secret})
	if err != nil {
		t.Fatal(err)
	}
	defer nobody.Close()
	err = nobody.Tell(t.Context(), telling(garden(), "hook", tooHot(alarms.High)))
	if err == nil || !strings.Contains(err.Error(), "connection refused") {
		t.Errorf("nobody there: got %v", err)
	}
	noSecrets(t, err)
}

func TestNewWebhookChecks(t *testing.T) {
	cases := []struct {
		give WebhookOptions
		want string
	}{
		{WebhookOptions{URL: "https://example.org/", Secret: secret}, ""},
		{WebhookOptions{URL: "http://127.0.0.1:9/", Secret: secret}, ""},
		{WebhookOptions{URL: "http://example.org/", Secret: secret, AllowPlain: true}, ""},
		{WebhookOptions{URL: "http://example.org/x?token=s3cr3t", Secret: secret},
			"the webhook to example.org uses http; use https, or allow plain http for it if it never leaves your own network"},
		{WebhookOptions{URL: "ftp://example.org/s3cr3t", Secret: secret},
			"the webhook URL must be a whole address that begins with https:// (its text is not shown, it may hold a secret)"},
		{WebhookOptions{URL: "https://example.org/", Secret: []byte("short")},
			"the webhook secret for example.org must have 24 to 64 bytes (got 5)"},
	}
	for _, c := range cases {
		_, err := NewWebhook(c.give)
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.give.URL, got, c.want)
		}
	}
}

// TestAuthenticate uses the test cases of RFC 4231, section 4, that concern
// HMAC-SHA-256 in full length.
func TestAuthenticate(t *testing.T) {
	rep := func(b string, n int) string { return strings.Repeat(b, n) }
	cases := []struct{ key, data, want string }{
		{rep("\x0b", 20), "Hi There", "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"},
		{"Jefe", "what do ya want for nothing?", "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"},
		{rep("\xaa", 20), rep("\xdd", 50), "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe"},
		{"\x01\x02\x03\x04\x05\x06\x07\x08\x09\x0a\x0b\x0c\x0d\x0e\x0f\x10\x11\x12\x13\x14\x15\x16\x17\x18\x19", rep("\xcd", 50),
			"82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b"},
		{rep("\xaa", 131), "Test Using Larger Than Block-Size Key - Hash Key First",
			"60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"},
		{rep("\xaa", 131), "This is a test using a larger than block-size key and a larger than block-size data. The key needs to be hashed before being used by the HMAC algorithm.",
			"9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2"},
	}
	for i, c := range cases {
		half := len(c.data) / 2
		for _, parts := range [][][]byte{{[]byte(c.data)}, {[]byte(c.data[:half]), nil, []byte(c.data[half:])}} {
			if got := hex.EncodeToString(authenticate([]byte(c.key), parts...)); got != c.want {
				t.Errorf("case %d in %d parts: got %s, want %s", i+1, len(parts), got, c.want)
			}
		}
	}
}

// specSecret is the text "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw" without its mark.
const specSecret = "MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

// TestSign compares with the example that documents of the Standard Webhooks
// specification and its libraries' tests use (from memory; the command line of
// another implementation gives the same, see the manual for it), and with HMAC
// put together here from its definition in RFC 2104, section 2.
func TestSign(t *testing.T) {
	key, err := base64.StdEncoding.DecodeString(specSecret)
	if err != nil {
		t.Fatal(err)
	}
	const id, stamp, body = "msg_p5jXN8AQM9LWM0D4loKWxJek", "1614265330", `{"test": 2432232314}`
	got := Sign(key, id, stamp, []byte(body))
	if want := "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="; got != want {
		t.Errorf("the example says %s, we say %s", want, got)
	}
	var inner, outer [sha256.BlockSize]byte
	copy(inner[:], key)
	copy(outer[:], key)
	for i := range inner {
		inner[i] ^= 0x36
		outer[i] ^= 0x5c
	}
	in := sha256.Sum256(append(inner[:], id+"."+stamp+"."+body...))
	out := sha256.Sum256(append(outer[:], in[:]...))
	if want := "v1," + base64.StdEncoding.EncodeToString(out[:]); got != want {
		t.Errorf("the definition gives %s, we say %s", want, got)
	}
}

func TestVerify(t *testing.T) {
	const id, stamp = "msg_1", "1783598400" // noon
	body := `{"version":1}`
	good := Sign(secret, id, stamp, []byte(body))
	other := []byte("thimble-garth-secret-0002")
	const unfit = "the signature does not fit the ID, the time and the body; check that both sides have the same secret"
	const away = "the message is 5m1s away from the receiver's clock, more than 5m0s; check both clocks, or it is an old message sent again"
	cases := []struct {
		name, id, stamp, signature, body string
		secret                           []byte
		now                              time.Time
		want                             string
	}{
		{"good", id, stamp, good, body, secret, noon, ""},
		{"one of several, while secrets change", id, stamp, "v1a,AAAA " + Sign(other, id, stamp, []byte(body)) + " " + good, body, secret, noon, ""},
		{"other body", id, stamp, good, `{"version":2}`, secret, noon, unfit},
		{"other ID", "msg_2", stamp, good, body, secret, noon, unfit},
		{"other time", id, "1783598401", good, body, secret, noon, unfit},
		{"other secret", id, stamp, good, body, other, noon, unfit},
		{"cut short", id, stamp, good[:len(good)-4], body, secret, noon, unfit},
		{"none", id, stamp, "", body, secret, noon, `the header Webhook-Signature must hold a signature that begins with "v1," (got 0 characters)`},
		{"another kind", id, stamp, "v1a,AAAA", body, secret, noon, `the header Webhook-Signature must hold a signature that begins with "v1," (got 8 characters)`},
		{"no time", id, "", good, body, secret, noon, `the header Webhook-Timestamp must be a whole number of seconds (got "")`},
		{"too old", id, stamp, good, body, secret, noon.Add(301 * time.Second), away},
		{"from the future", id, stamp, good, body, secret, noon.Add(-301 * time.Second), away},
	}
	for _, c := range cases {
		err := verify(c.secret, c.id, c.stamp, c.signature, []byte(c.body), c.now, 5*time.Minute)
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

// verify is what a receiver does, or a library of that specification for it: it
// checks the three headers against the body as received, byte for byte and
// before it is parsed, and that the timestamp is no more than tolerance away
// from now. One of the signatures in the header, which are separated by spaces, must
// fit. The receiver should also remember the ID for that long and answer success
// without acting when it comes again.
func verify(secret []byte, id, timestamp, signatures string, body []byte, now time.Time, tolerance time.Duration) error {
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
