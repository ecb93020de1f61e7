package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"telltale/alarms/tongue"
	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/model"
	"telltale/gateway/offline"
)

// Of the demo of two boards, by the garden's clock.
var (
	pairOpens = time.Date(2026, time.July, 14, 12, 45, 0, 0, time.UTC)
	pairCut   = pairOpens.Add(10 * time.Minute) // the first board loses its power
	pairBack  = pairCut.Add(50 * time.Minute)   // and has it again
	pairEnds  = pairBack.Add(90 * time.Minute)
)

// pairStory is a hot afternoon.
func pairStory() model.Story {
	fan := model.Fault{Kind: model.FanDead, House: "long-house"}
	return model.Story{
		Name: "companion", Says: "A hot, clear July afternoon, and two boards that watch.",
		Start: pairOpens, Length: pairEnds.Sub(pairOpens),
		Weather: model.Weather{Fixed: true, Wind: 2, Warmer: 4.7, From: pairOpens.Add(-13 * time.Hour)},
		Events: []model.Event{
			{After: 15 * time.Minute, Fault: fan, On: true, Says: "The exhaust fan of Long House dies. Nobody sees it."},
			{After: 95 * time.Minute, Fault: fan, On: false, Says: "The grower, called in from the kitchen, mends the fan."},
		},
	}
}

// companionFile is the companion's own config; the first's page, the broker, its
// account and whom to post to are put in.
const companionFile = `
[companion]
first = "http://%s"
token-env = "TOKEN"
shares = []
[broker]
servers = ["mqtt://%s"]
user = %q
password-env = "PASSWORD"
[channel.slip]
kind = "webhook"
url = "http://%s"
secret-env = "SECRET"
at-once = 100
[page]
name = "Thimble Garth"
address = "127.0.0.1:0"
[account.grower]
may = "act"
password-env = "PAGE"
`

// pair is the demo of two boards: the watch and its companion, with a broker between
// them on a board of its own.
type pair struct {
	*demo
	dir     string
	page    string // address of the first's page; empty: any
	broker  *link.Broker
	cable   *cable            // from the first board to the broker
	secrets map[string]string // of the two configs
	posts   string            // where messages are posted to
	ends    time.Time         // of the story; zero: it goes on

	mu     sync.Mutex
	starts bool           // the first has power, and does not run yet: the garden waits for it
	first  *board         // nil: without power
	second *board         //
	away   *gateway.Clock // of the companion
}

// board is one of the two watches.
type board struct {
	gateway.Running
	stop func() error
}

// show plays it, with the stores in dir.
func (p *pair) show(ctx context.Context) (err error) {
	p.secrets = map[string]string{"TOKEN": rand.Text(), "PAGE": rand.Text()[:12], "SECRET": "whsec_" + "dGhpbWJsZSBnYXJ0aCwgdGhlIGRlbW8gb2YgdHdvIGJvYXJkcw=="}
	if p.broker, err = link.StartBroker(link.BrokerOptions{Address: "127.0.0.1:0", Speed: p.speed, Log: demoLog()}); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.broker.Close()) }()
	_, p.secrets["PASSWORD"] = p.broker.Login()
	if p.cable, err = lay(p.broker.Addr().String()); err != nil {
		return err
	}
	defer p.cable.close()
	posts, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	p.posts = posts.Addr().String()
	hooks := &http.Server{Handler: p, ReadHeaderTimeout: 5 * time.Second}
	g := errgroup.Group{}
	g.Go(func() error {
		if err := hooks.Serve(posts); !errors.Is(err, http.ErrServerClosed) {
			return err
		}
		return nil
	})
	return errors.Join(p.play(ctx), hooks.Close(), g.Wait())
}

func (p *pair) env(name string) (string, bool) {
	text, ok := p.secrets[name]
	return text, ok
}

// play starts both and lets the afternoon pass.
func (p *pair) play(ctx context.Context) (err error) {
	p.clock, p.away = gateway.NewSteppedClock(pairOpens, p.speed), gateway.NewSteppedClock(pairOpens, p.speed)
	cfg, err := p.firstConfig()
	if err != nil {
		return err
	}
	if p.first, err = p.start(ctx, cfg, p.clock); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.first.off()) }()
	cfg.Page.Address = p.first.Page
	second, err := p.secondConfig(cfg)
	if err != nil {
		return err
	}
	if p.second, err = p.start(ctx, second, p.away); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.second.off()) }()
	p.greet()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error {
		defer cancel()
		return p.simulate(ctx)
	})
	g.Go(func() error { return p.direct(ctx, cfg) })
	return g.Wait()
}

func (p *pair) greet() {
	p.say("Thimble Garth, %s: two boards, each with a way to people of its own, and a broker between them.", pairOpens.Format("2 January 2006, 15:04"))
	p.say("Time runs %.0f times as fast as usual. What people are told is posted to this terminal alone, after !!.", p.speed)
	p.say("The first watch: http://%s/   Its companion: http://%s/", p.first.Page, p.second.Page)
	p.say("Sign in on either as grower, with the password %s", p.secrets["PAGE"])
	p.say("%s Stop with Ctrl-C.\n", pairStory().Says)
}

// firstConfig is that of the first board: the demo's, with an account for the companion.
func (p *pair) firstConfig() (*config.Config, error) {
	c, err := demoGarden()
	if err != nil {
		return nil, err
	}
	user, password := p.broker.Login()
	c.Store.Directory, c.Store.IDFile = filepath.Join(p.dir, "first"), ""
	c.Broker.Run, c.Link = false, config.Link{Servers: []string{"mqtt://" + p.cable.Addr().String()}, User: user, Password: config.NewSecret(password), QoS: 1,
		CleanSession: true} // what waits at a broker would come minutes late, on fast time
	for i := range c.Reach.Channels {
		c.Reach.Channels[i] = config.Channel{Name: c.Reach.Channels[i].Name, Kind: config.ByWebhook, Burst: 100,
			Webhook: config.Webhook{URL: config.NewSecret("http://" + p.posts + "/first"), Secret: config.NewSecret(p.secrets["SECRET"])}}
	}
	c.Page.Address = cmp.Or(p.page, "127.0.0.1:0")
	c.Page.Accounts = []config.PageAccount{
		{ID: "grower", Name: "Grower", May: config.MayAct, Password: config.NewSecret(p.secrets["PAGE"])},
		{ID: "companion", Name: "Companion", May: config.MayAccompany, Token: config.NewSecret(p.secrets["TOKEN"])},
	}
	return c, nil
}

// secondConfig is that of the companion, which has copied the first's plan before.
func (p *pair) secondConfig(first *config.Config) (*config.Config, error) {
	file, store := filepath.Join(p.dir, "companion.toml"), filepath.Join(p.dir, "second")
	user, _ := p.broker.Login()
	text := fmt.Sprintf(companionFile, p.first.Page, p.broker.Addr(), user, p.posts+"/companion") + fmt.Sprintf("[store]\ndirectory = %q\n", store)
	err := errors.Join(os.MkdirAll(store, 0o700), os.WriteFile(filepath.Join(store, config.CompanionPlan), first.Shared.Text, 0o600))
	c, problems := config.Parse(file, []byte(text), p.env)
	return c, errors.Join(err, problems.Err())
}

// start starts a board.
func (p *pair) start(ctx context.Context, cfg *config.Config, clock *gateway.Clock) (*board, error) {
	ctx, cancel := context.WithCancel(ctx)
	ready, ended := make(chan gateway.Running, 1), make(chan error, 1)
	go func() {
		ended <- gateway.Run(ctx, gateway.Options{Config: cfg, Clock: clock, Log: demoLog(), Played: p.played, Ready: func(r gateway.Running) { ready <- r }})
	}()
	select {
	case err := <-ended:
		cancel()
		return nil, err
	case r := <-ready:
		return &board{r, func() error { cancel(); return <-ended }}, nil
	}
}

func (b *board) off() error {
	if b == nil {
		return nil
	}
	return b.stop()
}

// played is what every page says of the demo of two boards.
func (p *pair) played(in tongue.Tongue) string {
	return in.Say("A demo: this garden is played, %.0f times as fast as real time, with a watch and its companion. Nobody is told of anything.", p.speed)
}

// direct takes the first board's power, and gives it back; and plays the grower.
func (p *pair) direct(ctx context.Context, cfg *config.Config) error {
	tick := time.Tick(demoLook)
	cut, back := false, false
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick:
		}
		switch now := p.clock.Core(); {
		case !cut && !now.Before(pairCut):
			cut = true
			if err := p.cutPower(now); err != nil {
				return err
			}
		case !back && !now.Before(pairBack):
			back = true
			if err := p.givePower(ctx, now, cfg); err != nil {
				return err
			}
		}
		b := p.tells()
		for _, in := range p.grower.takes(b.Picture()) {
			_ = b.Do(ctx, in) // it may have ended meanwhile, which is no error
		}
	}
}

// tells is the board at which the grower looks: the first, while it has power.
func (p *pair) tells() *board {
	p.mu.Lock()
	defer p.mu.Unlock()
	return cmp.Or(p.first, p.second)
}

func (p *pair) cutPower(at time.Time) error {
	p.line(at, "·", "The first board loses its power.")
	p.cable.cut()
	p.mu.Lock()
	b := p.first
	p.first = nil
	p.mu.Unlock()
	return b.off()
}

func (p *pair) givePower(ctx context.Context, at time.Time, cfg *config.Config) error {
	p.line(at, "·", "The first board has power again.")
	p.cable.mend()
	p.mu.Lock()
	p.starts = true
	p.mu.Unlock()
	b, err := p.start(ctx, cfg, p.clock)
	p.mu.Lock()
	p.first, p.starts = b, false
	p.mu.Unlock()
	return err
}

// ServeHTTP takes what either board would tell people, and prints it.
func (p *pair) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var m struct {
		Sent   time.Time
		Events []struct{ Sentence string }
	}
	if err := json.NewDecoder(io.LimitReader(r.Body, 1<<20)).Decode(&m); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	who := map[string]string{"/first": "The first watch", "/companion": "The companion"}[r.URL.Path]
	for _, e := range m.Events {
		p.line(m.Sent, "!!", who+": "+e.Sentence)
	}
}

func (p *pair) simulate(ctx context.Context) error {
	story := pairStory()
	sim, err := model.Tell(story, demoSeed)
	if err != nil {
		return err
	}
	user, password := p.broker.Login()
	_, err = offline.Simulate(ctx, offline.SimulateOptions{
		Sim: sim, Clock: together{p.clock, p}, Events: story.Events, Start: story.Start, End: p.ends,
		Says: func(at time.Time, what string) { p.line(at, "·", what) },
		Log:  demoLog(),
		Link: link.Options{Servers: []string{"mqtt://" + p.broker.Addr().String()}, User: user, Password: password, ClientID: "thimble-garth-probes",
			CleanSession: true, StateTopic: "thimble-garth/simulation", PublishOnly: true},
	})
	return err
}
