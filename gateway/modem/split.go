package modem

import "strings"

// longest is the longest line that is kept, bytes. A message of 255 octets is
// 512 signs long in PDU mode.
const longest = 2048

// splitter cuts what comes over the line into lines. A modem ends them by
// carriage return and line feed, and begins most of them so too.
type splitter struct {
	buf  []byte
	over bool   // the line is too long: what has come of it is thrown away
	lost uint64 // lines thrown away
}

// feed takes what has come and returns the lines that are now whole, without
// empty ones and without control characters.
func (s *splitter) feed(p []byte) []string {
	var out []string
	for _, b := range p {
		switch {
		case b == '\r' || b == '\n':
			if line := strings.TrimSpace(string(s.buf)); line != "" && !s.over {
				out = append(out, line)
			}
			s.buf, s.over = s.buf[:0], false
		case b < ' ' || b == 0x7f || b == 0xff || s.over: // noise of a line that has just been opened
		case len(s.buf) == longest:
			s.buf, s.over = s.buf[:0], true
			s.lost++
		default:
			s.buf = append(s.buf, b)
		}
	}
	return out
}

// prompted reports whether the line that has begun is the prompt for data, and
// takes it if so.
func (s *splitter) prompted() bool {
	if strings.TrimSpace(string(s.buf)) != ">" {
		return false
	}
	s.buf = s.buf[:0]
	return true
}

// fields parts the parameters of an information response: at commas outside
// quotes, the quotes taken off.
func fields(line string) []string {
	if _, rest, ok := strings.Cut(line, ":"); ok {
		line = rest
	}
	var out []string
	var b strings.Builder
	quoted := false
	for _, r := range strings.TrimSpace(line) {
		switch {
		case r == '"':
			quoted = !quoted
		case r == ',' && !quoted:
			out = append(out, strings.TrimSpace(b.String()))
			b.Reset()
		default:
			b.WriteRune(r)
		}
	}
	return append(out, strings.TrimSpace(b.String()))
}
