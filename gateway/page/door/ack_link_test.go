package door

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/scenes"
)

func TestAckLinksReadWhatTheyWrote(t *testing.T) {
	ackLinks := NewAckLinks([]byte("one key"))
	for _, p := range []AckLink{
		{ridgeHigh, string(ridgeHigh) + "#3", "Ada", scenes.Noon},
		{"watch/broker/silent", "watch/broker/silent#12", "Ben von nebenan, Grünes Tor", scenes.Noon.Add(24 * time.Hour)},
		{"a", "another/alarm#1", "", time.Unix(-5, 0)},
		{"a", "a", "x|y", time.Unix(0, 0)},
	} {
		link := ackLinks.Link("https://garden.example.org/", p.Alarm, p.Transition, p.Person, p.Until)
		if !strings.HasPrefix(link, "https://garden.example.org/tap?t=") {
			t.Errorf("got the link %s", link)
		}
		got, err := ackLinks.Read(link[strings.Index(link, "?t=")+3:])
		if err != nil || got.Alarm != p.Alarm || got.Transition != p.Transition || got.Person != p.Person || !got.Until.Equal(p.Until) {
			t.Errorf("got %+v, %v; want %+v", got, err, p)
		}
		if _, err := NewAckLinks([]byte("another key")).Read(link[strings.Index(link, "?t=")+3:]); err == nil {
			t.Error("another key reads it too")
		}
	}
	link := ackLinks.Link("https://garden.example.org", ridgeHigh, string(ridgeHigh)+"#3", "Ada", scenes.Noon)
	if len(link) > 150 {
		t.Errorf("a link of %d characters is long for a message: %s", len(link), link)
	}
}

// The signature is HMAC (RFC 2104) with SHA-256, cut to its first half as
// section 5 of that RFC allows: computed here by its definition,
// H(K xor opad, H(K xor ipad, text)).
func TestAckLinkSignatureIsHMAC(t *testing.T) {
	key := []byte("one key")
	all, err := base64.RawURLEncoding.DecodeString(NewAckLinks(key).sign(AckLink{ridgeHigh, "x", "Ada", scenes.Noon}))
	if err != nil {
		t.Fatal(err)
	}
	text := append([]byte("tap:"), all[:len(all)-16]...)
	inner, outer := make([]byte, 64), make([]byte, 64)
	copy(inner, key)
	copy(outer, key)
	for i := range inner {
		inner[i] ^= 0x36
		outer[i] ^= 0x5c
	}
	in := sha256.Sum256(append(inner, text...))
	want := sha256.Sum256(append(outer, in[:]...))
	if !hmac.Equal(all[len(all)-16:], want[:16]) {
		t.Errorf("got %x, want %x", all[len(all)-16:], want[:16])
	}
}

func TestAckLinksRefuseEveryChangedByte(t *testing.T) {
	ackLinks := NewAckLinks([]byte("one key"))
	good := ackLinks.sign(AckLink{ridgeHigh, string(ridgeHigh) + "#3", "Ada", scenes.Noon})
	raw, err := base64.RawURLEncoding.DecodeString(good)
	if err != nil {
		t.Fatal(err)
	}
	for i := range raw {
		for bit := range 8 {
			bad := append([]byte(nil), raw...)
			bad[i] ^= 1 << bit
			if p, err := ackLinks.Read(base64.RawURLEncoding.EncodeToString(bad)); err == nil {
				t.Fatalf("byte %d, bit %d changed: read as %+v", i, bit, p)
			}
		}
	}
	for i := range good {
		for _, c := range "AQgw_-=+/.\n " {
			bad := good[:i] + string(c) + good[i+1:]
			if _, err := ackLinks.Read(bad); err == nil && bad != good {
				t.Fatalf("character %d as %q: accepted", i, c)
			}
		}
		if _, err := ackLinks.Read(good[:i]); err == nil {
			t.Fatalf("cut to %d characters: accepted", i)
		}
		if _, err := ackLinks.Read(good[:i] + "\n" + good[i:]); err == nil {
			t.Fatalf("with a line break at %d: accepted", i)
		}
	}
	if _, err := ackLinks.Read(good + good); err == nil {
		t.Error("doubled: accepted")
	}
}

// The names of a config have 64 letters at most, so every link can be read.
func TestTheLongestLinkIsRead(t *testing.T) {
	name := strings.Repeat("n", 64)
	ackLinks := NewAckLinks([]byte("one key"))
	give := AckLink{alarms.AlarmID(strings.Join([]string{name, name, name, "temperature", "high-high"}, "/")), name + "#18446744073709551615", name, time.Unix(scenes.Noon.Unix(), 0)}
	if got, err := ackLinks.Read(ackLinks.sign(give)); err != nil || got != give {
		t.Errorf("got %+v, %v", got, err)
	}
}

func FuzzAckLink(f *testing.F) {
	ackLinks := NewAckLinks([]byte("one key"))
	f.Add(ackLinks.sign(AckLink{ridgeHigh, string(ridgeHigh) + "#3", "Ada", scenes.Noon}), []byte{1, 2, 3})
	f.Add("", []byte{0})
	f.Add("AQ", binaryTap("a", "#1", "b"))
	f.Fuzz(func(t *testing.T, token string, inside []byte) {
		if p, err := ackLinks.Read(token); err == nil && ackLinks.sign(p) != token {
			t.Errorf("%q is read as %+v, which is signed as %q", token, p, ackLinks.sign(p))
		}
		if p, err := parseAckLink(inside); err == nil { // behind a right signature, too
			token := ackLinks.sign(p)
			again, err := ackLinks.Read(token)
			switch long := len(token) > maxAckLink; {
			case long && err == nil:
				t.Errorf("a link of %d characters is read", len(token))
			case !long && (err != nil || again != p):
				t.Errorf("%x is read as %+v, then as %+v (%v)", inside, p, again, err)
			}
		}
	})
}

func binaryTap(parts ...string) []byte {
	b := []byte{0x02}
	for _, p := range parts {
		b = append(append(b, byte(len(p))), p...)
	}
	return b
}

const ridgeHigh alarms.AlarmID = "long-house/ridge/temperature/high"
