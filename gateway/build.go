package gateway

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"syscall"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/entry"
	"telltale/gateway/export"
	"telltale/gateway/link"
	"telltale/gateway/metrics"
	"telltale/gateway/page"
	"telltale/gateway/past"
	"telltale/gateway/reach"
	"telltale/gateway/store"
	"telltale/gateway/store/copies"
	"telltale/gateway/supervise"
)

// parts are all parts of a running watch. Those that are nil are not wanted.
type parts struct {
	cfg    *config.Config
	clock  *Clock
	log    zerolog.Logger
	store  *store.Store
	broker *link.Broker
	link   *link.Link
	table  *decode.Table
	box    *outbox
	writer *writer
	owner  *owner
	watch  *watch
	worker *reach.Worker
	follow *reach.MQTT

	channels []reach.Channel
	export   *export.Exporter
	page     *page.Server
	scrape   *http.Server  // metrics on a server of their own
	listen   net.Listener  // of scrape
	first    *first        // nil: nothing is set up on the page
	entry    *entry.Server // nil: there is one already
	push     *pushing      // nil: no channel of kind push
	phones   *phones       // nil: no modem

	keeper    *copies.Keeper // nil: no copies are made
	heartbeat *supervise.Heartbeat
	// Real time that a turn of the owner and a telling may take.
	turnWithin, tellWithin time.Duration

	gone chan struct{}

	played  func(tongue.Tongue) string // Options.Played
	garden  string                     // its ID in messages
	client  string                     // the watch's ID at the broker
	key     []byte                     // of the page, from which those for its uses come
	changes chan link.Change           // on their way from link to owner

	overheard chan spoken // what others wrote in the watch's place
	drill     *drilling   // of the start of a season
	letters   *lettering  // of the week

	version      string        // of the program
	accompanied  *accompanied  // for a companion; nil: no account lets one in
	accompanying *accompanying // the watch that this one accompanies; nil: none
}

// build makes every part and opens every port. On an error what was opened is
// closed again.
func build(o Options) (p *parts, err error) {
	if o.Clock == nil {
		o.Clock = newRealClock()
	}
	p = &parts{cfg: o.Config, played: o.Played, version: o.Version, clock: o.Clock, log: o.Log, gone: make(chan struct{}), changes: make(chan link.Change), overheard: make(chan spoken, 64),
		turnWithin: stuck, tellWithin: stuckTelling}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.close())
		}
	}()
	for _, step := range []func(Options) error{p.openStore, p.openCompanion, p.openPush, p.openLink, p.openFirst, p.openReach, p.openExport, p.openCopies, p.openOwner, p.openPage, p.openSigns, p.openEntry} {
		if err := step(o); err != nil {
			return p, classify(err)
		}
	}
	return p, nil
}

func (p *parts) logger(part string) zerolog.Logger { return p.log.With().Str("part", part).Logger() }

func (p *parts) openStore(o Options) error {
	how := storeOptions(p.cfg, p.logger("store"))
	how.Now = o.storeNow
	s, err := store.Open(p.cfg.Store.Directory, how)
	if err != nil {
		return marked{ErrStore, err}
	}
	p.store = s
	if p.garden, err = s.Notes.Garden(context.Background()); err != nil {
		p.log.Error().Err(err).Msg("the garden's ID cannot be kept; the messages of this run have one of their own")
	}
	p.client = p.clientID()
	return nil
}

// clientID is the watch's ID at the broker: as the config says, or at its own
// broker, where nobody else can have it, "telltale", with a part by chance
// elsewhere.
func (p *parts) clientID() string {
	const name = "telltale"
	if id := p.cfg.Link.ClientID; id != "" || p.cfg.Broker.Run {
		return cmp.Or(id, name)
	}
	part, err := p.store.Notes.ClientPart(context.Background())
	if err != nil {
		p.log.Error().Err(err).Msg("the watch's ID at the broker cannot be kept; this run has one of its own")
	}
	return name + part
}

// openLink makes the link and, before it, the ways to tell people: one of
// them may lend the link its will.
func (p *parts) openLink(Options) error {
	var err error
	if p.table, err = decode.New(p.cfg.Sources); err != nil {
		return err
	}
	if err = p.openPhones(); err != nil {
		return err
	}
	if p.channels, p.follow, err = channels(p.cfg, publisher{p}, p.push, p.phones, p.logger("reach")); err != nil {
		return err
	}
	o := linkOptions(p.cfg, p.table.Filters(), p.clock, p.logger("link"))
	o.Speed, o.ClientID = p.clock.Speed(), p.client
	if p.follow != nil {
		topic, payload := p.follow.Will()
		o.Will = &link.Will{Topic: topic, Payload: payload}
		o.Own = p.follow.Own()
	}
	o.Own, o.Overheard = append(o.Own, p.fellowTopics()...), p.overhear
	if p.cfg.Broker.Run {
		b := brokerOptions(p.cfg, p.logger("broker"))
		b.Speed, b.WatchID = o.Speed, p.client
		if p.broker, err = link.StartBroker(b); err != nil {
			return err
		}
		o.Broker, o.Servers = p.broker, nil
	}
	p.link, err = link.New(o)
	return err
}

// publisher publishes over a link that is made later.
type publisher struct{ p *parts }

// Publish implements reach.Publisher.
func (p publisher) Publish(ctx context.Context, topic string, payload []byte, qos byte, retain bool) error {
	return p.p.link.Publish(ctx, topic, payload, qos, retain)
}

func (p *parts) openReach(Options) error {
	p.box = newOutbox(&p.store.Outbox, p.clock)
	var err error
	var box reach.Outbox = p.box
	if p.accompanying != nil {
		box = gate{p.box, p.accompanying}
	}
	p.worker, err = reach.NewWorker(reach.Options{
		Channels: p.channels, Outbox: box, Now: p.clock.Core, Wall: p.clock.Wall, Speed: p.clock.Speed(), Random: rand.Float64,
		Elsewhere: rulesOf(p.cfg).Elsewhere, Garden: p.garden, Log: p.logger("reach"),
	})
	return err
}

func (p *parts) openExport(Options) error {
	e := p.cfg.Export
	if e.File.Path == "" && e.HTTP.URL == "" {
		return nil
	}
	made, err := export.New(exportOptions(p.cfg, p.clock, p.logger("export")))
	if err != nil && p.store.Refusing() != nil { // its buffer lies in the store's directory
		p.log.Error().Err(err).Msg("nothing is exported until the next start")
		return nil
	}
	p.export = made
	return err
}

func (p *parts) openOwner(o Options) error {
	run, err := p.recover()
	if err != nil {
		return err
	}
	p.writer = newWriter(p.store, &p.store.Notes)
	lost, _ := p.losses()
	hub := &hub{}
	ow := &owner{
		recovery: run, table: p.table, rules: p.linked(rulesOf(p.cfg)), clock: p.clock, writer: p.writer, box: p.box, keeps: p.store,
		log: p.logger("owner"), hub: hub, heard: o.Heard, wake: p.worker.Wake, begun: make(chan struct{}),
		out: newExportFeed(p.cfg, p.export), losses: p.losses, lost: lost, mute: p.mute, minds: p.minds(), first: p.accompanying,
		acts: make(chan act), looks: make(chan look),
	}
	if p.clock.real() {
		ow.still = &standing{now: p.clock.Core}
	}
	p.owner, p.box.news, p.box.wake = ow, hub.notify, func() { ow.wake() }
	p.watch = &watch{
		box:  p.box,
		plan: p.cfg.Plan.Filled(), store: p.store, clock: p.clock, hub: hub, rules: ow.rules, kinds: channelKinds(p.cfg), wake: p.worker.Wake, pulse: &ow.pulse,
		acts: ow.acts, looks: ow.looks, gone: p.gone, first: p.accompanying,
	}
	p.watch.Archive = past.New(past.Options{Store: p.store, Plan: p.cfg.Plan, Now: p.clock.Now, Picture: p.watch.Picture})
	return nil
}

func (p *parts) openPage(o Options) error {
	m, err := metrics.New(metrics.Options{
		Picture: p.watch.Picture, Counts: p.counts, Now: p.clock.Now, Version: o.Version, Revision: o.Revision,
		Process: true, Log: p.logger("metrics"),
	})
	if err != nil {
		return err
	}
	po := pageOptions(p.cfg, p.logger("page"))
	po.Watch, po.Plan, po.Played = p.watch, &p.watch.plan, p.played
	p.admit(&po)
	p.push.onPage(&po)
	p.phones.onPage(&po)
	po.Course, po.Reports, po.Downloads = p.watch.Archive, p.watch.Archive, p.watch.Archive
	po.Forms = p.cfg.Forms
	po.First, po.Changes, po.Untold = p.first.onPage(), p.first.changes(), untold(p.cfg)
	po.Tending, po.Line = &tending{watch: p.watch}, p.watch
	po.Drill = p.openDrill()
	po.Letters = p.openLetters()
	if p.accompanied != nil {
		po.Companion = p.accompanied
	}
	if p.accompanying != nil {
		po.Accompanies = p.accompanying.onPage
	}
	if p.keeper != nil {
		po.Copies = func() (time.Time, string) { s := p.keeper.State(); return s.Made, s.Fault }
	}
	if p.cfg.Metrics.OnPage {
		po.Metrics = m.Handler()
	}
	if err = p.openAuthority(&po); err != nil {
		return err
	}
	if p.page, err = page.New(po); err != nil {
		return err
	}
	if p.cfg.Metrics.Address != "" {
		if p.listen, err = net.Listen("tcp", p.cfg.Metrics.Address); err != nil {
			return p.unheard(err)
		}
		mux := http.NewServeMux()
		mux.Handle("GET /metrics", metrics.ByNumber(m.Handler()))
		p.scrape = &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second, WriteTimeout: 30 * time.Second, IdleTimeout: time.Minute}
	}
	return p.page.Listen() // last of all: close does not reach it
}

// unheard says why the metrics got no port of their own.
func (p *parts) unheard(err error) error {
	address := p.cfg.Metrics.Address
	if errors.Is(err, syscall.EADDRINUSE) {
		return marked{ErrAddress, fmt.Errorf("the metrics' address is already in use: %s; stop the other program or choose another port", address)}
	}
	return fmt.Errorf("the metrics cannot be served on %s: %w", address, err)
}

// close closes what build opened and run did not take over: broker and store.
func (p *parts) close() error {
	var errs []error
	if p.listen != nil {
		errs = append(errs, ignoreClosed(p.listen.Close()))
	}
	if p.broker != nil {
		errs = append(errs, p.broker.Close())
	}
	return errors.Join(append(errs, p.closeStore())...)
}

// closeStore ends the store once all that writes to it has ended. A disk that
// does not answer is left as it is: the journal has what it took.
func (p *parts) closeStore() error {
	if p.store == nil {
		return nil
	}
	if p.box != nil {
		err := p.box.close()
		if p.writer != nil {
			err = errors.Join(err, p.writer.close())
		}
		if err != nil {
			return err
		}
	}
	return p.store.Close()
}

func ignoreClosed(err error) error {
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

// clockTrusted is how long the wall clock must have gone without a step before
// old history is given up by it: one that shows 2038 for a minute costs nothing.
const clockTrusted = time.Hour

// retain keeps the store in bounds, a little at a time.
func (p *parts) retain(ctx context.Context) error {
	tick := time.Tick(time.Minute)
	steady, ahead := p.clock.Core(), p.clock.ahead.Load()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick:
			if now := p.clock.ahead.Load(); now != ahead {
				steady, ahead = p.clock.Core(), now
			}
			if p.clock.Core().Sub(steady) < clockTrusted {
				continue
			}
			if _, err := p.store.Retain(ctx, p.clock.Now()); err != nil && ctx.Err() == nil {
				p.log.Warn().Err(err).Msg("old history could not be summed up; it is tried again")
			}
		}
	}
}
