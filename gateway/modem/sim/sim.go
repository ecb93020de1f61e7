// Package sim plays a GSM modem on a pseudo-terminal, for tests alone. It
// promises to behave as TS 27.005 and TS 27.007 describe and as real modems
// misbehave: it echoes, answers slowly, says things unasked in the middle of
// an answer, locks its SIM after three wrong PINs, refuses messages by number,
// reports deliveries late, and can be pulled out. It shares no code with the
// package that it tests: messages are coded here again, bit by bit.
package sim

import (
	"os"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/creack/pty"
)

// Options say what the modem is like. They may be changed while it runs, by
// Set.
type Options struct {
	PIN         string // that the SIM wants; empty: none
	TriesLeft   int    // for the PIN
	HideTries   bool   // AT+CPINR is not known
	NoSIM       bool
	Network     int  // +CREG: its state; 1 is the home network
	NoLTE       bool // AT+CEREG is not known
	Signal      int  // of +CSQ
	TextOnly    bool // PDU mode is refused
	NoUCS2      bool // the character set is refused
	NoAnnounce  bool // AT+CNMI is refused
	Places      int  // for messages; 0: 30
	Answer      time.Duration
	Refuse      string        // result of every message, such as "+CMS ERROR: 38"
	NoPrompt    bool          // messages are never asked for
	Deaf        bool          // nothing is answered
	ReportAfter time.Duration // from a message to its status report; 0: none comes
	Report      byte          // its status
	KeepReports bool          // they are kept and announced
	NoCallList  bool          // AT+CLCC is not known
	CallEnd     string        // how a call ends by itself; empty: it rings
	CallTaken   bool
}

// Sent is one message, or part of one, that was given to the network.
type Sent struct {
	To                 string
	Text               string
	Ref                int // of the message this is a part of
	Total, Number      int // 1, 1: it is whole
	ReportWanted, Wide bool
}

// Modem is a modem that plays.
type Modem struct {
	link string // where the device is found

	mu       sync.Mutex // holds all below
	o        Options
	master   *os.File
	slave    *os.File
	done     chan struct{} // closed when the reader has ended
	timers   sync.WaitGroup
	echo     bool
	text     bool
	set      string // character set
	coding   string // of +CSMP
	open     bool   // the PIN was given
	store    map[int]kept
	next     int
	ref      int
	sent     []Sent
	dialled  []string
	calling  bool
	hungUp   int
	asked    []string
	between  []string // said in the middle of the next answer
	gone     bool
	awaiting *pending // data of a message
}

// kept is a message in the memory.
type kept struct {
	from, text string
	at         time.Time
	status     *reported
}

// Start plays a modem whose device is found at link, as a symbolic link. It
// must be closed.
func Start(link string, o Options) (*Modem, error) {
	m := &Modem{link: link, o: o, store: map[int]kept{}, gone: true}
	if m.o.TriesLeft == 0 {
		m.o.TriesLeft = 3
	}
	return m, m.Plug()
}

// Plug puts the modem in: it starts again, and keeps what is on its SIM.
func (m *Modem) Plug() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	master, slave, err := pty.Open()
	if err != nil {
		return err
	}
	if err := syscall.SetNonblock(int(master.Fd()), true); err != nil { // else a read would outlast Close
		return err
	}
	_ = os.Remove(m.link) // there is none at first
	if err := os.Symlink(slave.Name(), m.link); err != nil {
		return err
	}
	m.master, m.slave, m.done, m.gone = master, slave, make(chan struct{}), false
	m.restart()
	go m.read(master, m.done) // Unplug waits for it
	return nil
}

// restart forgets what a modem does not keep.
func (m *Modem) restart() {
	m.echo, m.text, m.set, m.coding, m.open, m.calling, m.awaiting = true, false, "GSM", "0", false, false, nil
}

// Restart lets the modem lose its power for a moment; the line stays.
func (m *Modem) Restart() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.restart()
}

// Unplug pulls the modem out.
func (m *Modem) Unplug() {
	m.mu.Lock()
	if m.gone {
		m.mu.Unlock()
		return
	}
	m.gone = true
	_ = os.Remove(m.link)
	_ = m.slave.Close()
	_ = m.master.Close()
	done := m.done
	m.mu.Unlock()
	<-done
}

// Close ends the play.
func (m *Modem) Close() {
	m.Unplug()
	m.timers.Wait()
}

// Device is the path of the serial device.
func (m *Modem) Device() string { return m.link }

// Set changes what the modem is like.
func (m *Modem) Set(change func(*Options)) {
	m.mu.Lock()
	defer m.mu.Unlock()
	change(&m.o)
}

// Sent returns what was given to the network, oldest first.
func (m *Modem) Sent() []Sent {
	m.mu.Lock()
	defer m.mu.Unlock()
	return append([]Sent(nil), m.sent...)
}

// Texts returns the texts that telephones show, parts joined.
func (m *Modem) Texts() []Sent {
	var out []Sent
	text := ""
	for _, s := range m.Sent() {
		text += s.Text
		if s.Number == s.Total {
			s.Text = text
			out = append(out, s)
			text = ""
		}
	}
	return out
}

// Asked returns all commands, oldest first.
func (m *Modem) Asked() []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return append([]string(nil), m.asked...)
}

// Count is how many commands began so.
func (m *Modem) Count(prefix string) int {
	n := 0
	for _, a := range m.Asked() {
		if strings.HasPrefix(a, prefix) {
			n++
		}
	}
	return n
}

// Calls returns the numbers called, and how often a call was hung up.
func (m *Modem) Calls() (dialled []string, hungUp int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return append([]string(nil), m.dialled...), m.hungUp
}

// Kept is how many messages are in the memory.
func (m *Modem) Kept() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.store)
}

// Say says lines unasked.
func (m *Modem) Say(lines ...string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, l := range lines {
		m.out("\r\n" + l + "\r\n")
	}
}

// Raw puts bytes on the line.
func (m *Modem) Raw(bytes string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.out(bytes)
}

// Interrupt says lines in the middle of the next answer that has information.
func (m *Modem) Interrupt(lines ...string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.between = append(m.between, lines...)
}

// Keep puts a message into the memory; it is announced unless silent.
func (m *Modem) Keep(from, text string, at time.Time, silent bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.put(kept{from: from, text: text, at: at}, silent, "+CMTI")
}
