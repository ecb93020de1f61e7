package reach

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// tokenLife is how long a push service may take a token for good; RFC 8292
// allows a day.
const tokenLife = 12 * time.Hour

// PushKey is what the watch shows push services that it is the one for which
// its devices were registered (RFC 8292). A new one makes all devices useless.
type PushKey struct {
	private *ecdsa.PrivateKey
	public  []byte
	topics  []byte // makes topics that say nothing to who does not have it
}

// OpenPushKey reads the key in the file at path, or makes one there that its
// owner alone may read. Rights that others have on the file are taken away.
func OpenPushKey(path string) (*PushKey, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return makePushKey(path)
	}
	if err != nil {
		return nil, fmt.Errorf("the key for push services cannot be read: %w", err)
	}
	if err := Hide(path); err != nil {
		return nil, fmt.Errorf("the key for push services cannot be kept from others: %w", err)
	}
	block, _ := pem.Decode(text)
	if block == nil {
		return nil, notPushKey(path)
	}
	parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	private, ok := parsed.(*ecdsa.PrivateKey)
	if err != nil || !ok || private.Curve != elliptic.P256() {
		return nil, notPushKey(path)
	}
	return newPushKey(private)
}

// Hide leaves a file to its owner alone. One that is so already may lie on a
// disk that cannot be written.
func Hide(path string) error {
	if info, err := os.Stat(path); err == nil && info.Mode().Perm() == 0o600 {
		return nil
	}
	return os.Chmod(path, 0o600)
}

func notPushKey(path string) error {
	return fmt.Errorf("%s holds no key for push services (a P-256 key in PEM form): restore it from a copy, or move it away and register every device anew", path)
}

// makePushKey makes a key and puts it in place whole.
func makePushKey(path string) (*PushKey, error) {
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	der, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		return nil, err
	}
	if err := WriteHidden(path, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})); err != nil {
		return nil, fmt.Errorf("the key for push services cannot be kept: %w", err)
	}
	return newPushKey(private)
}

// WriteHidden writes a file that its owner alone may read; after a crash it is
// there whole or not at all.
func WriteHidden(path string, text []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".new-") // with rights 0600
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func newPushKey(private *ecdsa.PrivateKey) (*PushKey, error) {
	public, err := private.PublicKey.Bytes()
	if err != nil {
		return nil, err
	}
	secret, err := private.Bytes()
	if err != nil {
		return nil, err
	}
	return &PushKey{private: private, public: public, topics: authenticate(secret, []byte("topics"))}, nil
}

// Public is the key that a browser needs to register, in base64url.
func (k *PushKey) Public() string { return base64.RawURLEncoding.EncodeToString(k.public) }

// authorization is the header by which the push service at u knows the watch:
// a JWT (RFC 7519) signed with ES256 (RFC 7515, RFC 7518) and the public key.
func (k *PushKey) authorization(u *url.URL, contact string, now time.Time) (string, error) {
	origin := u.Scheme + "://" + u.Host
	if u.Scheme == "https" {
		origin = strings.TrimSuffix(origin, ":443")
	}
	claims, err := json.Marshal(map[string]any{
		"aud": origin, "exp": now.Add(tokenLife).Unix(), "sub": contact})
	if err != nil {
		return "", err
	}
	part := base64.RawURLEncoding.EncodeToString
	signed := part([]byte(`{"typ":"JWT","alg":"ES256"}`)) + "." + part(claims)
	sum := sha256.Sum256([]byte(signed))
	r, s, err := ecdsa.Sign(rand.Reader, k.private, sum[:])
	if err != nil {
		return "", err
	}
	signature := make([]byte, 64)
	r.FillBytes(signature[:32])
	s.FillBytes(signature[32:])
	return "vapid t=" + signed + "." + part(signature) + ", k=" + k.Public(), nil
}

// topic is a name for about under which a push service keeps only the newest
// message (RFC 8030, section 5.4, which allows 32 characters).
func (k *PushKey) topic(about string) string {
	m := hmac.New(sha256.New, k.topics)
	m.Write([]byte(about))
	return base64.RawURLEncoding.EncodeToString(m.Sum(nil)[:24])
}
