package passwords

import (
	"errors"
	"strings"
	"testing"
)

const fits = "lettuce kettle bramble"

// Made with the reference command-line program of Argon2 (RFC 9106):
// argon2 thimblegarthsalt16 -id -t 2 -k 19456 -p 1 -l 32 -e
func TestForeignHashIsRead(t *testing.T) {
	h, err := Parse("$argon2id$v=19$m=19456,t=2,p=1$cXVhcnJ5YmFua3NhbHQxNg$Y7QCP94FT/1NiINHKGlr52kf+ANAYs+kvVn14A65nLc\n")
	if err != nil || !h.Matches(fits) || h.Matches(fits+" ") {
		t.Errorf("got %v; the hash must match its password alone", err)
	}
}

func TestPasswordHashes(t *testing.T) {
	made, err := New("früher Morgen im Garten")
	if err != nil {
		t.Fatal(err)
	}
	text := made.String()
	h, err := Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	if !h.Matches("früher Morgen im Garten") || !h.Matches("fru\u0308her Morgen im Garten") {
		t.Error("the password must match however its ü is written")
	}
	if h.Matches("fruher Morgen im Garten") || h.Matches("") {
		t.Error("another password matches")
	}
	if again, _ := New("früher Morgen im Garten"); again.String() == text {
		t.Error("two hashes of one password are equal: no fresh salt")
	}
	for _, bad := range []string{
		strings.Replace(text, "argon2id", "argon2i", 1), strings.Replace(text, "v=19", "v=16", 1),
		strings.Replace(text, "m=19456", "m=64", 1), strings.Replace(text, "m=19456", "m=4194304", 1),
		strings.Replace(text, "t=2", "t=2,k=1", 1), text + "$x", text[:40], strings.Replace(text, "p=1", "p=0", 1),
	} {
		if _, err := Parse(bad); !errors.Is(err, ErrHash) {
			t.Errorf("%s: got %v, want ErrHash", bad, err)
		}
	}
}

// Twelve letters of which each is two signs are twelve; six of them are six, however
// they are composed.
func TestLengths(t *testing.T) {
	for text, want := range map[string]string{
		"": "must hold at least 12 characters, a few plain words for example (got 0)", "kettle": "(got 6)",
		strings.Repeat("e\u0301", 6): "(got 6)", strings.Repeat("e\u0301", 12): "", strings.Repeat("x", Most): "",
		strings.Repeat("x", Most+1): "must hold at most 512 characters (got 513)",
	} {
		err := Check(text)
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%.20q: got %v, want %q", text, err, want)
		}
		if _, errNew := New(text); (errNew == nil) != (err == nil) {
			t.Errorf("%.20q: Check says %v, New %v", text, err, errNew)
		}
	}
}
