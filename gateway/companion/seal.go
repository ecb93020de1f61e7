package companion

import (
	"bytes"
	"compress/gzip"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// seal keeps what two watches say to one another over a broker from all others there:
// who has no token can neither read nor make it. It is JSON, packed (gzip, RFC 1952) and
// sealed by AES-256-GCM under a key that HKDF-SHA256 (RFC 5869) makes of the token. The
// topic is part of what is sealed: a question is no answer.
type seal struct{ aead cipher.AEAD }

func newSeal(token string) (seal, error) {
	key, err := hkdf.Key(sha256.New, []byte(token), nil, "telltale companion 1", 32)
	if err != nil {
		return seal{}, err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return seal{}, err
	}
	aead, err := cipher.NewGCMWithRandomNonce(block)
	return seal{aead}, err
}

func (s seal) close(topic string, v any) ([]byte, error) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if err := errors.Join(json.NewEncoder(z).Encode(v), z.Close()); err != nil {
		return nil, err
	}
	return s.aead.Seal(nil, nil, packed.Bytes(), []byte(topic)), nil
}

func (s seal) open(topic string, sealed []byte, into any) error {
	packed, err := s.aead.Open(nil, nil, sealed, []byte(topic))
	if err != nil {
		return fmt.Errorf("it is sealed by another token, or damaged: %w", err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return err
	}
	return json.NewDecoder(io.LimitReader(z, most)).Decode(into)
}
