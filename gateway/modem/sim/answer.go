package sim

import (
	"fmt"
	"os"
	"strings"
	"time"
)

// pending is a message whose data are awaited.
type pending struct{ to string }

// read takes commands until the modem is pulled out.
func (m *Modem) read(master *os.File, done chan struct{}) {
	defer close(done)
	buf := make([]byte, 256)
	var line []byte
	for {
		n, err := master.Read(buf)
		if err != nil {
			return
		}
		for _, b := range buf[:n] {
			line = m.key(line, b)
		}
	}
}

// key takes one byte.
func (m *Modem) key(line []byte, b byte) []byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.o.Deaf {
		return nil
	}
	if m.echo {
		m.out(string(b))
	}
	switch {
	case b == 0x1b:
		if m.awaiting != nil {
			m.awaiting = nil
			m.result("OK")
		}
		return nil
	case m.awaiting != nil && b == 0x1a:
		p := m.awaiting
		m.awaiting = nil
		m.submit(p, string(line))
		return nil
	case m.awaiting == nil && b == '\r':
		command := strings.TrimSpace(string(line))
		m.asked = append(m.asked, command)
		time.Sleep(m.o.Answer)
		m.command(command)
		return nil
	}
	return append(line, b)
}

func (m *Modem) out(text string) {
	if !m.gone {
		_, _ = m.master.WriteString(text) // who pulled it out knows
	}
}

func (m *Modem) result(code string) { m.out("\r\n" + code + "\r\n") }

// answer gives information and OK; what interrupts comes between.
func (m *Modem) answer(info ...string) {
	for _, i := range info {
		m.out("\r\n" + i + "\r\n")
		for _, l := range m.between {
			m.out("\r\n" + l + "\r\n")
		}
		m.between = nil
	}
	m.result("OK")
}

// command does one command.
func (m *Modem) command(c string) {
	name, value, _ := strings.Cut(c, "=")
	switch {
	case c == "AT", c == "AT+CMEE=2", c == "AT+COPS=3,0", c == "AT+CLIP=0":
		m.result("OK")
	case c == "ATE0V1":
		m.echo = false
		m.result("OK")
	case c == "ATI":
		m.answer("A modem that plays", "Revision 1")
	case strings.HasPrefix(c, "AT+CPIN"):
		m.pin(c, name, value)
	case m.o.NoSIM:
		m.result("+CME ERROR: SIM not inserted")
	case m.o.PIN != "" && !m.open:
		m.result("+CME ERROR: SIM PIN required")
	case strings.HasPrefix(c, "AT+CREG"), strings.HasPrefix(c, "AT+CEREG"):
		m.network(c)
	case c == "AT+COPS?":
		m.answer(`+COPS: 0,0,"` + m.coded("Thimble Net") + `",7`)
	case c == "AT+CSQ":
		m.answer(fmt.Sprintf("+CSQ: %d,99", m.o.Signal))
	case strings.HasPrefix(c, "ATD"), c == "AT+CLCC", c == "AT+CHUP", c == "ATH":
		m.call(c)
	default:
		m.message(c, name, value)
	}
}

func (m *Modem) pin(c, name, value string) {
	switch {
	case m.o.NoSIM:
		m.result("+CME ERROR: SIM not inserted")
	case name == "AT+CPINR" && m.o.HideTries:
		m.result("ERROR")
	case name == "AT+CPINR":
		m.answer(fmt.Sprintf("+CPINR: SIM PIN,%d,3", m.o.TriesLeft))
	case c == "AT+CPIN?" && m.o.TriesLeft <= 0:
		m.answer("+CPIN: SIM PUK")
	case c == "AT+CPIN?" && m.o.PIN != "" && !m.open:
		m.answer("+CPIN: SIM PIN")
	case c == "AT+CPIN?":
		m.answer("+CPIN: READY")
	case m.o.TriesLeft > 0 && strings.Trim(value, `"`) == m.o.PIN:
		m.open, m.o.TriesLeft = true, 3
		m.result("OK")
	default:
		m.o.TriesLeft--
		m.result("+CME ERROR: incorrect password")
	}
}

func (m *Modem) network(c string) {
	code, _, _ := strings.Cut(strings.TrimPrefix(c, "AT"), "=")
	switch {
	case m.o.NoLTE && strings.HasPrefix(c, "AT+CEREG"):
		m.result("ERROR")
	case strings.HasSuffix(c, "?"):
		code = strings.TrimSuffix(code, "?")
		m.answer(fmt.Sprintf(`%s: 1,%d`, code, m.o.Network))
	default:
		m.result("OK")
	}
}

// call does what belongs to calls.
func (m *Modem) call(c string) {
	switch {
	case strings.HasPrefix(c, "ATD"):
		m.dialled = append(m.dialled, strings.TrimSuffix(strings.TrimPrefix(c, "ATD"), ";"))
		m.calling = m.o.CallEnd == ""
		m.result("OK")
		if m.o.CallEnd != "" {
			m.result(m.o.CallEnd)
		}
	case c == "AT+CLCC" && m.o.NoCallList:
		m.result("ERROR")
	case c == "AT+CLCC" && m.calling:
		state := 3
		if m.o.CallTaken {
			state = 0
		}
		m.answer(fmt.Sprintf(`+CLCC: 1,0,%d,0,0,"%s",145`, state, m.coded(m.dialled[len(m.dialled)-1])))
	default:
		if m.calling && c != "AT+CLCC" {
			m.calling = false
			m.hungUp++
		}
		m.result("OK")
	}
}
