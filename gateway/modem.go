package gateway

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/modem"
	"telltale/gateway/page"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// phones ties the modem to people: what they are told by text message and by
// calls, what became of it, and what they answer. A nil one is none.
type phones struct {
	*modem.Modem
	p       *parts
	log     zerolog.Logger
	numbers map[string]string // person -> number
	people  map[string]string // number -> person
	texts   []string          // channels of kind text
	fates   chan modem.Fate
	heard   hearing
}

// openPhones makes the modem, if one is wanted. It is reached later, by run.
func (p *parts) openPhones() error {
	c := p.cfg.Modem
	if !c.Wanted {
		return nil
	}
	ph := &phones{p: p, log: p.logger("modem"), numbers: numbersOf(p.cfg), people: map[string]string{}, fates: make(chan modem.Fate, 64)}
	for name, number := range ph.numbers {
		ph.people[number] = name
	}
	for _, ch := range p.cfg.Reach.Channels {
		if ch.Kind == config.ByText {
			ph.texts = append(ph.texts, ch.Name)
		}
	}
	o := modemOptions(c)
	o.Open = func() (modem.Port, error) { return modem.Open(c.Device, c.Baud) }
	o.Refusals = refusals(filepath.Join(p.cfg.Store.Directory, "modem-pin"))
	o.Sent, o.Now, o.Zone = ph.sentToday(), p.clock.Now, p.cfg.Plan.Words.Zone
	o.Incoming, o.Report, o.Log = ph.incoming, ph.report, ph.log
	var err error
	ph.Modem, err = modem.New(o)
	p.phones = ph
	return err
}

// modemOptions is what the config says of the modem, without its line.
func modemOptions(c config.Modem) modem.Options {
	o := modem.Options{PIN: c.PIN.Reveal(), ServiceCentre: c.ServiceCentre, RingFor: c.RingFor, MostPerDay: c.MostPerDay}
	if c.TextMode {
		o.Mode = modem.TextMode
	}
	return o
}

// numbersOf are the telephones of people, by the name that messages use.
func numbersOf(c *config.Config) map[string]string {
	numbers := map[string]string{}
	for _, one := range c.Reach.People {
		if one.Phone != "" {
			numbers[cmp.Or(one.Name, one.ID)] = one.Phone
		}
	}
	return numbers
}

// sentToday is how many texts earlier runs sent since midnight.
func (ph *phones) sentToday() int {
	now := ph.p.clock.Now()
	if zone := ph.p.cfg.Plan.Words.Zone; zone != nil {
		now = now.In(zone)
	} else {
		now = now.UTC()
	}
	midnight := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	n, err := ph.p.store.Outbox.SentSince(context.Background(), ph.texts, midnight)
	if err != nil {
		ph.log.Warn().Err(err).Msg("the text messages sent today could not be counted; the day's number begins anew")
	}
	return n
}

// notifier tells people over ch, a channel of kind text or ring.
func (ph *phones) notifier(ch config.Channel) (reach.Notifier, error) {
	if ph == nil {
		return nil, errors.New("there is no [modem] in the config")
	}
	if ch.Kind == config.ByRing {
		return reach.NewBell(texter{ph}, ph.numbers), nil
	}
	return reach.NewPhone(texter{ph}, ph.numbers), nil
}

// trouble says why nobody can be told by telephone; empty: they can.
func (ph *phones) trouble() string {
	if ph == nil {
		return ""
	}
	return ph.Trouble()
}

// texter is the modem as reach knows it.
type texter struct{ ph *phones }

// Text implements reach.Texter.
func (t texter) Text(ctx context.Context, to, text string, p alarms.Priority, rows []string) error {
	valid := map[alarms.Priority]time.Duration{alarms.High: 24 * time.Hour, alarms.Medium: 12 * time.Hour}[p]
	if valid == 0 {
		valid = 6 * time.Hour // later it would mislead
	}
	return t.explain(t.ph.Send(ctx, modem.Text{To: to, Body: text, Urgent: p >= alarms.High, Valid: valid, Rows: rows}))
}

// Parts implements reach.Texter.
func (t texter) Parts(text string) int { return modem.Parts(text) }

// Ring implements reach.Texter.
func (t texter) Ring(ctx context.Context, to string) error {
	answer, err := t.ph.Modem.Ring(ctx, to)
	if err == nil {
		t.ph.log.Info().Str("answer", string(answer)).Msg("a telephone rang")
	}
	return t.explain(err)
}

// explain puts an error into the terms of reach.
func (t texter) explain(err error) error {
	var spent *modem.Spent
	switch {
	case errors.As(err, &spent):
		clock := t.ph.p.clock
		return &reach.Later{Pause: time.Duration(float64(spent.Until.Sub(clock.Now())) / clock.Speed()), Why: err.Error()}
	case errors.Is(err, modem.ErrNobody):
		return &reach.Denied{Err: err, Address: true}
	case errors.Is(err, modem.ErrRefused):
		return &reach.Permanent{Err: err}
	}
	return err
}

// report takes what became of a text; it is written down by record.
func (ph *phones) report(f modem.Fate) {
	select {
	case ph.fates <- f:
	default:
		ph.log.Warn().Msg("the disk is too slow for delivery reports; one is not kept")
	}
}

// A row may be reported before the outbox has recorded that it was sent.
const (
	recordTries = 50
	recordPause = 100 * time.Millisecond
)

// record writes down what became of texts until ctx ends.
func (ph *phones) record(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case f := <-ph.fates:
			for _, row := range f.Rows {
				ph.recordOne(ctx, row, f)
			}
		}
	}
}

func (ph *phones) recordOne(ctx context.Context, row string, f modem.Fate) {
	outcome := map[modem.Standing]store.Outcome{modem.Delivered: store.Arrived, modem.Failed: store.Undelivered}[f.Standing]
	if f.Standing == modem.Trying {
		outcome = store.Underway
	}
	log := ph.log.With().Str("row", row).Str("standing", f.Standing.String()).Logger()
	log.Info().Str("says", f.Words).Msg("the network reports on a text message")
	for range recordTries {
		ok, err := ph.p.store.Outbox.Reported(ctx, store.Attempt{Outgoing: row, At: ph.p.clock.Now(), Outcome: outcome, Error: f.Words})
		if err != nil {
			log.Warn().Err(err).Msg("a delivery report could not be kept")
			return
		}
		if ok {
			ph.p.watch.hub.notify()
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(recordPause):
		}
	}
	log.Warn().Msg("a delivery report belongs to no message that was sent")
}

// runPhones runs the modem, if there is one.
func (p *parts) runPhones(g *group) {
	if p.phones != nil {
		g.run(p.phones.Run)
		g.run(p.phones.record)
	}
}

// refusals is a file that remembers a refused PIN by its digest.
type refusals string

// Refused implements modem.Refusals.
func (f refusals) Refused(pin string) bool {
	text, err := os.ReadFile(string(f))
	salt, digest, ok := strings.Cut(strings.TrimSpace(string(text)), " ")
	return err == nil && ok && digest == pinDigest(salt, pin)
}

// Refuse implements modem.Refusals.
func (f refusals) Refuse(pin string) error {
	salt := rand.Text()
	return os.WriteFile(string(f), []byte(salt+" "+pinDigest(salt, pin)+"\n"), 0o600)
}

func pinDigest(salt, pin string) string {
	sum := sha256.Sum256([]byte(salt + pin))
	return hex.EncodeToString(sum[:])
}

// counts is how the modem is, for the metrics; nil: there is none.
func (ph *phones) counts() *modem.State {
	if ph == nil {
		return nil
	}
	s := ph.State()
	return &s
}

// ModemState implements page.Modem.
func (ph *phones) ModemState() page.ModemState {
	s := page.ModemState{State: ph.State()}
	ph.heard.mu.Lock()
	defer ph.heard.mu.Unlock()
	s.Ignored = ph.heard.ignored
	return s
}

// onPage lets the page show the modem, if there is one.
func (ph *phones) onPage(o *page.Options) {
	if ph != nil {
		o.Modem = ph
	}
}
