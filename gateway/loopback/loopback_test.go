package loopback

import "testing"

// 127.0.0.0/8 and ::1 (RFC 1122, section 3.2.1.3, and RFC 4291, section 2.5.3), the
// first also as an IPv4-mapped address (RFC 4291, section 2.5.5.2); localhost, in
// letters of any case (RFC 6761, section 6.3); all from memory.
func TestHosts(t *testing.T) {
	for host, own := range map[string]bool{
		"127.0.0.1": true, "127.255.0.9": true, "::1": true, "[::1]": true, "::ffff:127.0.0.1": true, "localhost": true, "LocalHost": true,
		"": false, "0.0.0.0": false, "::": false, "128.0.0.1": false, "::2": false, "192.168.1.9": false, "::ffff:192.168.1.9": false,
		"localhost.example.org": false, "127.0.0.1.example.org": false, "long-house": false, "127.1": false,
	} {
		if got := Host(host); got != own {
			t.Errorf("%q: got %v, want %v", host, got, own)
		}
		if got := Address("[" + host + "]:1883"); host != "[::1]" && got != own {
			t.Errorf("[%s]:1883: got %v, want %v", host, got, own)
		}
	}
	for _, none := range []string{"", "127.0.0.1", "localhost", ":1883", "::1:1883:"} {
		if Address(none) {
			t.Errorf("%q counts as an address of this machine", none)
		}
	}
}
