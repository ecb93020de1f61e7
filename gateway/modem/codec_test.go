package modem

import (
	"encoding/hex"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// The packing of "hellohello" is the worked example that is given wherever
// GSM packing is explained; from memory, for TS 23.038, section 6.1.2.1.
func TestHellohelloPacksAsPublished(t *testing.T) {
	codes, ok := toSeptets("hellohello")
	if !ok {
		t.Fatal("hellohello is not in the default alphabet")
	}
	if got := strings.ToUpper(hex.EncodeToString(pack(codes, 0))); got != "E8329BFD4697D9EC37" {
		t.Errorf("packed to %s", got)
	}
	raw, _ := hex.DecodeString("E8329BFD4697D9EC37")
	if got := fromSeptets(unpack(raw, 10, 0)); got != "hellohello" {
		t.Errorf("unpacked to %q", got)
	}
}

// alphabetTable is the default alphabet of TS 23.038, section 6.2.1, row by
// row of its 16 by 8 table, and the extension table of 6.2.1.1; written down
// once more, as Unicode code points, from memory.
var alphabetTable = [8][16]rune{
	{0x40, 0xa3, 0x24, 0xa5, 0xe8, 0xe9, 0xf9, 0xec, 0xf2, 0xc7, 0x0a, 0xd8, 0xf8, 0x0d, 0xc5, 0xe5},
	{0x394, 0x5f, 0x3a6, 0x393, 0x39b, 0x3a9, 0x3a0, 0x3a8, 0x3a3, 0x398, 0x39e, -1, 0xc6, 0xe6, 0xdf, 0xc9},
	{0x20, 0x21, 0x22, 0x23, 0xa4, 0x25, 0x26, 0x27, 0x28, 0x29, 0x2a, 0x2b, 0x2c, 0x2d, 0x2e, 0x2f},
	{0x30, 0x31, 0x32, 0x33, 0x34, 0x35, 0x36, 0x37, 0x38, 0x39, 0x3a, 0x3b, 0x3c, 0x3d, 0x3e, 0x3f},
	{0xa1, 0x41, 0x42, 0x43, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4a, 0x4b, 0x4c, 0x4d, 0x4e, 0x4f},
	{0x50, 0x51, 0x52, 0x53, 0x54, 0x55, 0x56, 0x57, 0x58, 0x59, 0x5a, 0xc4, 0xd6, 0xd1, 0xdc, 0xa7},
	{0xbf, 0x61, 0x62, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6a, 0x6b, 0x6c, 0x6d, 0x6e, 0x6f},
	{0x70, 0x71, 0x72, 0x73, 0x74, 0x75, 0x76, 0x77, 0x78, 0x79, 0x7a, 0xe4, 0xf6, 0xf1, 0xfc, 0xe0},
}

func TestTheWholeAlphabet(t *testing.T) {
	for i := range 128 {
		want := alphabetTable[i/16][i%16]
		if want < 0 {
			continue
		}
		if got := fromSeptets([]byte{byte(i)}); got != string(want) {
			t.Errorf("%#02x reads %q, want %q", i, got, want)
		}
		if got, ok := toSeptets(string(want)); !ok || len(got) != 1 || got[0] != byte(i) {
			t.Errorf("%q is written %x, want %#02x", want, got, i)
		}
	}
	for r, code := range map[rune]byte{'\f': 0x0a, '^': 0x14, '{': 0x28, '}': 0x29, '\\': 0x2f, '[': 0x3c, '~': 0x3d, ']': 0x3e, '|': 0x40, '€': 0x65} {
		if got, ok := toSeptets(string(r)); !ok || len(got) != 2 || got[0] != 0x1b || got[1] != code {
			t.Errorf("%q is written %x, want 1b%02x", r, got, code)
		}
		if got := fromSeptets([]byte{0x1b, code}); got != string(r) {
			t.Errorf("1b%02x reads %q", code, got)
		}
	}
	if _, ok := toSeptets("21 °C"); ok {
		t.Error("the sign of a degree is no part of the alphabet")
	}
	if got := fromSeptets([]byte{0x1b, 0x41, 0x1b}); got != "A " {
		t.Errorf("an unknown extension and a cut one read %q", got)
	}
}

// The first two are samples that tutorials on PDU mode give over and over;
// from memory. The rest was put together by hand from TS 23.040.
func TestReadsMessages(t *testing.T) {
	for _, c := range []struct {
		name, pdu, from, text string
		sent                  time.Time
		total                 int
	}{
		{"hellohello from a number", "07917283010010F5040BC87238880900F10000993092516195800AE8329BFD4697D9EC37", "27838890001", "hellohello",
			time.Date(2099, 3, 29, 15, 16, 59, 0, time.FixedZone("", 2*3600)), 0},
		{"How are you?", "07911326040000F0040B911346610089F60000208062917314080CC8F71D14969741F977FD07", "+31641600986", "How are you?",
			time.Date(2002, 8, 26, 19, 37, 41, 0, time.UTC), 0},
		{"a name as sender", "0004" + "0AD0" + "C8329BFD06" + "0000" + "62709021000000" + "02" + "CF25", "Hello", "OK",
			time.Date(2026, 7, 9, 12, 0, 0, 0, time.UTC), 0},
		{"UCS-2, west of Greenwich", "0004" + "0C914477009010F2" + "0008" + "6270902100004A" + "08" + "004F004B20AC00B0", "+44770009012", "OK€°",
			time.Date(2026, 7, 9, 12, 0, 0, 0, time.FixedZone("", -6*3600)), 0},
		{"a part", "0044" + "0C914477009010F2" + "0000" + "62709021000000" + "09" + "0500032A0201" + "9E4B", "+44770009012", "OK",
			time.Date(2026, 7, 9, 12, 0, 0, 0, time.UTC), 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := received(c.pdu)
			if err != nil {
				t.Fatal(err)
			}
			d, ok := got.(*delivered)
			if !ok {
				t.Fatalf("it is read as %T", got)
			}
			if strings.TrimSuffix(d.from.Text, "3") != strings.TrimSuffix(c.from, "3") || d.text != c.text || !d.sent.Equal(c.sent) || d.total != c.total {
				t.Errorf("got %+v", *d)
			}
		})
	}
}

// After the sample SMS-SUBMIT that tutorials give for "hellohello" to
// +46708251358; from memory, with our first octet: relative validity and a
// status report are asked for.
func TestWritesMessages(t *testing.T) {
	got, err := submits("+46708251358", "", "hellohello", 4*24*time.Hour, 1)
	if err != nil {
		t.Fatal(err)
	}
	if want := "0031000B916407281553F80000AA0AE8329BFD4697D9EC37"; len(got) != 1 || got[0].hex != want || got[0].length != 23 {
		t.Errorf("got %+v\nwant %s, 23 octets", got, want)
	}
	wide, err := submits("07700900123", "+447700900000", "18 °C", 12*time.Hour, 1)
	if err != nil {
		t.Fatal(err)
	}
	if want := "0791447700090000" + "3100" + "0B817007900021F3" + "00088F" + "0A" + "00310038002000B00043"; wide[0].hex != want {
		t.Errorf("got  %s\nwant %s", wide[0].hex, want)
	}
}

func TestLongTextsAreParted(t *testing.T) {
	for _, c := range []struct {
		what  string
		text  string
		parts int
	}{
		{"160 signs", strings.Repeat("a", 160), 1},
		{"161 signs", strings.Repeat("a", 161), 2},
		{"306 signs", strings.Repeat("a", 306), 2},
		{"307 signs", strings.Repeat("a", 307), 3},
		{"80 signs of two septets", strings.Repeat("€", 80), 1},
		{"81 signs of two septets", strings.Repeat("€", 81), 2},
		{"153 signs of two septets: none is cut", strings.Repeat("€", 153), 3},
		{"70 wide", strings.Repeat("°", 70), 1},
		{"71 wide", strings.Repeat("°", 71), 2},
		{"67 pairs: none is cut", strings.Repeat("🌱", 67), 3},
	} {
		if got := Parts(c.text); got != c.parts {
			t.Errorf("%s: %d parts, want %d", c.what, got, c.parts)
		}
	}
	if _, err := submits("+447700900123", "", strings.Repeat("a", 6*153+1), time.Hour, 1); err == nil {
		t.Error("seven parts are written")
	}
}

// whatCameOf reads an SMS-SUBMIT back, as far as a service centre must to make
// an SMS-DELIVER of it.
func whatCameOf(t *testing.T, p submit) *delivered {
	t.Helper()
	raw, err := hex.DecodeString(p.hex)
	if err != nil {
		t.Fatal(err)
	}
	if len(raw)-1-int(raw[0]) != p.length {
		t.Fatalf("%d octets are announced, %d are there", p.length, len(raw)-1-int(raw[0]))
	}
	if p.length > 176 { // TS 23.040: 140 octets of data and what is before them
		t.Fatalf("%d octets are more than a message may have", p.length)
	}
	o := octets(raw[1+int(raw[0]):])
	head, _ := o.take(2)
	d := &delivered{}
	if d.from, err = o.address(); err != nil {
		t.Fatal(err)
	}
	rest, err := o.take(4)
	if err != nil {
		t.Fatal(err)
	}
	d.read(o, int(rest[3]), alphabetOf(rest[1]), head[0]&firstHeader != 0)
	return d
}

func TestWhatIsWrittenReadsTheSame(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	plain, wide := []rune(strings.ReplaceAll(basic, "\x1b", "€[]")), []rune("aZ€°–ж水🌱")
	for n := range 2000 {
		signs := plain
		if n%2 == 1 {
			signs = wide
		}
		text := make([]rune, 1+random.IntN(400))
		for i := range text {
			text[i] = signs[random.IntN(len(signs))]
		}
		pdus, err := submits("+447700900123", "", string(text), time.Hour, byte(n))
		if err != nil {
			continue // too long
		}
		var j joiner
		random.Shuffle(len(pdus), func(a, b int) { pdus[a], pdus[b] = pdus[b], pdus[a] })
		for i, p := range pdus {
			d := whatCameOf(t, p)
			m, whole := j.add(d, time.Now())
			if whole != (i == len(pdus)-1) {
				t.Fatalf("whole is %v after part %d of %d", whole, i+1, len(pdus))
			}
			if whole && (m.Text != string(text) || m.From.Text != "+447700900123") {
				t.Fatalf("from %q came %q", string(text), m.Text)
			}
		}
	}
}

func TestPackingAgainstBits(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 1000 {
		codes, fill := make([]byte, random.IntN(40)), random.IntN(7)
		bits := strings.Repeat("0", fill) // the lowest first
		for i := range codes {
			codes[i] = byte(random.IntN(128))
			for b := range 7 {
				bits += string('0' + rune(codes[i]>>b&1))
			}
		}
		packed := pack(codes, fill)
		for i, b := range []byte(bits) {
			if packed[i/8]>>(i%8)&1 != b-'0' {
				t.Fatalf("%x behind %d bits packs to %x", codes, fill, packed)
			}
		}
		if got := unpack(packed, len(codes), fill); string(got) != string(codes) {
			t.Fatalf("%x behind %d bits came back as %x", codes, fill, got)
		}
	}
}

func TestStatusReport(t *testing.T) {
	// By hand from TS 23.040, section 9.2.2.3.
	got, err := received("0006" + "2A" + "0C914477009010F2" + "62709021000000" + "62709021105080" + "22")
	if err != nil {
		t.Fatal(err)
	}
	r, ok := got.(*report)
	if !ok || r.ref != 0x2a || r.status != 0x22 || !r.ended.Equal(time.Date(2026, 7, 9, 12, 1, 5, 0, time.FixedZone("", 2*3600))) {
		t.Errorf("got %+v", got)
	}
}

func TestStandings(t *testing.T) {
	for status, want := range map[byte]Standing{0x00: Delivered, 0x01: Delivered, 0x10: Delivered, 0x20: Trying, 0x22: Trying, 0x30: Trying,
		0x40: Failed, 0x46: Failed, 0x60: Failed, 0x62: Failed, 0x7f: Failed, 0xff: Failed} {
		got, words := standing(status)
		if got != want || words == "" {
			t.Errorf("%#02x is %v, %q", status, got, words)
		}
	}
	if _, words := standing(0x62); !strings.Contains(words, "does not answer") {
		t.Errorf("0x62 is %q", words)
	}
}

// TS 27.007, section 8.5: 0 is -113 dBm or less, 1 -111, 2 to 30 -109 to -53,
// 31 -51 or more, 99 not known.
func TestSignalTable(t *testing.T) {
	for field, want := range map[string]int{"0": -113, "1": -111, "2": -109, "30": -53, "31": -51} {
		if got := signal(field); got == nil || *got != want {
			t.Errorf("+CSQ: %s is %v, want %d", field, got, want)
		}
	}
	for _, field := range []string{"99", "32", "-1", "", "x"} {
		if got := signal(field); got != nil {
			t.Errorf("+CSQ: %s is %d dBm", field, *got)
		}
	}
}

// TS 23.040, section 9.2.3.12.1.
func TestValidity(t *testing.T) {
	for want, d := range map[byte]time.Duration{0: time.Minute, 11: time.Hour, 143: 12 * time.Hour, 144: 12*time.Hour + 30*time.Minute,
		166: 23*time.Hour + 30*time.Minute, 167: 24 * time.Hour, 168: 48 * time.Hour, 196: 30 * 24 * time.Hour, 197: 35 * 24 * time.Hour, 255: 10000 * time.Hour * 24} {
		if got := validity(d); got != want {
			t.Errorf("%v is %d, want %d", d, got, want)
		}
	}
}

func TestBrokenMessagesAreRefused(t *testing.T) {
	whole := "07911326040000F0040B911346610089F60000208062917314080CC8F71D14969741F977FD07"
	for n := range len(whole) {
		if n < 50 {
			if _, err := received(whole[:n]); err == nil {
				t.Errorf("the first %d signs are read as a message", n)
			}
		}
	}
}

func FuzzReceived(f *testing.F) {
	f.Add("07911326040000F0040B911346610089F60000208062917314080CC8F71D14969741F977FD07")
	f.Add("00062A0C914477009010F26270902100000062709021105080")
	f.Add("00440C914477009010F20000627090210000000905000302010" + "19E4B")
	f.Fuzz(func(t *testing.T, pdu string) {
		got, err := received(pdu)
		if err == nil && got == nil {
			t.Fatal("neither a message nor an error")
		}
		if d, ok := got.(*delivered); ok && err == nil {
			if !utf8.ValidString(d.text) || d.total < 0 || d.number > d.total {
				t.Fatalf("%q is read as %+v", pdu, d)
			}
			new(joiner).add(d, time.Now())
		}
	})
}

func FuzzSplit(f *testing.F) {
	f.Add([]byte("\r\nOK\r\n"), []byte("+CMTI: \"SM\",3\r\n> "))
	f.Fuzz(func(t *testing.T, a, b []byte) {
		var s splitter
		for _, line := range append(s.feed(a), s.feed(b)...) {
			if line == "" || len(line) > longest || strings.ContainsAny(line, "\r\n") {
				t.Fatalf("%q is no line", line)
			}
			fields(line)
			failed(line)
		}
		s.prompted()
	})
}
