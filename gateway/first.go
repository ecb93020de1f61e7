package gateway

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
	"telltale/gateway/decode"
	"telltale/gateway/link"
	"telltale/gateway/page"
)

// SetUp lets people set up on the page what is watched.
type SetUp struct {
	File   string // the configuration that they change
	Env    func(string) (string, bool)
	Reload func() // makes the watch start again with the file; must not wait
	// At is where the first person may come in from another machine while nobody has
	// an account: an address and a port, Nowhere, or "" for the port of the page at
	// each address of this machine, if the file says nothing of page and broker.
	At string
}

// first ties what arrives, how it may be read and the file together.
type first struct {
	set   SetUp
	cfg   *config.Config
	scout *link.Scout
	table func(topic string) []string // probes that read a topic
	at    func() string               // where the own broker listens; "" without
	log   zerolog.Logger

	mu    sync.Mutex // guards seems, and one write at a time
	seems map[string]seeming
}

// seeming is what a topic seems to be; it is not worked out at each look.
type seeming struct {
	at   time.Time
	said string
}

const seemsFor = 30 * time.Second

// openFirst makes the scout for setting up, where that is wanted.
func (p *parts) openFirst(o Options) error {
	if p.accompanying != nil {
		p.accompanying.set = o.SetUp
	}
	if o.SetUp == nil || p.accompanying != nil { // what a companion watches is set up at the first
		return nil
	}
	l := linkOptions(p.cfg, []string{"#"}, p.clock, p.logger("setup"))
	l.ClientID = p.client
	l.Now = p.clock.Now // what is found is shown
	if p.broker != nil {
		l.Broker, l.Servers = p.broker, nil
	}
	scout, err := link.NewScout(l, ownTopics(p.cfg)...)
	if err != nil {
		return err
	}
	p.first = &first{set: *o.SetUp, cfg: p.cfg, scout: scout, table: readers(p.cfg.Sources), log: p.logger("setup"),
		at: func() string { return "" }, seems: map[string]seeming{}}
	if p.broker != nil {
		p.first.at = func() string { return p.broker.Addr().String() }
	}
	return nil
}

// ownTopics are where the watch itself publishes.
func ownTopics(cfg *config.Config) []string {
	var out []string
	for _, c := range cfg.Reach.Channels {
		if c.Kind == config.ByMQTT && c.MQTT.Prefix != "" {
			out = append(out, c.MQTT.Prefix+"/")
		}
	}
	return out
}

// readers tells which probes read a topic.
func readers(sources []decode.Source) func(string) []string {
	return func(topic string) []string {
		var out []string
		for _, s := range sources {
			if s.Claims(topic) && !slices.Contains(out, string(s.Probe)) {
				out = append(out, string(s.Probe))
			}
		}
		return out
	}
}

// Arrivals implements page.First.
func (f *first) Arrivals() page.Arrivals {
	s := f.scout.Look()
	out := page.Arrivals{Up: s.Up, Why: s.Why, Broker: f.at(), Further: s.Further + s.TooLong}
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, a := range s.Topics {
		one := page.Arrival{Topic: a.Topic, Count: a.Count, Retained: a.Retained, Last: a.Last, Every: a.Every, Probes: f.table(a.Topic)}
		one.Payload, one.Binary = shown(a.Payloads[0].Data)
		one.Size = a.Payloads[0].Size
		one.Seems = f.seem(a)
		out.Topics = append(out.Topics, one)
	}
	return out
}

// shown writes a payload for people: as text, or else its bytes.
func shown(data []byte) (text string, binary bool) {
	const most = 600
	cut := ""
	if len(data) > most {
		data, cut = data[:most], " …"
		for len(data) > 0 && !utf8.RuneStart(data[len(data)-1]) {
			data = data[:len(data)-1]
		}
		data = data[:max(0, len(data)-1)]
	}
	for _, r := range string(data) {
		if r == utf8.RuneError || !unicode.IsPrint(r) && r != '\n' && r != '\r' && r != '\t' {
			return fmt.Sprintf("% x", data[:min(len(data), 64)]) + cut, true
		}
	}
	return strings.TrimSpace(string(data)) + cut, false
}

// seem says, as tongue.Keep has it, what a topic seems to be. It is called with mu held.
func (f *first) seem(a link.Arrival) string {
	if old, ok := f.seems[a.Topic]; ok && time.Since(old.at) < seemsFor {
		return old.said
	}
	if len(f.seems) > 1000 {
		clear(f.seems)
	}
	said := seemsLike(a)
	f.seems[a.Topic] = seeming{time.Now(), said}
	return said
}

func seemsLike(a link.Arrival) string {
	ps, why := decode.Propose(a.Topic, samples(a))
	if len(ps) == 0 {
		return why
	}
	const most = 4
	all := ""
	for _, p := range ps[:min(len(ps), most)] {
		said := p.Measures()
		if p.Of != "" {
			said = tongue.Keep("%s: %s", p.Of, said)
		}
		all = joined(all, said)
	}
	if left := len(ps) - most; left > 0 {
		all = joined(all, tongue.Keep("and %d more", left))
	}
	return tongue.Keep("Seems to be %s: %s.", formWords[ps[0].Form], all)
}

var formWords = map[decode.Form]tongue.Text{decode.Number: "a plain number", decode.JSON: "JSON", decode.SenML: "SenML", decode.Line: "line protocol"}

func samples(a link.Arrival) []decode.Sample {
	return walk.Each(a.Payloads, func(p link.Payload) decode.Sample { return decode.Sample{Payload: p.Data, At: p.At} })
}

// samplesOf are the newest payloads of one topic.
func (f *first) samplesOf(topic string) []decode.Sample {
	for _, a := range f.scout.Look().Topics {
		if a.Topic == topic {
			return samples(a)
		}
	}
	return nil
}

// Proposals implements page.First.
func (f *first) Proposals(topic string) (ps []decode.Proposal, why string) {
	return decode.Propose(topic, f.samplesOf(topic))
}

// Write implements page.First.
func (f *first) Write(_ context.Context, w page.Wish, mark, by string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	d, probe, err := f.wished(w)
	if err != nil {
		return err
	}
	if d.Mark() != mark {
		return page.ErrFirstChanged
	}
	if err := f.save(d); err != nil {
		return err
	}
	f.log.Info().Str("file", f.set.File).Str("probe", probe).Str("by", by).Msg("the configuration was changed on the page")
	f.set.Reload()
	return nil
}

const fileNotGood tongue.Text = "the configuration in the file is not good; telltale check tells every problem"

// notWritten says why nothing was written.
func notWritten(x tongue.Text, args ...any) error {
	return &page.FirstRefused{Problems: []tongue.Saying{tongue.Put(x, args...)}}
}

// save writes the draft. Errors: those of page.First's Write.
func (f *first) save(d *edit.Draft) error {
	var problems config.Problems
	switch err := d.Save(); {
	case errors.As(err, &problems):
		return &page.FirstRefused{Problems: sentences(problems)}
	case errors.Is(err, edit.ErrChanged):
		return page.ErrFirstChanged
	case errors.Is(err, edit.ErrWrite):
		why, _ := errors.AsType[tongue.Saying](err)
		return notWritten("Telltale may not write the file: %s. Put the lines below into it by hand, and then let Telltale read it again (systemctl reload telltale).", why)
	default:
		return err
	}
}

// sentences are problems by the line, without the file.
func sentences(ps config.Problems) []tongue.Saying {
	return walk.Each(ps, func(p config.Problem) tongue.Saying {
		p.File = ""
		return p.Whole()
	})
}

var _ page.First = (*first)(nil)

// sourceOf is the probe of a wish as the decoder reads it.
func sourceOf(w page.Wish, probe string) decode.Source {
	return decode.Source{Probe: alarms.ProbeID(probe), Filter: w.Topic, Form: decode.Form(w.Form),
		Clock: decode.Clock{At: w.TimeFrom, Unit: decode.TimeUnit(w.TimeUnit)}, Reads: w.Reads}
}

// onPage is f for the page; nil where nothing is set up there.
func (f *first) onPage() page.First {
	if f == nil {
		return nil
	}
	return f
}

// changes is f for the page's forms; nil likewise.
func (f *first) changes() page.Changes {
	if f == nil {
		return nil
	}
	return f
}

// run starts the scout, which ends before the broker does.
func (f *first) run(g *group) {
	if f != nil {
		g.run(f.scout.Run)
	}
}
