package gateway

import (
	"context"
	"errors"
	"net/http"
	"time"

	"golang.org/x/sync/errgroup"

	"telltale/alarms"
	"telltale/alarms/walk"
)

// Run builds the watch and runs it until ctx ends or a part fails. It returns
// nil when it was asked to stop. ErrStore and ErrAddress tell why it could not
// start. Where the store's disk comes back with an earlier state it is built
// again and goes on from that.
func Run(ctx context.Context, o Options) error {
	for {
		if err := runOnce(ctx, o); !errors.Is(err, errEarlier) || ctx.Err() != nil {
			return err
		}
		o.Log.Info().Msg("the store's disk is back; the watch begins anew from what it keeps")
	}
}

// errEarlier ends a run whose disk came back with what an earlier run saved.
var errEarlier = errors.New("the disk has an earlier state of the watch")

func runOnce(ctx context.Context, o Options) error {
	p, err := build(o)
	if err != nil {
		return err
	}
	return errors.Join(p.run(ctx, o), p.close())
}

// goodbye bounds how long a stop may take to tell followers.
const goodbye = 2 * time.Second

// run runs the parts in stages: sources, owner, tellers. A stage ends when the
// one before it has.
func (p *parts) run(ctx context.Context, o Options) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	sources, stopSources := stage(stop)
	owner, stopOwner := stage(stop)
	tellers, stopTellers := stage(stop)

	sources.run(p.link.Run)
	sources.run(p.page.Run)
	p.first.run(sources)
	p.runEntry(sources)
	owner.run(func(ctx context.Context) error {
		defer close(p.gone)
		return p.owner.run(ctx, p.link.Messages(), p.changes)
	})
	owner.run(p.forward)
	if p.owner.still != nil {
		owner.run(p.owner.still.run)
	}
	tellers.run(p.worker.Run)
	tellers.run(p.retain)
	tellers.run(p.drill.run)
	tellers.run(p.letters.run)
	p.runPhones(tellers)
	if p.accompanied != nil {
		tellers.run(afterBegin(p.owner.begun, p.accompanied.byBroker.Run))
	}
	if p.accompanying != nil {
		tellers.run(afterBegin(p.owner.begun, p.accompanying.run))
	}
	if p.keeper != nil {
		tellers.run(afterBegin(p.owner.begun, p.keeper.Run))
	}
	if p.export != nil {
		tellers.run(p.export.Run)
	}
	if p.scrape != nil {
		tellers.run(p.serveMetrics)
	}
	if p.heartbeat != nil {
		tellers.run(afterBegin(p.owner.begun, p.heartbeat.Run))
	}
	if o.Manager != nil {
		tellers.run(afterBegin(p.owner.begun, p.reportTo(o.Manager)))
	}
	if o.Ready != nil {
		o.Ready(p.running())
	}

	<-ctx.Done()
	p.leave()
	stopSources()
	err := sources.wait()
	stopOwner()
	err = errors.Join(err, owner.wait())
	stopTellers()
	return errors.Join(err, tellers.wait())
}

func (p *parts) running() Running {
	r := Running{Page: p.page.Addr(), Do: p.watch.Do, Picture: p.watch.Picture, Settled: func() bool { return p.link.Stats().Up && p.box.settled() }, First: p.accompanying.heardFrom}
	if p.broker != nil {
		r.Broker = p.broker.Addr().String()
		r.User, r.Password = p.broker.Login()
	}
	return r
}

// leave tells lamps and the like, while the broker is still reached, that
// nobody watches any more.
func (p *parts) leave() {
	if p.follow == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), goodbye)
	defer cancel()
	houses := walk.Each(p.cfg.Plan.Houses, func(h alarms.House) alarms.HouseID { return h.ID })
	if err := p.follow.Leave(ctx, houses); err != nil {
		p.log.Warn().Err(err).Msg("followers could not be told that the watch stops")
	}
}

func (p *parts) serveMetrics(ctx context.Context) error {
	stopped := context.AfterFunc(ctx, func() { p.scrape.Close() }) //nolint:errcheck // scrapes are short
	defer stopped()
	if err := p.scrape.Serve(p.listen); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// group is the goroutines of one stage.
type group struct {
	errgroup.Group
	ctx  context.Context
	fail func()
}

// stage makes a group whose context ends with the returned function; the first
// error of a member calls fail.
func stage(fail func()) (*group, func()) {
	ctx, cancel := context.WithCancel(context.Background())
	return &group{ctx: ctx, fail: fail}, cancel
}

func (g *group) run(f func(context.Context) error) {
	g.Go(func() error {
		err := f(g.ctx)
		if err != nil {
			g.fail()
		}
		return err
	})
}

func (g *group) wait() error { return g.Wait() }
