package sim

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// message does what belongs to messages.
func (m *Modem) message(c, name, value string) {
	switch name {
	case "AT+CMGF":
		if m.o.TextOnly && value == "0" {
			m.result("ERROR")
			return
		}
		m.text = value == "1"
		m.result("OK")
	case "AT+CSCS":
		if m.o.NoUCS2 && strings.Contains(value, "UCS2") {
			m.result("+CME ERROR: operation not supported")
			return
		}
		m.set = strings.Trim(value, `"`)
		m.result("OK")
	case "AT+CSMS":
		m.answer("+CSMS: 1,1,1")
	case "AT+CPMS":
		places := m.o.Places
		if places == 0 {
			places = 30
		}
		m.answer(fmt.Sprintf("+CPMS: %d,%d,%d,%d,%d,%d", len(m.store), places, len(m.store), places, len(m.store), places))
	case "AT+CNMI":
		m.result(map[bool]string{true: "ERROR", false: "OK"}[m.o.NoAnnounce])
	case "AT+CSMP":
		if f := strings.Split(value, ","); len(f) == 4 {
			m.coding = f[3]
		}
		m.result("OK")
	case "AT+CSCA?":
		m.answer(`+CSCA: "` + m.coded("+447700900000") + `",145`)
	case "AT+CSCA":
		m.result("OK")
	case "AT+CMGL":
		m.list()
	case "AT+CMGR", "AT+CMGD":
		m.one(name, value)
	case "AT+CMGS":
		m.prompt(value)
	default:
		m.result("ERROR")
	}
}

func (m *Modem) list() {
	for _, i := range slices.Sorted(maps.Keys(m.store)) {
		head, body := m.shown(m.store[i])
		m.out(fmt.Sprintf("\r\n+CMGL: %d,%s\r\n", i, head))
		for _, l := range m.between {
			m.out(l + "\r\n")
		}
		m.between = nil
		if body != "" {
			m.out(body + "\r\n")
		}
	}
	m.result("OK")
}

func (m *Modem) one(name, value string) {
	index, err := strconv.Atoi(value)
	k, found := m.store[index]
	switch {
	case err != nil || !found && name == "AT+CMGR":
		m.result("+CMS ERROR: 321")
	case name == "AT+CMGD":
		delete(m.store, index)
		m.result("OK")
	default:
		head, body := m.shown(k)
		m.out("\r\n+CMGR: " + head + "\r\n" + body + "\r\n")
		m.result("OK")
	}
}

// put keeps a message and says so.
func (m *Modem) put(k kept, silent bool, code string) {
	m.next++
	m.store[m.next] = k
	if !silent {
		m.out(fmt.Sprintf("\r\n%s: \"SM\",%d\r\n", code, m.next))
	}
}

// prompt asks for the data of a message.
func (m *Modem) prompt(value string) {
	if m.o.NoPrompt {
		return
	}
	p := &pending{}
	if m.text {
		to, _, _ := strings.Cut(value, ",")
		p.to = strings.Trim(to, `"`)
		if m.set == "UCS2" {
			p.to = narrow(p.to)
		}
	}
	m.awaiting = p
	m.out("\r\n> ")
}

// submit takes the data of a message.
func (m *Modem) submit(p *pending, data string) {
	time.Sleep(m.o.Answer)
	if m.o.Refuse != "" {
		m.result(m.o.Refuse)
		return
	}
	s := Sent{To: p.to, Text: data, Total: 1, Number: 1, ReportWanted: true, Wide: m.coding == "8"}
	if m.text && m.set == "UCS2" {
		s.Text = narrow(data)
	}
	if !m.text {
		var ok bool
		if s, ok = readSubmit(data); !ok {
			m.result("+CMS ERROR: 304")
			return
		}
	}
	m.ref = (m.ref + 1) % 256
	m.sent = append(m.sent, s)
	m.answer(fmt.Sprintf("+CMGS: %d", m.ref))
	if m.o.ReportAfter > 0 && s.ReportWanted {
		ref := m.ref
		m.timers.Go(func() {
			time.Sleep(m.o.ReportAfter)
			m.report(ref, s.To)
		})
	}
}

// report reports what became of a message.
func (m *Modem) report(ref int, to string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	r := reported{ref, to, time.Now(), m.o.Report}
	switch {
	case m.o.KeepReports:
		m.put(kept{status: &r}, false, "+CDSI")
	case m.text:
		m.result("+CDS: " + m.reportLine(r))
	default:
		p := reportPDU(r)
		m.out(fmt.Sprintf("\r\n+CDS: %d\r\n%s\r\n", len(p)/2-1, p))
	}
}
