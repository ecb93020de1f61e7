package modem

import (
	"context"
	"fmt"
	"strconv"
	"strings"
)

// setUp brings messages to terms once the SIM can be used.
func (s *session) setUp(ctx context.Context) {
	o := s.m.o
	s.tell(ctx, "AT+CREG=1", "AT+CREG=0")
	s.tell(ctx, "AT+CEREG=1", "AT+CEREG=0")
	s.tell(ctx, "AT+COPS=3,0") // operators by name
	s.tell(ctx, "AT+CLIP=0")
	mode := o.Mode
	if mode == PDU && !s.tell(ctx, "AT+CMGF=0") && s.broken == nil {
		mode = TextMode
		o.Log.Info().Msg("the modem does not take messages in PDU mode; text mode is used")
	}
	s.text, s.plain = mode == TextMode, false
	if s.text {
		s.textMode(ctx)
	}
	s.tell(ctx, "AT+CSMS=0") // so that no message must be acknowledged to the modem
	s.mem = ""
	for _, mem := range []string{"SM", "ME"} {
		if s.useMemory(ctx, mem) {
			break
		}
	}
	// Messages are kept and announced; status reports come at once, or are kept
	// and announced too.
	if !s.tell(ctx, "AT+CNMI=2,1,0,1,0", "AT+CNMI=1,1,0,1,0", "AT+CNMI=2,1,0,2,0", "AT+CNMI=2,1,0,0,0", "AT+CNMI=1,1") {
		o.Log.Info().Msg("the modem announces no messages; they are looked for from time to time")
	}
	s.centre(ctx)
	s.m.set(func(st *State) { st.Mode = mode })
	s.set = s.broken == nil
}

// textMode chooses how texts are written: UCS-2 if the modem knows it, because
// nothing in it can be taken for a result code.
func (s *session) textMode(ctx context.Context) {
	s.tell(ctx, "AT+CMGF=1")
	if !s.tell(ctx, `AT+CSCS="UCS2"`) {
		s.plain = true
		s.tell(ctx, `AT+CSCS="IRA"`, `AT+CSCS="GSM"`)
		s.m.o.Log.Warn().Msg("the modem writes texts as they are, so a text can look like another's: texts cannot acknowledge or ask through it")
	}
}

// word writes a parameter in the character set in use.
func (s *session) word(text string) string {
	if s.text && !s.plain {
		return fmt.Sprintf("%X", toUCS2(text))
	}
	return text
}

// read reads a parameter in the character set in use.
func (s *session) read(text string) string {
	if s.text && !s.plain && len(text)%4 == 0 && hexadecimal(text) {
		return fromHexUCS2(text)
	}
	return text
}

// useMemory chooses the memory that is read.
func (s *session) useMemory(ctx context.Context, mem string) bool {
	if s.mem == mem {
		return true
	}
	f, err := s.value(ctx, fmt.Sprintf(`AT+CPMS="%s","%s","%s"`, mem, mem, mem), "+CPMS")
	if err != nil {
		f, err = s.value(ctx, fmt.Sprintf(`AT+CPMS="%s"`, mem), "+CPMS")
	}
	if err != nil {
		return false
	}
	s.mem = mem
	if len(f) >= 2 {
		used, _ := strconv.Atoi(f[0]) // a modem that does not say counts as empty
		places, _ := strconv.Atoi(f[1])
		s.m.set(func(st *State) { st.Used, st.Places = used, places })
	}
	return true
}

// centre gives the SIM its service centre, if one is configured, and reads it.
func (s *session) centre(ctx context.Context) {
	if n := s.m.o.ServiceCentre; n != "" {
		kind, _ := kindOf(n)
		if !s.tell(ctx, fmt.Sprintf(`AT+CSCA="%s",%d`, s.word(n), kind)) {
			s.m.o.Log.Warn().Msg("the modem did not take the service centre of [modem]")
		}
	}
	f, err := s.value(ctx, "AT+CSCA?", "+CSCA")
	if err != nil {
		return
	}
	s.m.set(func(st *State) { st.Centre = s.read(f[0]) })
}

// survey looks at network and signal.
func (s *session) survey(ctx context.Context) {
	for _, code := range []string{"+CREG", "+CEREG"} {
		if f, err := s.value(ctx, "AT"+code+"?", code); err == nil && len(f) >= 2 {
			s.registered(code, f[1])
		}
	}
	if f, err := s.value(ctx, "AT+CSQ", "+CSQ"); err == nil {
		level := signal(f[0])
		s.m.set(func(st *State) { st.Signal = level })
	}
	if s.looks%10 == 0 || s.m.State().Operator == "" {
		if f, err := s.value(ctx, "AT+COPS?", "+COPS"); err == nil && len(f) >= 3 {
			name := s.read(f[2])
			s.m.set(func(st *State) { st.Operator = name })
		}
	}
	s.looks++
	s.judgeNetwork()
}

// signal is the received strength in dBm: -113 + 2n (TS 27.007, section 8.5);
// nil where it is not known.
func signal(field string) *int {
	n, err := strconv.Atoi(field)
	if err != nil || n < 0 || n > 31 {
		return nil
	}
	dBm := -113 + 2*n
	return &dBm
}

// netWords are the states of registration (TS 27.007, section 7.2).
var netWords = map[int]string{
	0: "not in a network, and not searching", 1: "in its home network", 2: "searching for a network", 3: "refused by the network",
	4: "not known", 5: "in a foreign network", 6: "in its home network, for text messages only", 7: "in a foreign network, for text messages only",
	8: "emergency calls only", 9: "in its home network", 10: "in a foreign network",
}

// inNetwork are those in which messages go out.
var inNetwork = map[int]bool{1: true, 5: true, 6: true, 7: true, 9: true, 10: true}

func (s *session) registered(code, field string) {
	n, err := strconv.Atoi(strings.TrimSpace(field))
	if err != nil {
		return
	}
	if s.nets == nil {
		s.nets = map[string]int{}
	}
	s.nets[code] = n
}

// judgeNetwork decides whether a message could go out.
func (s *session) judgeNetwork() {
	best, found := 4, false
	for _, code := range []string{"+CREG", "+CEREG"} {
		n, known := s.nets[code]
		switch {
		case !known:
		case inNetwork[n] && !inNetwork[best], !found:
			best, found = n, true
		}
	}
	s.m.set(func(st *State) { st.Network = netWords[best] })
	switch {
	case !s.set:
	case inNetwork[best]:
		s.m.ready()
	default:
		s.m.set(func(st *State) { st.Operator = "" })
		s.m.notReady("the modem is in no network ("+netWords[best]+"); check antenna, place and SIM", s.m.o.Pace.NoNetwork)
	}
}
