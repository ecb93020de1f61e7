package reach

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/hkdf"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
)

// Sizes of RFC 8188 and RFC 8291.
const (
	saltBytes   = 16
	authBytes   = 16
	pointBytes  = 65   // of an uncompressed point of P-256
	recordBytes = 4096 // of one record at most, as every push service takes it
	cekBytes    = 16
	nonceBytes  = 12
	lastRecord  = 0x02 // delimits the text of the last record from its padding
)

// seal encrypts text for the device with the public key and the secret auth,
// as RFC 8291 says, into a body of the content coding aes128gcm. own and salt
// must be fresh for each message.
func seal(text []byte, device *ecdh.PublicKey, auth []byte, own *ecdh.PrivateKey, salt []byte) ([]byte, error) {
	shared, err := own.ECDH(device)
	if err != nil {
		return nil, err
	}
	about := "WebPush: info\x00" + string(device.Bytes()) + string(own.PublicKey().Bytes())
	material, err := hkdf.Key(sha256.New, shared, auth, about, sha256.Size)
	if err != nil {
		return nil, err
	}
	return encode(text, material, salt, own.PublicKey().Bytes())
}

// encode writes text as one record of the content coding aes128gcm (RFC 8188,
// section 2).
func encode(text, material, salt, keyID []byte) ([]byte, error) {
	gcm, nonce, err := recordKey(material, salt)
	if err != nil {
		return nil, err
	}
	if room := recordBytes - 1 - gcm.Overhead(); len(text) > room {
		return nil, fmt.Errorf("the message has %d bytes; one record holds %d", len(text), room)
	}
	body := make([]byte, 0, saltBytes+5+len(keyID)+len(text)+1+gcm.Overhead())
	body = append(body, salt...)
	body = binary.BigEndian.AppendUint32(body, recordBytes)
	body = append(body, byte(len(keyID)))
	body = append(body, keyID...)
	return gcm.Seal(body, nonce, append(append([]byte(nil), text...), lastRecord), nil), nil
}

// recordKey derives the key of the records and the nonce of the first one.
func recordKey(material, salt []byte) (cipher.AEAD, []byte, error) {
	pseudo, err := hkdf.Extract(sha256.New, material, salt)
	if err != nil {
		return nil, nil, err
	}
	key, err := hkdf.Expand(sha256.New, pseudo, "Content-Encoding: aes128gcm\x00", cekBytes)
	if err != nil {
		return nil, nil, err
	}
	nonce, err := hkdf.Expand(sha256.New, pseudo, "Content-Encoding: nonce\x00", nonceBytes)
	if err != nil {
		return nil, nil, err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, nil, err
	}
	gcm, err := cipher.NewGCM(block)
	return gcm, nonce, err
}
