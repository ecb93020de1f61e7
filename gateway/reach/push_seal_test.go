package reach

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"testing"
)

func raw(t testing.TB, text string) []byte {
	t.Helper()
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestSealOfRFC8291 is the worked example of RFC 8291, section 5, with what
// appendix A says of its steps: from memory, but it checks itself, since
// nobody can make up keys that lead to this body.
func TestSealOfRFC8291(t *testing.T) {
	own, err := ecdh.P256().NewPrivateKey(raw(t, "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"))
	if err != nil {
		t.Fatal(err)
	}
	device, err := ecdh.P256().NewPrivateKey(raw(t, "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"))
	if err != nil {
		t.Fatal(err)
	}
	if got := base64.RawURLEncoding.EncodeToString(device.PublicKey().Bytes()); got != "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4" {
		t.Fatalf("the device's public key: got %s", got)
	}
	auth, salt := raw(t, "BTBZMqHH6r4Tts7J_aSIgg"), raw(t, "DGv6ra1nlYgDCS1FRnbzlw")
	const text = "When I grow up, I want to be a watermelon"
	const want = "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
	body, err := seal([]byte(text), device.PublicKey(), auth, own, salt)
	if err != nil {
		t.Fatal(err)
	}
	if got := base64.RawURLEncoding.EncodeToString(body); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if got, err := unseal(raw(t, want), device, auth); err != nil || string(got) != text {
		t.Errorf("read back: got %q, %v", got, err)
	}
	for i := range body {
		broken := bytes.Clone(body)
		broken[i] ^= 1
		if got, err := unseal(broken, device, auth); err == nil && i >= saltBytes+4 {
			t.Errorf("with byte %d changed it was read as %q", i, got)
		}
	}
}

// TestEncodeOfRFC8188 is the example of RFC 8188, section 3.1, and the one with
// several padded records of section 3.2, which the reader of these tests must
// read: from memory, but they check themselves.
func TestEncodeOfRFC8188(t *testing.T) {
	const text = "I am the walrus"
	body, err := encode([]byte(text), raw(t, "yqdlZ-tYemfogSmv7Ws5PQ"), raw(t, "I1BsxtFttlv3u_Oo94xnmw"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := base64.RawURLEncoding.EncodeToString(body), "I1BsxtFttlv3u_Oo94xnmwAAEAAA-NAVub2qFgBEuQKRapoZu-IxkIva3MEB1PD-ly8Thjg"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	two := raw(t, "uNCkWiNYzKTnBN9ji3-qWAAAABkCYTHOG8chz_gnvgOqdGYovxyjuqRyJFjEDyoF1Fvkj6hQPdPHI51OEUKEpgz3SsLWIqS_uA")
	if got, err := decode(two, raw(t, "BO3ZVPxUlnLORbVGMpbT1Q")); err != nil || string(got) != text {
		t.Errorf("two records: got %q, %v", got, err)
	}
	if _, err := encode(make([]byte, recordBytes-16), body[:16], body[:16], nil); err == nil {
		t.Error("more than a record holds was taken")
	}
}

// unseal reads a body as a device does (RFC 8291, section 3.4), by HMAC alone.
func unseal(body []byte, device *ecdh.PrivateKey, auth []byte) ([]byte, error) {
	if len(body) < 21+pointBytes || body[20] != pointBytes {
		return nil, errors.New("no key of the sender")
	}
	sender, err := ecdh.P256().NewPublicKey(body[21 : 21+pointBytes])
	if err != nil {
		return nil, err
	}
	shared, err := device.ECDH(sender)
	if err != nil {
		return nil, err
	}
	prk := mac(auth, shared)
	return decode(body, mac(prk, []byte("WebPush: info\x00"), device.PublicKey().Bytes(), sender.Bytes(), []byte{1}))
}

func mac(key []byte, parts ...[]byte) []byte {
	m := hmac.New(sha256.New, key)
	for _, p := range parts {
		m.Write(p)
	}
	return m.Sum(nil)
}

// decode reads the content coding aes128gcm, RFC 8188.
func decode(body, material []byte) ([]byte, error) {
	if len(body) < 21 || len(body) < 21+int(body[20]) {
		return nil, errors.New("no header")
	}
	size := int(binary.BigEndian.Uint32(body[16:]))
	prk := mac(body[:16], material)
	key, first := mac(prk, []byte("Content-Encoding: aes128gcm\x00\x01"))[:16], mac(prk, []byte("Content-Encoding: nonce\x00\x01"))[:12]
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		return nil, err
	}
	var all []byte
	rest := body[21+int(body[20]):]
	for n := uint64(0); ; n++ {
		nonce := bytes.Clone(first)
		binary.BigEndian.PutUint64(nonce[4:], binary.BigEndian.Uint64(nonce[4:])^n)
		record := rest[:min(size, len(rest))]
		rest = rest[len(record):]
		text, err := gcm.Open(nil, nonce, record, nil)
		if err != nil {
			return nil, err
		}
		text = bytes.TrimRight(text, "\x00")
		if len(text) == 0 || (text[len(text)-1] == 2) != (len(rest) == 0) {
			return nil, errors.New("no delimiter")
		}
		all = append(all, text[:len(text)-1]...)
		if len(rest) == 0 {
			return all, nil
		}
	}
}
